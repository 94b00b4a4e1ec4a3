"""Waiting on the feed of dish costs: who may, by the threads that a worker has."""

from dataclasses import replace

import pytest

from service import wiring
from service.settings import Settings
from tests.rest.small_kitchen import Kitchen

FEED = "/v1/dish-costs/changes"


@pytest.mark.parametrize(("threads", "told_to_come_back"), [(1, True), (2, False)])
def test_a_worker_never_gives_its_only_thread_to_who_waits(kitchen: Kitchen, threads: int, told_to_come_back: bool
                                                           ) -> None:
    """At most half of them: of one, none."""
    settings = replace(Settings(), threads=threads)
    kitchen = replace(kitchen, client=wiring.app_on(kitchen.ledger, settings).test_client())
    cursor = kitchen.read(f"{FEED}?limit=1000")["next_cursor"]
    page = kitchen.client.get(f"{FEED}?after={cursor}&wait=1", headers=kitchen.headers)
    assert (page.status_code, page.json["data"], page.json["more"]) == (200, [], False)
    assert ("Retry-After" in page.headers) is told_to_come_back
