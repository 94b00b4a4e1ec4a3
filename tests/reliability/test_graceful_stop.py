"""The short form of graceful_stop.py, and that it finds a service which does not wait for anybody."""

import os
from pathlib import Path

import pytest

from tests.docker.proxy import needs_nginx
from tests.postgres import PostgresServer
from tests.reliability.graceful_stop import PROGRAMME
from tests.reliability.programme import Run

pytestmark = [needs_nginx, pytest.mark.timeout(900)]


def test_no_request_fails_while_services_and_workers_change(
    postgres_server: PostgresServer, postgres_url: str, tmp_path: Path
) -> None:
    verdict = PROGRAMME.run(Run(PROGRAMME.short, postgres_url, tmp_path, server=postgres_server))
    assert (verdict.faults, verdict.cases) == ((), PROGRAMME.short)
    assert int(str(verdict.figures["prices"])) > 10


@pytest.mark.skipif(not os.environ.get("SEAMCOST_EVERY_SABOTAGE"), reason="a minute: with SEAMCOST_EVERY_SABOTAGE=1")
def test_a_service_that_stops_at_once_is_found(
    postgres_server: PostgresServer, postgres_url: str, tmp_path: Path
) -> None:
    verdict = PROGRAMME.run(Run(1, postgres_url, tmp_path, sabotage="stops-at-once", server=postgres_server))
    assert not verdict.passed
