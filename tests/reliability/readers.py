"""The readers that are fuzzed: each with what makes a valid frame, what may come out, and what is counted beside it.

`read` gives None when all is well and a sentence when what came out cannot be right; a fault of the reader's own
(`faults`) may come out of any file that was changed. Files of workbooks and documents are read in this process and not
in the cage: the cage takes away what a reader could do, it does not make it right.
"""

import csv
import gzip
import io
import json
import mmap
import os
import random
import re
import resource
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import Any
from unittest.mock import patch

import marshmallow as ma

from service.domain.errors import ColumnsNotRecognised, FileTooLarge, Refused, UnreadableFile
from service.integrations.price_lists import ubl, xlsx
from service.integrations.price_lists.cage_faults import CageLimits, why_it_refused
from service.integrations.price_lists.caged import document as caged_document
from service.integrations.price_lists.caged import workbook as caged_workbook
from service.integrations.price_lists.csv_text import read_csv
from service.integrations.price_lists.reading import read_price_file
from service.integrations.sales.sales_csv import read_sales_csv
from service.persistence.backup import backup
from service.persistence.engines import open_engines
from service.persistence.migrating import migrate
from service.persistence.restoring import BackupDamaged, LedgerNotEmpty, restore
from service.rest.comma_lists import CommaList
from service.rest.fields.numbers import ExactDecimal
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day, Moment
from service.rest.http_faults import MalformedJson, WrongCursor
from service.rest.json_numbers import NumberText
from service.rest.paging import Cursor, Cursors
from service.rest.reading import DEEPEST, LONGEST_NAME, MOST_MEMBERS, parsed_json
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.price_files import HowToRead
from service.use_cases.sales_files import HowSalesAreWritten
from tests.integrations.price_lists.ubl_documents import (
    a_catalogue,
    a_line,
    a_price,
    an_invoice,
    an_invoice_line,
    an_item,
)
from tests.integrations.price_lists.workbooks import SHEET, a_workbook, packed, parts_of
from tests.reliability.fuzz_values import NUMBERS, RAW, TEXTS, any_value, as_json
from tests.reliability.json_judge import NotJson, judged
from tests.rest.small_kitchen import small_kitchen

NAMES = ("Beef topside", "Lamb shank", "Salmon, whole", 'Butter "best"', "Crème fraîche", "Eggs 6x30", "Haché; 5 %",
    "Øl")
UNITS = ("kg", "g", "each", "case of 8 kg", "6 x 1 kg", "l", "lb", "C62", "KGM", "box")
AMOUNTS = ("14.20", "1 234,50", "0.99", "€ 7.10", "113.6", "1,234.56", "12", "0", "14,20", "1'250.00")
LISTED = (UnreadableFile, FileTooLarge, ColumnsNotRecognised)


@dataclass(frozen=True)
class Reader:
    """One reader. `share` is how many in a hundred of the files it gets: those that take long get few."""

    frame: Callable[[random.Random], bytes]
    read: Callable[[bytes], str | None]
    faults: tuple[type[Exception], ...]
    share: int = 100
    always_valid: bool = True
    """Whether every frame has to be read; else some are made to be wrong in one place."""


Make = Callable[[Path], AbstractContextManager[Reader]]
ROOM_BYTES = CageLimits().memory_mib * 2**20


def _rows(chance: random.Random) -> list[list[str]]:
    count = chance.randrange(1, 12)
    return [[f"10-{number:04}", chance.choice(NAMES), chance.choice(UNITS), chance.choice(AMOUNTS)]
            for number in range(count)]


def _table(chance: random.Random) -> bytes:
    file = io.StringIO()
    mark = chance.choice(",;\t|")
    writer = csv.writer(file, delimiter=mark, lineterminator=chance.choice(("\n", "\r\n")))
    if chance.random() < 0.3:
        writer.writerow(["Fenmoor Yard", "List 12"])
    writer.writerow(["Code", "Description", "Unit", "Price"])
    writer.writerows(_rows(chance))
    encoding = chance.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"))
    return file.getvalue().encode(encoding, "replace")


def records_of(text: str, mark: str) -> list[list[str]] | None:
    """The records of a table by RFC 4180, read letter by letter; None where quotes do not match."""
    rows: list[list[str]] = []
    row, cell, quoted, was_quoted, at = [], [], False, False, 0
    while at < len(text):
        letter = text[at]
        at += 1
        if quoted:
            if letter == '"' and text[at:at + 1] == '"':
                cell.append('"')
                at += 1
            elif letter == '"':
                quoted = False
            else:
                cell.append(letter)
        elif letter == '"' and not cell and not was_quoted:
            quoted = was_quoted = True
        elif letter == mark or letter in "\r\n":
            row.append("".join(cell))
            cell, was_quoted = [], False
            if letter != mark:
                at += letter == "\r" and text[at:at + 1] == "\n"
                rows.append(row)
                row = []
        elif was_quoted:
            return None
        else:
            cell.append(letter)
    if quoted:
        return None
    if cell or row or was_quoted:
        rows.append([*row, "".join(cell)])
    return rows


def _priced_rows_told(content: bytes) -> str | None:
    """Whether every row with more than one filled cell below the header is among those that were read."""
    said = read_csv(content, HowToRead({}))
    layout = said.layout
    if layout is None:
        return "no layout is told"
    encoding = {"utf-8": "utf-8-sig", "windows-1252": "cp1252"}.get(layout.encoding, layout.encoding)
    text = content.decode(encoding).removeprefix("\ufeff")
    records = records_of(text, layout.delimiter)
    if records is None:
        return "its quotes do not match, and it was read"
    filled = [[cell.strip() for cell in row] for row in records if any(cell.strip() for cell in row)]
    titles = {title for _, title in layout.columns}
    head = next((place for place, row in enumerate(filled) if titles <= set(row)), None)
    if head is None:
        return None
    columns = [(filled[head].index(title), title) for title in titles]
    below = [row for row in filled[head + 1:]
             if not all(row[column:column + 1] == [title] for column, title in columns)]  # the header once more
    least = sum(1 for row in below if sum(map(bool, row)) > 1)
    if not least <= len(said.rows) <= len(below):
        return f"{len(said.rows)} rows were read of {least} to {len(below)}"
    return None


@contextmanager
def price_list_csv(_: Path) -> Iterator[Reader]:
    """Price lists as CSV, TSV and the like."""
    yield Reader(_table, _priced_rows_told, LISTED)


def _in_process(module: Any) -> Any:
    """In the cage's place: the same reader in this process, its refusals told as the cage tells them."""
    @contextmanager
    def caged(_name: str, content: bytes, asked: Mapping[str, object]) -> Iterator[Iterator[bytes]]:
        def lines() -> Iterator[bytes]:
            try:
                yield from module.read(io.BytesIO(content), asked)
            except Exception as fault:
                told = {"fault": getattr(fault, "word", "damaged"), "text": str(fault)[:300],
                        "limit": getattr(fault, "limit", 0)}
                raise why_it_refused(json.dumps(told).encode(), CageLimits()) from fault
            except BaseException as fault:
                if type(fault).__name__ != "PanicException":
                    raise
                raise UnreadableFile("The file broke the code that reads it.", why="broke-its-reader") from fault

        yield lines()

    return caged


def _survived(work: Callable[[], object]) -> bool:
    """Whether a process with as little room as a cage outlives some work: code of another language that asks for a
    terabyte ends its process, and raises nothing."""
    child = os.fork()
    if child == 0:
        try:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            room = int(Path("/proc/self/statm").read_text().split()[0]) * mmap.PAGESIZE + ROOM_BYTES
            resource.setrlimit(resource.RLIMIT_AS, (room, room))
            work()
        except BaseException:  # what it says is asked for again, in this process
            os._exit(0)
        os._exit(0)
    return os.waitpid(child, 0)[1] == 0


@contextmanager
def price_list_xlsx(_: Path) -> Iterator[Reader]:
    """Workbooks: what is changed is the text of one part, so that the archive around it stays whole."""
    made = [parts_of(a_workbook({"Prices": [["Code", "Description", "Unit", "Price"], *_rows(random.Random(seed))]}))
            for seed in range(8)]

    def frame(chance: random.Random) -> bytes:
        number = chance.randrange(len(made))
        name = chance.choice((SHEET, SHEET, "xl/workbook.xml", "xl/sharedStrings.xml", "[Content_Types].xml",
                              "xl/_rels/workbook.xml.rels", "xl/styles.xml", "whole"))
        part = packed(made[number]) if name == "whole" else made[number][name]
        return f"{number} {name}\n".encode() + part

    def read(content: bytes) -> str | None:
        said, _, part = content.partition(b"\n")
        number, _, name = said.decode("latin-1").partition(" ")
        kept = made[int(number)] if number.isascii() and number.isdigit() and int(number) < len(made) else made[0]
        whole = packed(kept | {name: part}) if name in kept else part

        def here() -> Any:
            with patch.object(xlsx, "caged", _in_process(caged_workbook)):
                return read_price_file(whole, HowToRead({}))

        if not _survived(here):
            read_price_file(whole, HowToRead({}))  # in the cage itself, which is to say what is wrong
            return "a file that ends the process that reads it was read"
        said = here()
        return None if said.rows else "no row was read, and none refused"

    yield Reader(frame, read, LISTED, share=25)


def _document(chance: random.Random) -> bytes:
    rows = _rows(chance)
    if chance.random() < 0.5:
        return a_catalogue(*(a_line(a_price(row[3]), number=row[0], item=an_item(row[0], row[1])) for row in rows))
    return an_invoice(*(an_invoice_line(total=row[3], number=row[0], item=an_item(row[0], row[1])) for row in rows))


def _lines_told(content: bytes) -> str | None:
    """Whether a document is XML by a parser of another make, and has no more lines than rows were read."""
    with patch.object(ubl, "caged", _in_process(caged_document)):
        said = read_price_file(content, HowToRead({}))
    if said.layout is not None:
        return None
    try:
        root = ElementTree.fromstring(content)
    except (ElementTree.ParseError, ValueError):
        return None
    lines = [each for each in root if re.fullmatch(r"{[^}]*CommonAggregateComponents-2}(Catalogue|Invoice)Line",
        each.tag)]
    return None if len(said.rows) >= len(lines) else f"{len(said.rows)} rows were read of {len(lines)} lines"


@contextmanager
def price_list_xml(_: Path) -> Iterator[Reader]:
    """UBL catalogues and invoices."""
    yield Reader(_document, _lines_told, LISTED)


def _sales(chance: random.Random) -> bytes:
    mark = chance.choice(",;\t")
    point = "," if mark == ";" else "."
    rows = [["business_date", "pos_code", "quantity", "net_takings", "kind"]]
    rows += [[f"2026-11-{chance.randrange(1, 25):02}", str(1042 + number), f"{chance.randrange(1, 50)}{point}5",
              f"{chance.randrange(500)}{point}25", "sale"] for number in range(chance.randrange(1, 9))]
    file = io.StringIO()
    csv.writer(file, delimiter=mark).writerows(rows)
    return file.getvalue().encode(chance.choice(("utf-8", "utf-8-sig", "utf-16")))


def _every_sale_told(content: bytes) -> str | None:
    days = read_sales_csv(content, HowSalesAreWritten())
    told = sum(len(day.lines) for day in days)
    for encoding in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"):
        try:
            text = content.decode(encoding).removeprefix("\ufeff")
        except UnicodeDecodeError:
            continue
        counts = [len([row for row in records if any(cell.strip() for cell in row)]) - 1
                  for mark in ",;\t" if (records := records_of(text, mark)) is not None]
        if told in counts:
            return None
    return f"{told} lines were read, and no reading of the text has as many"


@contextmanager
def sales_csv(_: Path) -> Iterator[Reader]:
    """Sales as CSV."""
    yield Reader(_sales, _every_sale_told, (Refused, UnreadableFile, FileTooLarge))


def _json(chance: random.Random) -> bytes:
    def some(depth: int) -> Any:
        if depth > 4 or chance.random() < 0.3:
            return chance.choice((chance.choice(NAMES), RAW + chance.choice(NUMBERS[:6]), True, None, ""))
        if chance.random() < 0.5:
            return [some(depth + 1) for _ in range(chance.randrange(4))]
        return {f"{chance.choice(('name', 'lines', 'note', 'x/y', 'é'))}{number}": some(depth + 1)
                for number in range(chance.randrange(4))}

    return as_json({"name": chance.choice(NAMES), "body": some(0)})


def _read_as_judged(content: bytes) -> str | None:
    try:
        expected, depth = judged(content)
    except NotJson as why:
        expected, depth = why, 0
    try:
        value = parsed_json(content)
    except (MalformedJson, Refused):
        if isinstance(expected, NotJson) or depth > DEEPEST or not _within(expected):
            raise
        return "refused, and the judge reads it"
    return None if not isinstance(expected, NotJson) and _plain(value) == expected else f"the judge says {expected!r}"


def _within(value: Any) -> bool:
    if isinstance(value, dict):
        return len(value) <= MOST_MEMBERS and all(
            len(name) <= LONGEST_NAME and "\x00" not in name and _within(below) for name, below in value.items())
    return all(map(_within, value)) if isinstance(value, list) else "\x00" not in str(value)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(below) for name, below in value.items()}
    return [_plain(below) for below in value] if isinstance(value, list) else (
        value.text if isinstance(value, NumberText) else value)


@contextmanager
def json_body(_: Path) -> Iterator[Reader]:
    """JSON, held to a judge that shares no code."""
    yield Reader(_json, _read_as_judged, (MalformedJson, Refused))


def _decimal_as_counted(content: bytes) -> str | None:
    text = content.decode("utf-8", "surrogateescape")
    field = ExactDecimal(min="-5", max="1000", decimals=6)
    value = field.read(text)
    plain = re.fullmatch(r"(-?)([0-9]{1,12})(?:\.([0-9]{1,6}))?", text, re.ASCII)
    if plain is None:
        return f"{text!r} was read as {value}"
    counted = Fraction(int(plain[2] + (plain[3] or "")), 10 ** len(plain[3] or "")) * (-1 if plain[1] else 1)
    return None if Fraction(value) == counted and -5 <= counted <= 1000 else f"{text!r} was read as {value}"


@contextmanager
def decimals(_: Path) -> Iterator[Reader]:
    """Decimals of requests, held to whole numbers over powers of ten."""
    yield Reader(lambda chance: f"{chance.randrange(-4, 1000)}.{chance.randrange(10 ** 6):06}".encode(),
                 _decimal_as_counted, (ma.ValidationError,))


@contextmanager
def cursors(_: Path) -> Iterator[Reader]:
    """Cursors: nothing but the very text that was given is read."""
    made, bound = Cursors(lambda: b"secret"), ("0ff1ce00", "/v1/prices", "supplier=fenmoor")
    given: dict[str, Cursor] = {}

    def frame(chance: random.Random) -> bytes:
        cursor = Cursor(chance.randrange(1, 10 ** 6), date(2026, 1, 1 + chance.randrange(28)), chance.choice(("leg",
            7, ["a", 1])))
        text = made.write(cursor, *bound)
        given[text] = cursor
        return text.encode()

    def read(content: bytes) -> str | None:
        text = content.decode("utf-8", "surrogateescape")
        value = made.read(text, *bound)
        return None if given.get(text) == value else f"{text!r} was read as {value}"

    yield Reader(frame, read, (WrongCursor,))


@contextmanager
def query_values(_: Path) -> Iterator[Reader]:
    """The values of queries and bodies that have a form of their own: what is read, read again from what is written."""
    fields = {"code": Code(), "day": Day(), "moment": Moment(), "name": Name(), "text": Text(lines=True),
              "codes": CommaList(Code()), "texts": CommaList(Text(max=20))}
    valid = {"code": "beef-topside", "day": "2026-02-28", "moment": "2026-02-28T23:59:59.5+01:30", "name": "Crème",
             "text": "one\ntwo", "codes": "leg,egg", "texts": '"a,b",c'}

    def frame(chance: random.Random) -> bytes:
        name = chance.choice(list(fields))
        return f"{name}={valid[name]}".encode()

    def read(content: bytes) -> str | None:
        name, _, text = content.decode("utf-8", "surrogateescape").partition("=")
        field = fields.get(name, fields["text"])
        value = field.read(text)
        if isinstance(field, CommaList):
            return None if 1 <= len(value) <= field.most else f"{len(value)} entries"
        written = field.write(value)
        return None if field.read(written) == value else f"{text!r} reads as {value!r}, and {written!r} as another"

    yield Reader(frame, read, (ma.ValidationError,))


@contextmanager
def credentials(folder: Path) -> Iterator[Reader]:
    """Authorization fields, over the whole application: 200 for the key itself, in each form that is known, and for
    it alone."""
    import base64

    with _kitchen(folder) as kitchen:
        key = kitchen.headers["Authorization"].split()[1]

        basic = base64.b64encode(f"till:{key}".encode()).decode()
        given = [each.encode() for each in (f"Bearer {key}", f"bearer {key}", f"Basic {basic}", f"Bearer  {key}")]

        def read(content: bytes) -> str | None:
            sent = content.replace(b"\r", b"").replace(b"\n", b"").replace(b"\0", b"").decode("latin-1")
            answer = kitchen.client.get("/v1/suppliers", headers={"Authorization": sent})
            kitchen.validator.check_answer("GET", "/v1/suppliers", answer.status_code, answer.content_type or "",
                answer.data)
            as_made = content in given and answer.status_code != 200
            if as_made or answer.status_code >= 500 or (answer.status_code == 200 and not _holds(sent, key)):
                return f"{answer.status_code} for {sent!r}"
            return None

        def _holds(sent: str, secret: str) -> bool:
            if secret in sent:
                return True
            try:
                return secret in base64.b64decode(sent.split()[-1] + "==").decode("utf-8", "replace")
            except (ValueError, IndexError):
                return False

        yield Reader(lambda chance: chance.choice(given), read, (), share=20)


@contextmanager
def feed_tokens(folder: Path) -> Iterator[Reader]:
    """Addresses of feed links, over the whole application: the link's own alone shows anything, and none is told."""
    with _kitchen(folder) as kitchen:
        made = kitchen.client.post("/v1/feeds", headers=kitchen.headers, json={"name": "Sheet",
            "lists": ["dish-costs"]})
        token = made.json["token"]

        def read(content: bytes) -> str | None:
            from urllib.parse import quote

            answer = kitchen.client.get(f"/feeds/{quote(content, safe='')}/dish-costs.csv")
            shows = answer.status_code == 200
            if answer.status_code >= 500 or shows != (content == token.encode()):
                return f"{answer.status_code} for another token"
            told = content.decode("utf-8", "replace")
            return f"the token is told: {answer.text[:200]}" if len(told) > 20 and told in answer.text else None

        yield Reader(lambda _chance: token.encode(), read, (), share=20)


@contextmanager
def backups(folder: Path) -> Iterator[Reader]:
    """Backups whose last line vouches for whatever was changed: the ledger restored gives the same backup, to the
    letter, or nothing is kept of it."""
    with _kitchen(folder) as kitchen:
        file = folder / "given"
        backup(kitchen.ledger._engines, file)
        *lines, _ = file.read_bytes().splitlines(keepends=True)
    url = f"sqlite:///{folder}/restored.db"
    migrate(url)
    empty = (folder / "restored.db").read_bytes()
    engines = open_engines(url)

    def frame(chance: random.Random) -> bytes:
        return b"".join(lines) if chance.random() < 0.5 else _one_line_else(lines, chance)

    def read(content: bytes) -> str | None:
        nonlocal engines
        name = "given.gz" if len(content) % 3 == 0 else "given"
        whole = _vouched(content if content[-1:] == b"\n" else content + b"\n")
        (folder / name).write_bytes(gzip.compress(whole) if name == "given.gz" else whole)
        restore(engines, folder / name)
        backup(engines, folder / "again")
        engines.dispose()
        for left in folder.glob("restored.db*"):
            left.unlink()
        (folder / "restored.db").write_bytes(empty)
        engines = open_engines(url)
        return None if (folder / "again").read_bytes() == whole else "restored, and its backup is another"

    try:
        yield Reader(frame, read, (BackupDamaged, LedgerNotEmpty, LedgerUnavailable, OSError), share=10,
                     always_valid=False)
    finally:
        engines.dispose()


def _vouched(content: bytes) -> bytes:
    """A backup's lines with a last one that vouches for them."""
    rows = sum(line.startswith(b"[") for line in content.split(b"\n"))
    return content + json.dumps({"rows": rows, "sha256": sha256(content).hexdigest()}).encode() + b"\n"


def _one_line_else(lines: list[bytes], chance: random.Random) -> bytes:
    """One value of one line taken from hostile ones: the file stays JSON lines."""
    place = chance.randrange(len(lines))
    value = json.loads(lines[place])
    if isinstance(value, list):
        value[chance.randrange(len(value))] = any_value(chance)
    else:
        value[chance.choice(list(value))] = any_value(chance)
    changed = chance.choice((as_json(value), as_json(any_value(chance)), chance.choice(TEXTS).encode("utf-8",
        "replace")))
    return b"".join([*lines[:place], changed.replace(b"\n", b" ") + b"\n", *lines[place + 1:]])


@contextmanager
def _kitchen(folder: Path) -> Iterator[Any]:
    path = folder / f"kitchen-{len(list(folder.iterdir()))}.db"
    migrate(f"sqlite:///{path}")
    with small_kitchen(path) as kitchen:
        yield kitchen


READERS: Mapping[str, Make] = {
    "price_list_csv": price_list_csv, "price_list_xlsx": price_list_xlsx, "price_list_xml": price_list_xml,
    "sales_csv": sales_csv, "json_body": json_body, "decimals": decimals, "cursors": cursors,
    "query_values": query_values, "credentials": credentials, "feed_tokens": feed_tokens, "backups": backups}
