"""T20, short: on both engines nothing is found; each break of what keeps logs quiet is."""

import os
from pathlib import Path

import pytest

from service.persistence.migrating import migrate
from tests.postgres import PostgresServer
from tests.reliability.canaries import forms, found_in, packed
from tests.reliability.programme import Run
from tests.reliability.quiet_logs import PROGRAMME, run

EVERY = os.environ.get("SEAMCOST_EVERY_SABOTAGE") == "1"
"""Unless asked for, none of the breaks: each starts a service for twenty seconds. That a canary is found wherever it is
shows in every run."""
SECRET = "seam_0ff1ce00_canary-in-its-cage"


@pytest.mark.parametrize("form", forms(SECRET))
def test_a_canary_is_found_in_every_form(form: str) -> None:
    assert f"key ({form})" in set(found_in(b"before " + forms(SECRET)[form] + b" after", {"key": SECRET}))
    assert set(found_in(b"nothing of it", {"key": SECRET})) == set()


def test_a_canary_is_found_where_it_is_packed() -> None:
    assert "key (plain)" in set(found_in(b"\0\0" + packed(SECRET), {"key": SECRET}))


def test_nothing_is_found_on_sqlite(tmp_path: Path, sqlite_url: str) -> None:
    verdict = run(Run(PROGRAMME.short, sqlite_url, tmp_path))
    assert verdict.passed, verdict.faults


@pytest.mark.skipif(not os.environ.get("SEAMCOST_EVERY_ENGINE"), reason="40 s: with SEAMCOST_EVERY_ENGINE=1")
def test_nothing_is_found_on_postgresql(tmp_path: Path, postgres_server: PostgresServer) -> None:
    url = postgres_server.create()
    migrate(url)
    verdict = run(Run(PROGRAMME.short // 3, url, tmp_path, server=postgres_server))
    assert verdict.passed, verdict.faults


@pytest.mark.skipif(not EVERY, reason="20 s each: with SEAMCOST_EVERY_SABOTAGE=1")
@pytest.mark.parametrize("sabotage", PROGRAMME.sabotages)
def test_what_would_be_loud_is_found(tmp_path: Path, sqlite_url: str, sabotage: str) -> None:
    assert run(Run(30, sqlite_url, tmp_path, sabotage=sabotage)).faults
