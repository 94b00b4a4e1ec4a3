"""Paging: a list walked page by page while others write is the list as it stood at its first page (T15).

Writers record, change and retire ingredients all along, and each walk begins once they have done so again; a write that
is refused, but for 503, is a fault. The walk is held to the list as known at the revision that its
first page names, read whole afterwards; no record that lived throughout is missed or comes twice; order never turns.
Cursors that were changed in one letter, cut, put to another list or another key are refused. How the last page's time
compares with the first's is told, and not judged.
"""

import random
import string
import threading
import time
from collections.abc import Iterator
from statistics import median
from typing import Any

from flask.testing import FlaskClient

from service import operating, wiring
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.builders import an_ingredient
from tests.persistence.writing import record
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.sabotage import broken

ASKER = Asker("cli", "paging", "paging")
LIST, WRITERS, WALKS, FORGED = "/v1/ingredients", 3, 3, 40
LEAST_A_PAGE, MOST_PAGES, AT_ONCE = 5, 20, 1_000
"""Rows of a page, unless a walk would have more pages than that; rows that are recorded in one revision, and the most
of a page."""
PATIENCE = 60.0
"""Seconds within which somebody has to have written again."""
BODY = {"name": "A", "kind": "dry goods", "base_unit": "kg"}


def run(told: Run) -> Verdict:
    """Record so many ingredients, walk them while others write, and forge cursors."""
    settings = Settings(database_url=told.database_url, requests_per_minute=0)
    with operating.opened_ledger(settings) as ledger, broken(told.sabotage):
        app = wiring.app_on(ledger, settings)
        headers = [{"Authorization": f"Bearer {create_key(ledger, name, ['admin'], None, ASKER).document['key']}"}
                   for name in ("walker", "other")]
        client = app.test_client()
        lasting = [f"lasting-{number:06}" for number in range(told.cases)]
        for first in range(0, told.cases, AT_ONCE):
            record(ledger, *(an_ingredient(code) for code in lasting[first:first + AT_ONCE]))
        faults, times, before = list[str](), list[list[float]](), ledger.head().revision
        done = threading.Event()
        writers = [threading.Thread(target=_write, args=(
            app.test_client(), headers[0], number, told.seed, done, faults)) for number in range(WRITERS)]
        for writer in writers:
            writer.start()
        try:
            for _ in range(WALKS):
                if told.in_time and not faults:
                    faults += _wait_for_writers(ledger)
                    faults += _walked(client, headers[0], lasting, times)
        finally:
            done.set()
            for writer in writers:
                writer.join(60)
        written = ledger.head().revision - before
        faults += _forged(client, headers, told.seed)
    first, last = (median(each[place] for each in times or [[1.0]]) for place in (0, -1))
    return Verdict(told.cases, tuple(faults), {
        "walks": len(times), "pages": sum(map(len, times)), "last page over first": f"{last / first:.2f}",
        "revisions meanwhile": written})


def _write(client: FlaskClient, headers: dict[str, str], writer: int, seed: int, done: threading.Event,
           faults: list[str]) -> None:
    """Record, change and retire, before, between and behind the rows that last."""
    chance, there, number = random.Random(seed * 100 + writer), set[str](), 0
    while not done.is_set():
        number += 1
        code = f"{chance.choice(('a', 'lasting-000010', 'z'))}-w{writer}-{chance.randrange(10)}"
        known = headers | ({"If-Match": "*"} if code in there else {})
        if retires := code in there and chance.random() < 0.4:
            answer = client.delete(f"{LIST}/{code}", headers=known)
        else:
            answer = client.put(f"{LIST}/{code}", json=BODY | {"name": str(number)}, headers=known)
        if answer.status_code < 300:
            (there.discard if retires else there.add)(code)
        elif answer.status_code != 503:
            faults.append(f"a write beside the walks was answered with {answer.status_code}: {answer.text}")
            return


def _wait_for_writers(ledger: SqlLedger) -> Iterator[str]:
    """Wait until somebody has written again: else the list would stand still by itself."""
    before, until = ledger.head().revision, time.monotonic() + PATIENCE
    while ledger.head().revision == before:
        if time.monotonic() > until:
            yield f"nothing was written in {PATIENCE:.0f} s: the list stood still by itself"
            return
        time.sleep(0.002)


def _walked(client: FlaskClient, headers: dict[str, str], lasting: list[str], times: list[list[float]]
            ) -> Iterator[str]:
    rows, first, cursor = list[dict[str, Any]](), None, ""
    a_page = min(max(LEAST_A_PAGE, len(lasting) // MOST_PAGES), AT_ONCE)
    times.append([])
    while cursor is not None:
        begun = time.perf_counter()
        answer = client.get(f"{LIST}?limit={a_page}{cursor and '&cursor=' + cursor}", headers=headers)
        times[-1].append(time.perf_counter() - begun)
        page = answer.json
        if answer.status_code != 200:
            yield f"a page was answered with {answer.status_code}: {answer.text}"
            return
        first = first or page["revision"]
        if page["revision"] != first:
            yield f"a page is of revision {page['revision']}, and the first one was of {first}"
        rows += page["data"]
        cursor = page["next_cursor"]
    codes = [row["code"] for row in rows]
    if codes != sorted(set(codes)):
        yield "a row came twice, or out of order"
    if missed := set(lasting) - set(codes):
        yield f"{len(missed)} rows that lived throughout were missed"
    whole = _whole(client, headers, first or 0)
    if rows != whole:
        yield f"the pages of revision {first} have {len(rows)} rows, and the list as known then has {len(whole)}"


def _whole(client: FlaskClient, headers: dict[str, str], known_at: int) -> list[dict[str, Any]]:
    """The list as known at a revision, in pages of a thousand while nobody can move it."""
    rows, cursor = list[dict[str, Any]](), ""
    while cursor is not None:
        path = f"{LIST}?known_at={known_at}&limit=1000{cursor and '&cursor=' + cursor}"
        page = client.get(path, headers=headers).json
        rows += page["data"]
        cursor = page["next_cursor"]
    return rows


def _forged(client: FlaskClient, headers: list[dict[str, str]], seed: int) -> Iterator[str]:
    chance = random.Random(seed)
    cursor = client.get(f"{LIST}?limit=1", headers=headers[0]).json["next_cursor"]
    forged = [cursor[:place] + chance.choice((string.ascii_letters + string.digits).replace(cursor[place], ""))
              + cursor[place + 1:] for place in chance.choices(range(len(cursor)), k=FORGED)]
    asked = [(f"{LIST}?limit=1&cursor={each}", headers[0]) for each in (*forged, cursor[:-1], cursor + "A", "A")]
    asked += [(f"{LIST}?limit=1&cursor={cursor}", headers[1]), (f"/v1/suppliers?limit=1&cursor={cursor}", headers[0])]
    for path, key in asked:
        if (status := client.get(path, headers=key).status_code) != 422:
            yield f"{path} was answered with {status}"
    if client.get(f"{LIST}?limit=2&cursor={cursor}", headers=headers[0]).status_code != 200:
        yield "the cursor itself is refused"


PROGRAMME = Programme(
    "paging", "T15", "a list walked while others write is the list as it stood", "rows", 60, 20_000, run,
    sabotages=("unpinned_pages", "unsigned_cursors"))
