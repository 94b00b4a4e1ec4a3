"""A price list of 10 000 rows, from the file's bytes to prices in force, beside the least that any program has to do.

    python -m tests.benchmarks.price_lists [--rows 10000] [--rounds 5] [--engine sqlite|postgresql]

CSV: read, mapped, reviewed and accepted in one durable revision, against csv.reader over the same bytes plus one
executemany insert of as many prices with a commit; the effect on the menu, which depends on the menu, is timed beside.
XLSX: read into rows against
python-calamine's bare reader. Sides are asked in turn in every round, on a fresh copy of the same ledger; the ratio is
taken per round. Memory is the growth of the process's peak for 1 000, 10 000 and 100 000 rows, each in a new process.
PostgreSQL runs without fsync here, as in the tests; SQLite commits durably. The garbage collector is set as in a
worker.
"""

import argparse
import contextlib
import csv
import io
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from statistics import median

import xlsxwriter
from python_calamine import CalamineWorkbook

from service import operating, wiring
from service.domain.dish import Dish
from service.domain.history import Version
from service.domain.ingredient import Ingredient
from service.domain.price import Price
from service.domain.recipe import Line
from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack, SupplierItem, item_key
from service.interpreter import suit_the_service
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases.accept_prices import accept_prices
from service.use_cases.ports import Asker, Entry
from service.use_cases.position import Position, position_asked
from service.use_cases.price_files import HowToRead
from service.use_cases.propose_prices import ProposalAsked, propose_prices
from service.use_cases.read_proposals import proposal_document
from service.use_cases.reviews import proposal_numbered
from service.use_cases.rows_chosen import Chosen
from tests.benchmarks.results import CLOCK, SIZE, Asked, Result, ratios
from tests.postgres import running_server

ASKER = Asker("benchmark", "benchmark", "benchmark")
START, BEFORE = date(2026, 12, 1), date(2026, 1, 5)
DISHES = 500
EFFECT = "show the whole: counts, and the effect on the menu"


@dataclass(frozen=True)
class Step:
    """One part of the way, and how long it took."""

    name: str
    seconds: float


def listed(rows: int) -> list[list[str]]:
    """The rows of the file: every price 3 % up, in cents."""
    return [[f"10-{number}", f"Good {number}", "kg", f"{_price(number) * Decimal('1.03'):.2f}"]
            for number in range(rows)]


def as_csv(rows: int) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerows([["Item code", "Description", "Unit", "Price"], *listed(rows)])
    return text.getvalue().encode()


def as_xlsx(rows: int) -> bytes:
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Prices")
        for place, heading in enumerate(("Item code", "Description", "Unit", "Price")):
            sheet.write_string(0, place, heading)
        for line, (item, name, unit, price) in enumerate(listed(rows), 1):
            for place, word in enumerate((item, name, unit)):
                sheet.write_string(line, place, word)
            sheet.write_number(line, 3, float(price))
    return target.getvalue()


def fill(ledger: SqlLedger, rows: int) -> None:
    """A ledger with an ingredient, an item and a price in force for every row, and some hundred dishes."""
    with ledger.write(ASKER) as work:
        def keep(kind: str, code: str, record: object) -> None:
            work.add_version(kind, code, Version(record, work.next_mark(Entry("keep", kind, code, {})), None))

        keep("supplier", "fenmoor", Supplier("fenmoor", "Fenmoor Yard"))
        for number in range(rows):
            keep("ingredient", f"good-{number}", Ingredient(f"good-{number}", f"Good {number}", "other", "kg"))
        for number in range(rows):
            item = SupplierItem("fenmoor", f"10-{number}", f"Good {number}", f"good-{number}",
                                Pack("case", Decimal(1), Decimal(5), "kg"), "kg")
            keep("supplier_item", item_key("fenmoor", item.code), item)
        for number in range(DISHES):
            lines = tuple(Line(ingredient=f"good-{(number * 7 + step) % rows}", cut=None, recipe=None,
                               quantity=Decimal(200), unit="g") for step in range(8))
            keep("dish", f"dish-{number}", Dish(f"dish-{number}", f"Dish {number}", Decimal(1), lines,
                                                menu_price=Decimal(20)))
        for number in range(rows):
            mark = work.next_mark(Entry("record_price", "price", f"good-{number}", {}))
            work.add_price(Price(f"good-{number}", "fenmoor", _price(number), Decimal(1), "kg", BEFORE, None, "", mark))


def our_way(ledger: SqlLedger, content: bytes, rows: int) -> list[Step]:
    """All of it, step by step, on a ledger whose kitchen is in memory as it is in a worker that has answered before."""
    proposals = wiring.proposals(ledger)
    proposals.snapshots.at(_position(ledger))
    steps = []

    def step(name: str, do: Callable[[], object]) -> object:
        begun = time.perf_counter()
        found = do()
        steps.append(Step(name, time.perf_counter() - begun))
        return found

    asked = ProposalAsked("fenmoor", START, "list.csv")
    receipt = step("read and keep the draft", lambda: propose_prices(
        ledger, wiring.read_price_file, content, asked, ASKER))
    number = str(receipt.document["id"])  # type: ignore[attr-defined]
    proposal = proposal_numbered(ledger, number)
    step("review the rows", lambda: proposals.reviews.at(proposal, proposals.reviews.look(proposal)))
    whole = step(EFFECT, lambda: proposal_document(proposals, proposal))
    assert whole["counts"]["clean"] == rows, whole["counts"]  # type: ignore[index]
    step("accept", lambda: accept_prices(ledger, proposals.reviews, int(number), Chosen(None), ASKER))
    assert ledger.head().revision == 2
    return steps


def least_way(ledger: SqlLedger, content: bytes) -> float:
    """csv.reader, and one executemany of the bare driver, its values made ready, of as many prices with its commit."""
    begun = time.perf_counter()
    rows = list(csv.reader(io.StringIO(content.decode())))[1:]
    taken = time.perf_counter() - begun
    with ledger.write(ASKER) as work:
        for number in range(len(rows)):
            work.next_mark(Entry("record_price", "price", f"good-{number}", {}))
    mark = "?" if ledger._engines.is_sqlite else "%s"
    columns = ("made_revision", "made_entry", "ingredient_id", "supplier_id", "amount", "pack_quantity", "pack_unit",
               "effective_from", "effective_to", "reference")
    statement = f"INSERT INTO price ({', '.join(columns)}) VALUES ({', '.join([mark] * len(columns))})"
    values = [(2, number, number, 1, int(Decimal(row[3]) * 1_000_000), 1_000_000, "kg", START.isoformat(), None,
               "list.csv") for number, row in enumerate(rows, 1)]
    begun = time.perf_counter()
    with ledger._engines.write() as connection:
        connection.connection.driver_connection.cursor().executemany(statement, values)
    return taken + time.perf_counter() - begun


def results(asked: Asked) -> Iterator[Result]:
    """A list from bytes to prices in force, and a workbook read, each over the least that has to be done."""
    suit_the_service()
    rows = asked.of(30, 10_000, 10_000)
    for engine in ("sqlite", "postgresql"):
        ours, least, _ = both_ways(engine, rows, asked.rounds)
        yield Result(f"{rows} rows of CSV to prices in force, {engine}", "csv.reader and one executemany",
                     ratios(ours, least), by=CLOCK)
    ours, bare = both_readers(rows, asked.rounds)
    yield Result(f"{rows} rows of XLSX into rows of prices", "the bare reader", ratios(ours, bare), by=CLOCK)
    for said, megabytes in peaks(asked.of((30,), (10_000,), (10_000, 100_000))):
        yield Result(f"peak of memory, {said}", "", (megabytes,), "MB", SIZE)


def both_ways(engine: str, rows: int, rounds: int) -> tuple[list[float], list[float], list[list[Step]]]:
    """Seconds of our way and of the least, and our steps: every round on fresh copies of one filled ledger."""
    content = as_csv(rows)
    ours, least, steps = [], [], []
    with _ledgers(engine, rows) as fresh:
        for _ in range(rounds):
            with fresh() as ledger:
                least.append(least_way(ledger, content))
            with fresh() as ledger:
                steps.append(our_way(ledger, content, rows))
            ours.append(sum(step.seconds for step in steps[-1] if step.name != EFFECT))
    return ours, least, steps


def run(engine: str, rows: int, rounds: int) -> None:
    """Print how our way compares, and its steps."""
    ours, least, steps = both_ways(engine, rows, rounds)
    print(f"{engine}: {rows} rows of CSV to prices in force: {_times(ratios(ours, least))} of csv.reader and one "
          f"executemany ({_ms(ours)} against {_ms(least)})")
    for place, step in enumerate(steps[0]):
        print(f"    {step.name}: {_ms([one[place].seconds for one in steps])}")


def both_readers(rows: int, rounds: int) -> tuple[list[float], list[float]]:
    """Seconds of our reader and of the bare one."""
    content = as_xlsx(rows)
    ours, bare = [], []
    for _ in range(rounds):
        begun = time.perf_counter()
        bare_rows = CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_index(0).to_python()
        bare.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        read = wiring.read_price_file(content, HowToRead({}))
        ours.append(time.perf_counter() - begun)
        assert len(read.rows) == len(bare_rows) - 1 == rows
    return ours, bare


def run_xlsx(rows: int, rounds: int) -> None:
    """Print how our reader compares."""
    ours, bare = both_readers(rows, rounds)
    print(f"xlsx: {rows} rows read into rows of prices: {_times(ratios(ours, bare))} of the bare reader "
          f"({_ms(ours)} against {_ms(bare)})")


def run_memory() -> None:
    """Print how far reading drives the peak of memory."""
    for said, megabytes in peaks((1_000, 10_000, 100_000)):
        print(f"memory: {said}: {megabytes:.0f} MB more in the worker")


def peaks(sizes: Sequence[int]) -> Iterator[tuple[str, float]]:
    """What was read, and MB. Each file is read by a process of its own, which has not made it."""
    with tempfile.TemporaryDirectory() as folder:
        for rows in sizes:
            for kind, content in (("csv", as_csv(rows)), ("xlsx", as_xlsx(rows))):
                file = Path(folder) / f"{rows}.{kind}"
                file.write_bytes(content)
                found = subprocess.run([sys.executable, "-m", "tests.benchmarks.price_lists", "--peak", str(file)],
                                       capture_output=True, text=True, check=True).stdout
                size, more = map(float, found.split())
                yield f"{kind} of {rows} rows, {size:.1f} MB of file", more


def peak(file: Path) -> None:
    """How far reading drives the peak of this process, in MB; its caged child is held to 224."""
    content = file.read_bytes()
    before = _peak_so_far()
    wiring.read_price_file(content, HowToRead({}))
    print(len(content) / 1e6, (_peak_so_far() - before) / 1024)


def _peak_so_far() -> int:
    """The process's own peak in kB: what getrusage tells is also of whoever started it."""
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0])


@contextlib.contextmanager
def _ledgers(engine: str, rows: int) -> Iterator[Callable[[], contextlib.AbstractContextManager[SqlLedger]]]:
    """Makes fresh copies of one filled ledger."""
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        if engine == "postgresql":
            server = stack.enter_context(running_server())
            template = server.create()
            _filled(template, rows)

            def copied() -> str:
                return server.create(template.split("@/")[1].split("?")[0])
        else:
            _filled(f"sqlite:///{folder / 'template.db'}", rows)

            def copied() -> str:
                target = folder / f"{time.monotonic_ns()}.db"
                shutil.copyfile(folder / "template.db", target)
                return f"sqlite:///{target}"

        @contextlib.contextmanager
        def fresh() -> Iterator[SqlLedger]:
            with operating.opened_ledger(Settings(database_url=copied())) as ledger:
                ledger.kitchen(1)
                yield ledger

        yield fresh


def _filled(url: str, rows: int) -> None:
    settings = Settings(database_url=url)
    operating.migrate(settings)
    with operating.opened_ledger(settings) as ledger:
        fill(ledger, rows)


def _position(ledger: SqlLedger) -> Position:
    return position_asked(ledger, ledger.head(), ledger.today(), None, None, costs_only=False)


def _price(number: int) -> Decimal:
    return Decimal(100 + number * 37 % 4000) / 100


def _ms(seconds: Sequence[float]) -> str:
    return f"{median(seconds) * 1000:.0f} ms"


def _times(found: Sequence[float]) -> str:
    return f"{median(found):.1f} times ({min(found):.1f} to {max(found):.1f})"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--rows", type=int, default=10_000)
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--engine", choices=("sqlite", "postgresql"))
    asked.add_argument("--peak", type=Path, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.peak:
        peak(given.peak)
        return
    suit_the_service()
    for engine in (given.engine,) if given.engine else ("sqlite", "postgresql"):
        run(engine, given.rows, given.rounds)
    run_xlsx(given.rows, given.rounds)
    run_memory()


if __name__ == "__main__":
    main()
