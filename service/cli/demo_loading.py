"""Loading the demo kitchen: its requests go through the application itself, under a key that is revoked afterwards.

Rules that always hold: the demo goes into an empty ledger, never over anything that somebody else recorded; a loading
that was cut short goes on where it stopped; one that is complete is left as it stands, with what visitors changed.
"""

import json
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import islice

from flask import Flask

from service.cli.asking import KEY_ID, asker
from service.cli.demo_kitchen import DemoRequest, demo_requests
from service.domain.history import Mark
from service.use_cases.keys import create_key, revoke_key
from service.use_cases.ports import Ledger, RecordedEntry

DEMO = "demo"
"""Whom the demo's revisions are by."""
_ENOUGH = 5_000


class NotTheDemo(Exception):
    """The ledger holds what is not the demo."""


class DemoRefused(Exception):
    """The service refused a request of the demo: a defect of this release."""


def load_demo(ledger: Ledger, app: Flask, now: datetime, progress: Callable[[int], None]) -> int:
    """Load what is missing of the demo, and say how many requests that were.

    Raises:  NotTheDemo, DemoRefused.
    """
    entries = ledger.entries(Mark(0, 0), _ENOUGH, ledger.head().revision)
    requests = tuple(demo_requests(ledger.today()))
    done = len(requests) if is_complete(entries) else requests_held(entries)
    if done == len(requests):
        return 0
    key = create_key(ledger, DEMO, ["admin"], now + timedelta(hours=1), asker(DEMO)).document
    client = app.test_client()
    for number, request in enumerate(islice(requests, done, None), start=done + 1):
        answer = client.open(
            request.path, method=request.method, data=json.dumps(request.body), content_type="application/json",
            headers={"Authorization": f"Bearer {key['key']}"})
        if answer.status_code not in (200, 201):
            raise DemoRefused(f"The demo's {_named(request)} was refused: {answer.get_data(as_text=True)}")
        progress(number)
    revoke_key(ledger, key["id"], asker(DEMO))
    return len(requests) - done


def is_complete(entries: Sequence[RecordedEntry]) -> bool:
    """Whether the whole demo was loaded: the key that loads it is revoked last.

    Raises:  NotTheDemo when the ledger begins with something else.
    """
    if entries and (entries[0].key_id, entries[0].who) != (KEY_ID, DEMO):
        raise NotTheDemo(
            "This database holds other records, and the demo never goes over them. Serve them without --demo, or "
            "give the demo a file of its own: --database sqlite:///demo.db")
    return any(entry.action == "revoke_key" and (entry.key_id, entry.who) == (KEY_ID, DEMO) for entry in entries)


def requests_held(entries: Sequence[RecordedEntry]) -> int:
    """How many of the demo's requests an unfinished loading has recorded: each took one revision."""
    return len({entry.mark.revision for entry in entries if entry.who == DEMO and entry.kind != "key"})


def _named(request: DemoRequest) -> str:
    return f"{request.method} {request.path}"
