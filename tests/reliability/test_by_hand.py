"""The command that runs the parts by hand: what counts as a fault of a part."""

import threading
from pathlib import Path

import pytest

from tests.reliability.__main__ import _verdict
from tests.reliability.programme import Programme, Run, Verdict


def ends_in_a_thread(_run: Run) -> Verdict:
    dying = threading.Thread(target=lambda: {}["nobody"])
    dying.start()
    dying.join()
    return Verdict(1)


def ends(_run: Run) -> Verdict:
    raise KeyError("nobody")


@pytest.mark.parametrize(("run", "faults"), [
    (lambda _run: Verdict(1), ()), (ends, ("it ended by KeyError: 'nobody'",)),
    (ends_in_a_thread, ("a thread ended by KeyError: 'nobody'",))])
def test_a_part_that_ends_by_an_exception_or_whose_thread_does_is_red(
    run: object, faults: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(threading, "excepthook", threading.__excepthook__)  # not pytest's, which takes it for its own
    before = threading.excepthook
    part = Programme("made up", "T00", "nothing", "cases", 1, 1, run)  # type: ignore[arg-type]
    verdict = _verdict(part, Run(1, "sqlite://", tmp_path))
    assert (verdict.faults, verdict.passed) == (faults, not faults)
    assert threading.excepthook is before
    assert ("Traceback" in capsys.readouterr().err) is bool(faults)
