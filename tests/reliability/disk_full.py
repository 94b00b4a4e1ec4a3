"""T24: the disk is full or read-only, or the database gone, and comes back, on a small disk filled on purpose.

The application is asked in process. While there is no room a write is answered 507 or 503 with a problem, and reads go
on; nothing is half there; and with room again the same application writes on, without a restart. Each case leaves
another number of bytes, so that it is another page of another file that finds none. By turns: prices one by one, some
thousands at once, a backup, a migration, a database moved away and back; in the long form also a supplier's list over
HTTP with its acceptance, and a ledger full of records that comes from an earlier release. Readers of files need no
room: they are given what is sent through a pipe.

Of PostgreSQL the database's tablespace lies on the small disk and the server's log on another, since a server whose log
finds no room may stop and start anew, which is a lost connection (test_database_restart.py). Here a table or an index
cannot grow (53100), which is 507 alone; by turns prices one by one and some thousands at once.
"""

import contextlib
import os
import random
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import psycopg

from service.domain.supplier_item import Pack, SupplierItem
from service.persistence.backup import backup
from service.persistence.engines import open_engines
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.schema_fit import newest_version, version_on
from service.persistence.verifying import verify
from service.persistence.whole import what_is_wrong
from service.use_cases.ledger_unavailable import LedgerFull, LedgerUnavailable
from tests import postgres
from tests.builders import a_price, a_primal
from tests.persistence.filled_ledger import Rows, broken_references, kept, rows_of
from tests.persistence.filled_ledger import fill as fill_every_table
from tests.persistence.writing import add, record
from tests.reliability.asked_in_process import InProcess, asked_in_process
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.small_disk import SmallDisk, small_disk
from tests.reliability.small_ledger import CHEF, fill
from tests.rest.api_document import VALIDATOR

PRICES = "/v1/ingredients/beef-topside/prices"
LIST = "/v1/price-proposals?supplier=fenmoor&effective_from=2027-01-04"
ROWS = 200
EVERY_ROW = {"overrides": [{"row": row, "reason": "All of it."} for row in range(1, ROWS + 1)]}
EARLIER = [f"{number:04}" for number in range(3, int(newest_version() or "0") - 5)]
"""Heads from which so much is to be done that no little room is enough."""


@dataclass
class _Seen:
    refused: dict[int, int] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)


def run(run: Run) -> Verdict:
    """Fill, write, empty, write."""
    chance, seen, done = random.Random(run.seed), _Seen(), 0
    ways = WAYS if run.engine == "sqlite" else (writes_on_a_server, a_long_write_on_a_server)
    with _ledger_on_a_small_disk(run) as (url, disk):
        engines = open_engines(url)
        fill(engines)
        engines.dispose()
        with asked_in_process(url, run.sabotage) as app:
            while done < run.cases and run.in_time and not seen.faults:
                before = app.read("/v1/dish-costs")["revision"]
                way = ways[done % len(ways)]
                way(app, disk, chance, seen)
                disk.empty()
                _hold(app, url, before, done, f"case {done}, {way.__name__}", seen)
                done += 1
    return Verdict(done, tuple(seen.faults), {f"answers of {status}": count for status, count in seen.refused.items()})


@contextlib.contextmanager
def _ledger_on_a_small_disk(run: Run) -> Iterator[tuple[str, SmallDisk]]:
    """The URL of a migrated, empty ledger, and the disk that it lies on."""
    if run.engine == "sqlite":
        with small_disk(run.folder, 16) as disk:
            migrate(f"sqlite:///{disk.path}/ledger.db")
            yield f"sqlite:///{disk.path}/ledger.db", disk
        return
    server, user = run.server, postgres._demoted().get("user", -1)
    with small_disk(server.socket_folder, 48) as disk:  # where the server's own user may go
        (space := disk.path / "space").mkdir()
        for folder in (disk.path, space):
            os.chown(folder, user, -1)
        server._run(f"CREATE TABLESPACE small LOCATION '{space}'")
        url = server.create(run.database_url.split("@/")[1].split("?")[0])
        try:
            server._run(f"ALTER DATABASE {url.split('@/')[1].split('?')[0]} SET TABLESPACE small")
            yield url, disk
        finally:
            disk.empty()
            server.drop(url)
            server._run("DROP TABLESPACE small")


def _hold(app: InProcess, url: str, before: int, case: int, what: str, seen: _Seen) -> None:
    """With room again: the next write is taken, nothing is half there, and all is whole."""
    answer = _post(app, case)
    if answer.status_code != 201:
        seen.faults.append(f"{what}: with room again a write is answered {answer.status_code}: {answer.text[:300]}")
        return
    if app.ask("GET", "/health/ready").status_code != 200:
        seen.faults.append(f"{what}: with room again it is not ready")
    engines = open_engines(url)
    try:
        seen.faults += [f"{what}: {wrong}" for wrong in what_is_wrong(engines)]
    finally:
        engines.dispose()
    if answer.json["revision"] <= before:  # type: ignore[index]
        seen.faults.append(f"{what}: revision {answer.json['revision']} is not above {before}")  # type: ignore[index]


def _post(app: InProcess, case: int) -> Any:
    return app.ask("POST", PRICES, {"supplier": "fenmoor", "amount": f"{10 + case % 80}.{case % 90 + 10}",
                                    "pack_quantity": "1", "pack_unit": "kg", "reference": "x" * 120})


def _until_refused(app: InProcess, seen: _Seen, allowed: tuple[int, ...], most: int = 400) -> None:
    """Write until there is no room; then reads must go on."""
    for number in range(most):
        answer = _post(app, number)
        if answer.status_code == 201:
            continue
        seen.refused[answer.status_code] = seen.refused.get(answer.status_code, 0) + 1
        if answer.status_code not in allowed or "Retry-After" not in answer.headers:
            seen.faults.append(f"without room a write is answered {answer.status_code}: {answer.text[:300]}")
        if (read := app.ask("GET", "/v1/dish-costs")).status_code != 200:
            seen.faults.append(f"without room a read is answered {read.status_code}: {read.text[:300]}")
        return
    seen.faults.append(f"{most} writes went through without room")


def writes(app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """Prices one by one."""
    disk.fill(leaving=chance.randrange(0, 120_000))
    _until_refused(app, seen, (507, 503))


def a_long_write(_app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """Some thousands of prices in one revision, as a price list brings them: 2.7 MB, of which a part finds room."""
    _without_log(f"sqlite:///{disk.path}/ledger.db")
    disk.fill(leaving=chance.randrange(0, 2_000_000))
    _some_thousands(f"sqlite:///{disk.path}/ledger.db", seen)


def writes_on_a_server(app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """Prices one by one; the pages that are there have room for some."""
    disk.fill(leaving=chance.randrange(0, 120_000))
    _until_refused(app, seen, (507,))


def a_long_write_on_a_server(app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """Some thousands of prices in one revision, 4 MB. The pages that it has taken by then are given back by hand: this
    server has no autovacuum."""
    opened: Any = app.client.application.extensions["seamcost"].positions.ledger._engines
    url = opened.url.set(drivername="postgresql").render_as_string(hide_password=False)
    disk.fill(leaving=chance.randrange(0, 2_000_000))
    _some_thousands(url, seen)
    disk.empty()
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("VACUUM")


def _some_thousands(url: str, seen: _Seen) -> None:
    engines = open_engines(url)
    ledger = SqlLedger(engines)
    before = ledger.head()
    try:
        with ledger.write(CHEF) as work:
            for number in range(6_000):
                add(work, a_price(str(Decimal(number + 1) / 100)))
        seen.faults.append("6 000 prices went through without room")
    except LedgerUnavailable:
        seen.refused[0] = seen.refused.get(0, 0) + 1
    if ledger.head() != before:
        seen.faults.append("a long write without room has moved the head")
    engines.dispose()


def _without_log(url: str) -> None:
    """Shorten the log to nothing: else that of the writes before would be room too."""
    engines = open_engines(url)
    with engines.writing.connect() as connection:
        driver_connection: Any = connection.connection.driver_connection
        driver_connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
    engines.dispose()


def a_backup(_app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """A backup onto the full disk: refused, and no half of a file is left."""
    disk.fill(leaving=chance.randrange(0, 8_000))
    engines = open_engines(f"sqlite:///{disk.path}/ledger.db")
    there = sorted(path.name for path in disk.path.iterdir())
    try:
        backup(engines, disk.path / "backup.jsonl")
        seen.faults.append("a backup went through without room")
    except (OSError, LedgerUnavailable):
        pass
    engines.dispose()
    if left := sorted({path.name for path in disk.path.iterdir()} - set(there)):
        seen.faults.append(f"a backup without room left {left}")


def a_migration(_app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """A database that is made where there is no room for it: refused, and made once there is room."""
    disk.fill(leaving=chance.randrange(0, 300_000))
    path = disk.path / "another.db"
    try:
        migrate(f"sqlite:///{path}")
        seen.faults.append("a migration went through without room")
    except LedgerUnavailable as refusal:
        if not isinstance(refusal, LedgerFull):
            seen.faults.append(f"a migration without room is told so: {refusal}")
    disk.empty()
    migrate(f"sqlite:///{path}")
    engines = open_engines(f"sqlite:///{path}")
    seen.faults += [f"migrated anew: {wrong}" for wrong in what_is_wrong(engines)]
    engines.dispose()
    for each in disk.path.glob("another.db*"):
        each.unlink()


def a_price_list(app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """A supplier's list and its acceptance, until there is no room: in force as a whole or not at all."""
    url = f"sqlite:///{disk.path}/ledger.db"
    _items(url)
    for number in range(40):
        amount = Decimal(app.read("/v1/dish-costs")["revision"] * 100 + number).scaleb(-2)
        proposed = _sent(app, amount)
        if number and (_refused(proposed, "a list", seen) or proposed.status_code != 201):
            break
        if not number:
            _without_log(url)
            disk.fill(leaving=chance.randrange(0, 1_500_000))
        path = f"/v1/price-proposals/{proposed.json['id']}"  # type: ignore[index]
        accepted = app.ask("POST", f"{path}/acceptance", EVERY_ROW)
        refused = _refused(accepted, "an acceptance", seen)
        if (there := _standing(url, amount)) != (0 if refused else ROWS):
            seen.faults.append(f"an acceptance was answered {accepted.status_code}, and {there} of {ROWS} rows stand")
        if refused:
            _hold_open(app, disk, path, seen)
            break
    else:
        seen.faults.append("40 lists were accepted without room")
    if (read := app.ask("GET", "/v1/dish-costs")).status_code != 200:
        seen.faults.append(f"without room a read is answered {read.status_code}: {read.text[:300]}")


def _hold_open(app: InProcess, disk: SmallDisk, path: str, seen: _Seen) -> None:
    """A list whose acceptance found no room can be read as it was, and is accepted once there is room."""
    if app.read(path)["state"] != "open":
        seen.faults.append(f"a list whose acceptance was refused is {app.read(path)['state']}")
    disk.empty()
    if (again := app.ask("POST", f"{path}/acceptance", EVERY_ROW)).status_code != 200:
        seen.faults.append(f"with room again an acceptance is answered {again.status_code}: {again.text[:300]}")


def _items(url: str) -> None:
    """What the list's rows are, unless they are there already."""
    engines = open_engines(url)
    ledger = SqlLedger(engines)
    if not ledger.kitchen(ledger.head().revision).supplier_items:
        record(ledger, *(a_primal(f"meat-{place}") for place in range(ROWS)))
        record(ledger, *(SupplierItem("fenmoor", f"item-{place}", f"Item {place}", f"meat-{place}",
                                      pack=Pack("bag", Decimal(1), Decimal(5), "kg")) for place in range(ROWS)))
    engines.dispose()


def _sent(app: InProcess, amount: Decimal) -> Any:
    content = "\n".join(["Item code;Price", *(f"item-{place};{amount}" for place in range(ROWS)), ""]).encode()
    return app.client.post(LIST, data=content, content_type="text/csv", headers={"Authorization": f"Bearer {app.key}"})


def _refused(answer: Any, what: str, seen: _Seen) -> bool:
    """Whether it was refused, which must be for want of room, and as the API document says."""
    if answer.status_code < 400:
        return False
    seen.refused[answer.status_code] = seen.refused.get(answer.status_code, 0) + 1
    if answer.status_code not in (507, 503) or "Retry-After" not in answer.headers:
        seen.faults.append(f"without room {what} is answered {answer.status_code}: {answer.text[:300]}")
    try:
        VALIDATOR.check_answer("POST", answer.request.path, answer.status_code, answer.content_type, answer.data)
    except AssertionError as fault:
        seen.faults.append(f"without room {what} is refused not as documented: {fault}")
    return True


def _standing(url: str, amount: Decimal) -> int:
    """How many prices of that amount are recorded."""
    engines = open_engines(url)
    ledger = SqlLedger(engines)
    prices = ledger.kitchen(ledger.head().revision).prices
    engines.dispose()
    return sum(price.amount == amount for each in prices.values() for price in each)


def an_earlier_release(_app: InProcess, disk: SmallDisk, chance: random.Random, seen: _Seen) -> None:
    """A ledger with rows in every table, as an earlier release has it: without room its migration is refused, and it
    stands as it did; with room it goes through."""
    aside, path = disk.path.parent / "earlier.db", disk.path / "earlier.db"
    if not aside.exists():
        migrate(f"sqlite:///{aside}")
        fill_every_table(aside)
    head = chance.choice(EARLIER)
    shutil.copyfile(aside, path)
    migrate(f"sqlite:///{path}", head)
    before = _looked_at(disk)
    disk.fill(leaving=chance.randrange(0, 50_000))
    try:
        migrate(f"sqlite:///{path}")
        seen.faults.append(f"a migration from {head} went through without room")
    except LedgerUnavailable as refusal:
        if not isinstance(refusal, LedgerFull):
            seen.faults.append(f"a migration from {head} without room is told so: {refusal}")
    if _looked_at(disk) != before:
        seen.faults.append(f"a migration from {head} without room left another ledger than it found")
    disk.empty()
    if _looked_at(disk) != before:
        seen.faults.append(f"a migration from {head} was refused, and with room the ledger is another")
    migrate(f"sqlite:///{path}")
    version, rows = _looked_at(disk)
    if version != newest_version() or kept(rows, before[1]) != before[1]:
        seen.faults.append(f"with room a migration from {head} came to {version}, or lost rows")
    engines = open_engines(f"sqlite:///{path}")
    seen.faults += [f"migrated from {head}: {wrong}" for wrong in (*verify(engines), *broken_references(engines))]
    engines.dispose()
    for each in disk.path.glob("earlier.db*"):
        each.unlink()


def _looked_at(disk: SmallDisk) -> tuple[str | None, Rows]:
    """The form and the rows of the ledger from an earlier release: of a copy elsewhere, since to look takes room."""
    aside = disk.path.parent / "looked-at"
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir()
    for each in disk.path.glob("earlier.db*"):
        if not each.name.endswith("-shm"):
            shutil.copyfile(each, aside / each.name)
    engines = open_engines(f"sqlite:///{aside}/earlier.db")
    with engines.read() as connection:
        version = version_on(connection)
    rows = rows_of(engines)
    engines.dispose()
    return version, rows


def moved_away(app: InProcess, disk: SmallDisk, _chance: random.Random, seen: _Seen) -> None:
    """The file of the database is away for a while, with nothing of it open: 503; then as before."""
    path = disk.path / "ledger.db"
    away = path.with_name("away.db")
    app.client.application.extensions["seamcost"].positions.ledger._engines.dispose()
    path.rename(away)
    for answer in (_post(app, 1), app.ask("GET", "/v1/dish-costs")):
        seen.refused[answer.status_code] = seen.refused.get(answer.status_code, 0) + 1
        if answer.status_code != 503:
            seen.faults.append(f"without its database it answers {answer.status_code}: {answer.text[:300]}")
    away.rename(path)


def read_only(app: InProcess, disk: SmallDisk, _chance: random.Random, seen: _Seen) -> None:
    """The disk turns read-only, as one that is about to fail, with a log left as after a bad end; and is mended. The
    write by which that is noticed may still be refused."""
    left = {path: path.read_bytes() for path in disk.path.glob("ledger.db-*")}
    app.client.application.extensions["seamcost"].positions.ledger._engines.dispose()
    for path, content in left.items():
        path.write_bytes(content)
    disk.read_only()
    try:
        for answer in (_post(app, 1), _post(app, 2)):
            seen.refused[answer.status_code] = seen.refused.get(answer.status_code, 0) + 1
            if answer.status_code not in (503, 507) or "Retry-After" not in answer.headers:
                seen.faults.append(f"on a read-only disk a write is answered {answer.status_code}: {answer.text[:300]}")
        if (read := app.ask("GET", "/v1/dish-costs")).status_code not in (200, 503):
            seen.faults.append(f"on a read-only disk a read is answered {read.status_code}: {read.text[:300]}")
    finally:
        disk.read_only(False)
    _post(app, 3)


WAYS: tuple[Callable[[InProcess, SmallDisk, random.Random, _Seen], None], ...] = (
    writes, a_long_write, writes, a_backup, writes, a_migration, moved_away,
    read_only, a_price_list, an_earlier_release)

PROGRAMME = Programme(
    "disk_full", "T24", "without room a write is refused, reads go on, nothing is half there, and it goes on with room",
    "full disks", 8, 200, run,
    sabotages=("a_full_disk_is_a_defect", "half_commit"))
