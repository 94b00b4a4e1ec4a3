"""T19: any text in any cell of a table that goes out comes back as it was, computes nothing, and leaves figures alone.

Texts are drawn by Hypothesis: what a spreadsheet takes for a formula, quotes, line ends, controls, marks that turn the
direction of writing, half surrogate pairs, what looks like a number or a date, the longest that there may be. Each is
put wherever people type (names, sections, POS codes, notes, references), by the application, asked in process; or it
is refused, as half a pair and U+0000 must be. Then each table is read back by a reader of another make, CSV by Python's
csv and workbooks by openpyxl, and held to the JSON answers: text is that text once one guard is taken off, none begins
with what starts a formula, figures are the same digits, a workbook's formulas are those that it had when every name was
plain, no cell is longer than a spreadsheet's. The writers by themselves get what the application refuses, too.

With OPENED_FROM cases or more a real spreadsheet program, LibreOffice, opens the tables too. A case is a text.

Source: RFC 4180; OWASP on CSV injection, for what starts a formula; ECMA-376 part 1, ST_Xstring, for how a text
holds what XML cannot; 32 767 characters of a cell: "Excel specifications and limits", from memory.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import openpyxl
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from service.domain.live_table import Band, Column, Label, Table
from service.domain.live_table import Form as Shown
from service.domain.workbook import LiveWorkbook
from service.integrations.workbook.writing import workbook_bytes
from service.rest import csv_answers
from tests.reliability.asked_in_process import InProcess, asked_in_process
from tests.reliability.exports_opened import opened_by_the_program
from tests.reliability.programme import Programme, Run, Verdict

ACTIVE = frozenset("=+-@\t\r\n\0＝＋－＠")
LONGEST_CELL = 32_767
AT_ONCE = 25
OPENED_FROM = 2_000
TEXT_COLUMNS = frozenset(("name", "section", "pos_code"))
KEYS = {"dish-costs": "dish", "recipe-costs": "recipe"}
FORMS = (("comma", "point", ","), ("semicolon", "comma", ";"), ("tab", "comma", "\t"))
_STARTS = ("=1+1", "=cmd|' /C calc'!A0", "+1", "-2+3", "@SUM(1)", '=HYPERLINK("http://sheets.example","x")', "'=1+1",
           "''", "＝1+1", "＠A1", "\t=1+1", "\r=1", "\n=1", '"', '""', '","', ";", "a;b", "a,b", "a\tb", "#N/A",
           "#REF!", "2026-03-04", "4/3", "1-2", "1e5", "007", "1,5", "12.50", "TRUE", "00:30", "_x0041_", "a\nb",
           "a\r\nb", "\u202eabc", "\u200fשלום", "\u2066x\u2069", "\ufeffx", "e\u0301", "\U0001f969", "\ud800",
           "x\udfff", "a\0b", "\x01", "\x7f", "\u0085", "\u2028", "\ufffe", "x" * 120, "=" + "9" * 119)
TEXTS = st.one_of(
    st.sampled_from(_STARTS), st.text(max_size=120),
    st.builds(str.__add__, st.sampled_from(_STARTS), st.text(max_size=40)),
    st.text(st.characters(max_codepoint=0x2FF), max_size=60),
    st.text(st.sampled_from("=+-@'\"\t\r\n,; 1aA"), max_size=12))


@dataclass
class Seen:
    """What was tried, and what was wrong."""

    tried: int = 0
    taken: int = 0
    figures: int = 0
    faults: list[str] = field(default_factory=list)


def exports(run: Run) -> Verdict:
    """Put every text everywhere, and read every table back."""
    seen = Seen()
    with asked_in_process(run.database_url, run.sabotage) as app:
        feeds = _kitchen(app)
        plain = _formulas(_workbook(app))
        tables: dict[str, bytes] = {}
        for texts in _drawn(run):
            if not run.in_time or seen.faults:
                break
            for place, text in enumerate(texts):
                _put(app, place, text, seen)
            seen.faults += _wrong_by_themselves(texts)
            tables = _held(app, feeds, plain, seen)
        if run.cases >= OPENED_FROM and tables and not seen.faults:
            seen.faults += opened_by_the_program(run.folder, tables, _rows(app, "dish-costs"))
    if not seen.taken:
        seen.faults.append("no text was taken: nothing was tried")
    if not seen.figures:
        seen.faults.append("no table that was read back has a figure")
    return Verdict(seen.tried, tuple(seen.faults[:20]), {
        "taken": seen.taken, "refused": seen.tried - seen.taken, "figures held": seen.figures})


def _drawn(run: Run) -> Iterator[list[str]]:
    """The texts, so many at once as are put into the kitchen: to draw all of them takes longer than a short run has."""
    waiting, start = list(_STARTS), 0
    while start < run.cases:
        while len(waiting) < AT_ONCE:
            waiting += _some(run.seed + start)
        texts, waiting = waiting[:min(AT_ONCE, run.cases - start)], waiting[AT_ONCE:]
        start += AT_ONCE
        yield texts


def _some(by: int) -> list[str]:
    found: list[str] = []

    @seed(by)
    @settings(max_examples=4 * AT_ONCE, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))
    @given(TEXTS)
    def draw(text: str) -> None:
        found.append(text)

    draw()
    return found


def _kitchen(app: InProcess) -> list[tuple[str, str, str]]:
    """A kitchen whose texts are all plain; its feeds as (path, delimiter, decimal mark)."""
    assert app.ask("PUT", "/v1/settings", {"currency": "GBP"}, if_match="*").status_code in (200, 201)
    _must(app, "PUT", "/v1/suppliers/fenmoor", {"name": "Fenmoor"})
    for place in range(AT_ONCE):
        _must(app, "PUT", f"/v1/ingredients/good-{place}", _good("Plain"))
        _must(app, "POST", f"/v1/ingredients/good-{place}/prices", {
            "supplier": "fenmoor", "amount": f"{place}.37", "pack_quantity": "3", "pack_unit": "kg"})
        _must(app, "PUT", f"/v1/recipes/part-{place}", _part("Plain", place))
        _must(app, "PUT", f"/v1/dishes/dish-{place}", _dish("Plain", place))
    feeds = []
    for name, decimal, delimiter in FORMS:
        made = _must(app, "POST", "/v1/feeds", {"name": "Sheet", "lists": ["dish-costs"], "delimiter": name,
                                                "decimal": decimal, "bom": name == "tab"})
        feeds.append((made["urls"][0]["csv"], delimiter, "," if decimal == "comma" else "."))
    return feeds


def _must(app: InProcess, method: str, path: str, body: Any) -> Any:
    answer = app.ask(method, path, body)
    assert answer.status_code in (200, 201), answer.text
    return answer.json


def _good(text: str) -> dict[str, Any]:
    return {"name": text, "kind": "dry goods", "base_unit": "kg"}


def _part(text: str, place: int) -> dict[str, Any]:
    return {"name": text, "makes_quantity": "2", "makes_unit": "kg",
            "lines": [{"ingredient": f"good-{place}", "quantity": "1.5", "unit": "kg", "note": text}]}


def _dish(text: str, place: int) -> dict[str, Any]:
    return {"name": text, "section": text[:60].strip() or "x", "pos_code": f"{text[:50].lstrip()}{place}",
            "portions": "3", "menu_price": "12.5",
            "lines": [{"recipe": f"part-{place}", "quantity": "0.7", "unit": "kg", "note": text}]}


def _put(app: InProcess, place: int, text: str, seen: Seen) -> None:
    """Put a text in a dish, and in a recipe, an ingredient or a price by turns; what cannot be kept is refused."""
    seen.tried += 1
    price = {"supplier": "fenmoor", "amount": "4.20", "pack_quantity": "1", "pack_unit": "kg", "reference": text}
    other = (("PUT", f"/v1/recipes/part-{place}", _part(text, place)),
             ("PUT", f"/v1/ingredients/good-{place}", _good(text)),
             ("POST", f"/v1/ingredients/good-{place}/prices", price))[seen.tried % 3]
    answers = [app.ask(method, path, body, **({"if_match": "*"} if method == "PUT" else {}))
               for method, path, body in (("PUT", f"/v1/dishes/dish-{place}", _dish(text, place)), other)]
    statuses = {answer.status_code for answer in answers}
    taken = statuses <= {200, 201}
    seen.taken += taken
    never = "\0" in text.strip() or any(unicodedata.category(each) == "Cs" for each in text)
    plainly = text.isprintable() and 0 < len(unicodedata.normalize("NFC", text).strip()) <= 100
    if max(statuses) >= 500 or (never and taken) or (plainly and not taken):
        seen.faults.append(f"{text!r} was answered {sorted(statuses)}: {answers[0].text[:200]}")


def _held(app: InProcess, feeds: Sequence[tuple[str, str, str]], plain: frozenset[str], seen: Seen) -> dict[str, bytes]:
    """Read every table back; the files, by name."""
    files: dict[str, bytes] = {}
    for name, key in KEYS.items():
        rows = _rows(app, name)
        files[f"{name}.csv"] = app.ask("GET", f"/v1/{name}", accept="text/csv").data
        seen.faults += _wrong_csv(files[f"{name}.csv"], ",", ".", rows, key, seen)
    dishes = _rows(app, "dish-costs")
    for path, delimiter, decimal in feeds:
        seen.faults += _wrong_csv(app.ask("GET", path).data, delimiter, decimal, dishes, "dish", seen)
    files["workbook.xlsx"] = _workbook(app)
    seen.faults += _wrong_workbook(files["workbook.xlsx"], plain, dishes)
    return files


def _rows(app: InProcess, name: str) -> dict[str, Mapping[str, Any]]:
    return {row[KEYS[name]]: row for row in app.read(f"/v1/{name}?limit=1000")["data"]}


def _workbook(app: InProcess) -> bytes:
    answer = app.ask("GET", "/v1/workbook.xlsx")
    assert answer.status_code == 200, answer.text
    return bytes(answer.data)


def _wrong_csv(content: bytes, delimiter: str, decimal: str, expected: Mapping[str, Mapping[str, Any]], key: str,
               seen: Seen) -> Iterator[str]:
    header, *cells = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), delimiter=delimiter,
                                     strict=True))
    found = {row[header.index(key)]: dict(zip(header, row, strict=True)) for row in cells}
    if found.keys() != expected.keys() or len(cells) != len(expected):
        yield f"{len(cells)} rows of {key} by {delimiter!r}, not {len(expected)}"
        return
    for code, row in expected.items():
        for column, value in row.items():
            if column not in found[code] or isinstance(value, list | dict):
                continue
            cell = found[code][column]
            if column in TEXT_COLUMNS:
                if wrong := _wrong_text(cell, value or ""):
                    yield f"{column} of {code} by {delimiter!r}: {wrong}"
            elif isinstance(value, str):
                seen.figures += 1
                if cell.replace(decimal, ".") != value:
                    yield f"{column} of {code} is {cell!r} by {delimiter!r}, and {value!r} as JSON"


def _wrong_text(cell: str, text: str) -> str:
    """What is wrong with a guarded cell: it starts a formula, or is another text once its guard is off."""
    if cell[:1] in ACTIVE:
        return f"{cell!r} starts a formula"
    guarded = cell.startswith("'") and cell.lstrip("'")[:1] in ACTIVE
    return "" if (cell[1:] if guarded else cell) == text else f"{cell!r} is not {text!r}"


def _cells(content: bytes) -> Iterator[tuple[Any, Any]]:
    for sheet in openpyxl.load_workbook(io.BytesIO(content)).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is not None:
                    yield sheet, cell


def _formulas(content: bytes) -> frozenset[str]:
    """Every formula of a workbook, without the numbers of rows: what a text may not add to, nor change."""
    return frozenset(re.sub(r"\d+", "0", str(cell.value)) for _, cell in _cells(content) if cell.data_type == "f")


def _wrong_workbook(content: bytes, plain: frozenset[str], dishes: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    if others := _formulas(content) ^ plain:
        yield f"formulas of a workbook that a text has made or taken away: {sorted(others)[:3]}"
    sheets: dict[str, dict[int, dict[str, str]]] = {}
    for sheet, cell in _cells(content):
        if isinstance(cell.value, str):
            sheets.setdefault(sheet.title, {}).setdefault(cell.row, {})[cell.column_letter] = cell.value
            if len(cell.value) > LONGEST_CELL:
                yield f"a cell of {len(cell.value)} characters"
    rows = sheets["Dishes"]
    letters = {header: letter for letter, header in rows[4].items()}
    found = {row.get(letters["Code"]): row for number, row in rows.items() if number > 4}
    for code, dish in dishes.items():
        for column, header in (("name", "Dish"), ("section", "Section"), ("pos_code", "POS code")):
            if (cell := found[code].get(letters[header], "")) not in (dish[column] or "", _escaped(dish[column] or "")):
                yield f"{column} of {code} in the workbook is {cell!r}, not {dish[column]!r}"


def _escaped(text: str) -> str:
    """The text as a reader has it that leaves what XML cannot hold as it is written: `_x0001_`."""
    return re.sub(r"[\0-\x08\x0b-\x1f\ufffe\uffff]", lambda found: f"_x{ord(found[0]):04X}_", text)


def _wrong_by_themselves(texts: Sequence[str]) -> Iterator[str]:
    """The writers alone, given what the application refuses too; all but what is no text in UTF-8."""
    texts = [text for text in texts if not any(unicodedata.category(each) == "Cs" for each in text)]
    for delimiter in ",;\t":
        form = csv_answers.Form(delimiter, "," if delimiter != "," else ".")
        content = csv_answers.csv_bytes((csv_answers.Column("text", free_text=True), csv_answers.Column("last")),
                                        [{"text": text, "last": "x"} for text in texts], form)
        rows = list(csv.reader(io.StringIO(content.decode(), newline=""), delimiter=delimiter, strict=True))[1:]
        if [row[1:] for row in rows] != [["x"]] * len(texts):
            yield f"by {delimiter!r} {len(texts)} texts are {len(rows)} rows"
            continue
        yield from (wrong for row, text in zip(rows, texts, strict=True) if (wrong := _wrong_text(row[0], text)))
    table = Table("Texts", "Texts", "", (Column("text", "Text", Shown.TEXT, Band.NAMES),))
    for text in texts:
        table.add({"text": Label(text)})
    none = Table("None", "None", "", ())
    cells = {cell.row: cell for _, cell in _cells(workbook_bytes(
        LiveWorkbook(1, date(2026, 3, 4), "GBP", 2, (table,), none, {})))}
    for row, text in enumerate(texts, 5):
        cell = cells.get(row)
        if (cell.value if cell else "") not in (text, _escaped(text)) or (cell and cell.data_type != "s"):
            yield f"{text!r} is {cell and cell.value!r} in a workbook"


PROGRAMME = Programme(
    "exports", "T19", "any text in any cell comes back as it was and computes nothing", "texts", 60, 20_000, exports,
    engines=("sqlite",), sabotages=("no_formula_guard", "texts_that_compute"))
