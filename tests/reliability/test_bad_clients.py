"""The short form of bad clients: each kind once, behind them a till that polls; and that a fault is told."""

from pathlib import Path

import pytest

from tests.reliability import bad_clients
from tests.reliability.bad_clients import BODY, CASES, PROGRAMME, framing, statuses_of
from tests.reliability.programme import Run
from tests.reliability.short_form import IN_EVERY_RUN, short_form_on


@pytest.mark.parametrize("engine", IN_EVERY_RUN)
def test_bad_clients_harm_nobody_else(
    request: pytest.FixtureRequest, tmp_path: Path, engine: str
) -> None:
    verdict = short_form_on(request, PROGRAMME, engine, tmp_path)
    assert verdict.passed, verdict.faults
    assert verdict.cases == len(CASES)


def test_a_request_that_is_taken_and_should_not_be_or_that_nobody_answers_is_told(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A good request, held to what a bad one should get; and one that is recorded, and whose answer is lost."""
    length = f"Content-Length: {len(BODY)}"
    with bad_clients.shipped_server(Run(1, sqlite_url, tmp_path)) as served:
        assert len(list(framing(length, statuses=(400,), stored=False)(served, "mill"))) == 2
        whole = framing(length, statuses=(201,), stored=True)
        assert list(whole(served, "quern")) == []
        heard = bad_clients.everything
        monkeypatch.setattr(bad_clients, "everything", lambda connection: heard(connection)[:0])
        assert list(whole(served, "stone")) == ["answered [], not one of (201,)"]


def test_statuses_are_read_in_their_order() -> None:
    assert statuses_of(b"HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 201 Created\r\n\r\n{}") == [100, 201]
