"""Clocks: the test clock moves when its file says so, and only in test mode."""

from datetime import UTC, datetime, timedelta

from service.persistence.clock import clock_for, system_clock


def test_the_system_clock_is_aware():
    assert system_clock().utcoffset() == timedelta(0)


def test_the_test_clock_reads_its_file_at_each_call(tmp_path):
    offset = tmp_path / "offset"
    clock = clock_for(True, offset)
    offset.write_text("86400\n")
    tomorrow = clock() - datetime.now(UTC)
    offset.write_text("-3600.5")
    earlier = clock() - datetime.now(UTC)
    assert abs(tomorrow - timedelta(days=1)) < timedelta(seconds=5)
    assert abs(earlier + timedelta(seconds=3600.5)) < timedelta(seconds=5)


def test_a_missing_or_empty_file_moves_nothing(tmp_path):
    clock = clock_for(True, tmp_path / "offset")
    assert abs(clock() - datetime.now(UTC)) < timedelta(seconds=5)
    (tmp_path / "offset").write_text("")
    assert abs(clock() - datetime.now(UTC)) < timedelta(seconds=5)


def test_outside_test_mode_the_file_is_not_honoured(tmp_path):
    (tmp_path / "offset").write_text("86400")
    assert clock_for(False, tmp_path / "offset") is system_clock
    assert clock_for(True, None) is system_clock
