"""The file itself, looked at by other readers than the program that wrote it: python-calamine, and the parts as XML.

Source:  ECMA-376, part 1: section 18.2.5 (definedName, and what a name may be), and in chapters 18 and 21 the elements
         pane, f, pageSetup and ser.
"""

import re
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
from lxml import etree
from python_calamine import CalamineWorkbook

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.kitchen import KitchenOnDay
from service.domain.live_table import FIRST_ROW, in_formula, letters_of
from service.domain.quantity import UNITS
from service.domain.workbook import LiveWorkbook, live_workbook
from service.domain.workbook_source import WorkbookSource
from service.integrations.workbook.writing import workbook_bytes
from service.use_cases.snapshot import Snapshot
from tests.builders import a_conversion, a_dish, a_kitchen, a_line, a_price, a_recipe, a_topside_kitchen, an_ingredient
from tests.integrations.workbook.live_program import LiveProgram
from tests.integrations.workbook.published_cells import address_of, rows_of

SHEETS = ["About", "Dishes", "Chart", "Dish lines", "Recipes", "Recipe lines", "Breakdowns", "Cuts", "Prices",
          "Conversions"]
INJECTIONS = ("=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("http://x.invalid")', "'quoted", "{=1}", "a & <b>", "http://x.invalid")


def of_kitchen(kitchen: KitchenOnDay, *dishes: str) -> LiveWorkbook:
    return live_workbook(WorkbookSource(kitchen, cascade(compile_network(kitchen)), dishes or None), 7)


def elements(file: bytes, part: str, tag: str) -> list[etree._Element]:
    """The elements of that name in one part of the file, of the part's own namespace."""
    with ZipFile(BytesIO(file)) as parts:
        root = etree.fromstring(parts.read(part))
    return list(root.iter(f"{{{root.nsmap[None]}}}{tag}"))


def sheet_part(number: int) -> str:
    return f"xl/worksheets/sheet{number}.xml"


def formulas(file: bytes) -> list[str]:
    """Every formula of every sheet, without what stands in it in quotes."""
    found = [each for number in range(1, len(SHEETS) + 1) for each in elements(file, sheet_part(number), "f")]
    return [re.sub(r'"[^"]*"', "", each.text or "") for each in found]


@pytest.fixture(scope="module")
def file(demo: Snapshot) -> bytes:
    """The demo's workbook."""
    return workbook_bytes(of_kitchen(demo.kitchen))


def test_sheets_are_named_for_what_they_hold_and_show_their_values(file: bytes, demo: Snapshot) -> None:
    book = CalamineWorkbook.from_filelike(BytesIO(file))
    assert book.sheet_names == SHEETS
    names = [row[0] for row in book.get_sheet_by_name("Dishes").to_python()[FIRST_ROW - 1:]]
    assert sorted(names) == sorted(dish.name for dish in demo.kitchen.dishes.values())


def test_headers_and_names_stay_in_sight(file: bytes) -> None:
    for number, name in enumerate(SHEETS, 1):
        pane, = elements(file, sheet_part(number), "pane")
        assert pane.get("ySplit") == str(FIRST_ROW - 1)
        assert pane.get("state") == "frozen"
        assert (pane.get("xSplit") is None) == (name in ("About", "Chart"))


def test_a_chart_shows_food_cost_against_target(file: bytes) -> None:
    with ZipFile(BytesIO(file)) as parts:
        chart = parts.read("xl/charts/chart1.xml").decode()
    assert len(re.findall("<c:ser>", chart)) == 3
    for words in ("Within target", "Above target", "Target"):
        assert f"<c:v>{words}</c:v>" in chart
    assert "'Chart'!$C$5:$C$" in chart.replace("Chart!", "'Chart'!")


def test_names_are_valid_lead_somewhere_and_are_never_a_cells_address(file: bytes, demo: Snapshot) -> None:
    names = {name.get("name"): name.text for name in elements(file, "xl/workbook.xml", "definedName")
             if not (name.get("name") or "").startswith("_xlnm.")}
    assert {"labour_rate", "default_tax", "default_target", "price_beef_topside",
            "cut_material_topside_cap"} <= names.keys()
    assert len({(name or "").casefold() for name in names}) == len(names)
    for name, place in names.items():
        assert re.fullmatch(r"[a-z][a-z0-9_]{1,254}", name or "")
        assert not re.fullmatch(r"(?i)[a-z]{1,3}\d+|r\d*c\d*|r|c", name or "")
        assert re.fullmatch(r"('[A-Za-z ]+'|[A-Za-z]+)!\$[A-Z]+\$\d+", place or "")
    used = {name for formula in formulas(file) for name in re.findall(r"\b[a-z]+_[a-z0-9_]+\b", formula)}
    assert len(used) > 100
    assert used <= names.keys(), "no formula names what is not there"


def test_formulas_use_functions_that_every_spreadsheet_has(file: bytes) -> None:
    """Those of 2007 and before: newer ones need a prefix in the file."""
    used = {function for formula in formulas(file) for function in re.findall(r"\b([A-Z]+)\(", formula)}
    assert not [formula for formula in formulas(file) if formula.startswith("=")]
    assert used == {"AND", "IF", "IFERROR", "INDEX", "ISNUMBER", "LARGE", "MATCH", "MAX", "NA", "ROUND", "ROUNDUP",
                    "ROW", "SUM"}


def test_the_same_makes_the_same_bytes_and_another_revision_others(demo: Snapshot, file: bytes) -> None:
    source = WorkbookSource(demo.kitchen, cascade(compile_network(demo.kitchen)))
    assert workbook_bytes(live_workbook(source, 7)) == file
    assert workbook_bytes(live_workbook(source, 8)) != file


def test_no_macros_no_links_to_elsewhere_and_prints_on_one_page_wide(file: bytes) -> None:
    with ZipFile(BytesIO(file)) as parts:
        assert not [name for name in parts.namelist() if "vba" in name or "externalLink" in name]
    for number in range(1, len(SHEETS) + 1):
        assert elements(file, sheet_part(number), "hyperlinks") == []
        setup, = elements(file, sheet_part(number), "pageSetup")
        assert (setup.get("orientation"), setup.get("fitToHeight")) == ("landscape", "0")


@pytest.mark.parametrize("text", INJECTIONS)
def test_what_people_typed_stays_text_whatever_it_begins_with(program: LiveProgram, text: str) -> None:
    kitchen = a_topside_kitchen(
        a_recipe("jus", a_line("ingredient beef-topside", note=text), name=text),
        a_dish("roast", a_line("cut topside-cap", note=text), a_line("recipe jus", unit="l"), name=text, section=text,
               pos_code=text, menu_price="22"))
    kitchen = replace(kitchen, ingredients={
        code: replace(each, name=text) for code, each in kitchen.ingredients.items()})
    cells = program.opened(workbook_bytes(of_kitchen(kitchen)))
    program.close()
    row = rows_of(cells, "Dishes")["roast"]
    assert (row["Dish"], row["Section"], row["POS code"]) == (text, text, text)
    assert rows_of(cells, "Prices")["beef-topside"]["Ingredient"] == text
    assert rows_of(cells, "Recipes")["jus"]["Recipe"] == text
    assert row["Status"] == "complete"


def test_an_unknown_is_never_zero_is_named_and_can_be_filled_in(program: LiveProgram) -> None:
    kitchen = a_topside_kitchen(
        an_ingredient("saffron"), a_recipe("rice", a_line("ingredient saffron", "2", "g"), labour_minutes="6"),
        a_dish("paella", a_line("recipe rice", unit="l"), a_line("cut topside-cap", "100", "g"), menu_price="20"))
    cells = program.opened(workbook_bytes(of_kitchen(kitchen)))
    row = rows_of(cells, "Dishes")["paella"]
    for header in ("Food cost, GBP", "Food cost %", "Gross profit, GBP", "Target menu price", "Within target"):
        assert row[header] == {"error": "#N/A"}, header
    assert row["Labour cost, GBP"] > 0
    assert row["Food cost at least"] > 0
    assert row["Status"] == "incomplete"
    assert "saffron has no price in force" in row["Missing when this copy was made"]
    priced = a_price("9000", ingredient="saffron")
    filled = program.changed([("Prices", address_of(cells, "Prices", "saffron", "Price, GBP"), 9000.0)])
    program.close()
    whole = replace(kitchen, prices={**kitchen.prices, "saffron": (priced,)})
    told = rows_of(program.opened(workbook_bytes(of_kitchen(whole))), "Dishes")["paella"]
    program.close()
    after = rows_of(filled, "Dishes")["paella"]
    assert after["Food cost, GBP"] > 18
    assert {header: after[header] for header in after if header != "Missing when this copy was made"} == {
        header: told[header] for header in told if header != "Missing when this copy was made"}


def test_chosen_dishes_bring_all_that_they_rest_on_and_nothing_else() -> None:
    kitchen = a_topside_kitchen(
        an_ingredient("shallot"), a_price("2", ingredient="shallot"),
        a_recipe("jus", a_line("ingredient shallot")), a_recipe("glaze", a_line("ingredient shallot")),
        a_dish("roast", a_line("cut topside-cap")), a_dish("soup", a_line("recipe jus", unit="l")))
    of_roast, of_soup = of_kitchen(kitchen, "roast"), of_kitchen(kitchen, "soup")
    sizes = [{table.name: len(table.rows) for table in book.tables} for book in (of_roast, of_soup)]
    assert [(size["Dishes"], size["Recipes"], size["Breakdowns"], size["Cuts"], size["Prices"]) for size in sizes] == [
        (1, 0, 1, 5, 1), (1, 1, 0, 0, 1)]
    assert workbook_bytes(of_roast)[:2] == b"PK"


def test_an_empty_kitchen_is_a_workbook_too(program: LiveProgram) -> None:
    cells = program.opened(workbook_bytes(of_kitchen(a_kitchen())))
    program.close()
    assert list(cells) == SHEETS
    assert not rows_of(cells, "Dishes")


def test_a_unit_of_another_kind_goes_by_its_own_conversion_which_can_be_changed(program: LiveProgram) -> None:
    egg = an_ingredient("egg", conversions=(a_conversion("each", "0.055", "kg"),))
    kitchen = a_kitchen(egg, a_price("5.5", ingredient="egg"), a_dish(
        "omelette", a_line("ingredient egg", "3", "each")))
    cells = program.opened(workbook_bytes(of_kitchen(kitchen)))
    assert rows_of(cells, "Dishes")["omelette"]["Food cost, GBP"] == pytest.approx(3 * 0.055 * 5.5, abs=5e-5)
    heavier = program.changed([("Conversions", address_of(cells, "Conversions", "egg", "is so much"), 0.06)])
    program.close()
    assert rows_of(heavier, "Dishes")["omelette"]["Food cost, GBP"] == pytest.approx(3 * 0.06 * 5.5, abs=5e-5)


def test_columns_have_letters_as_spreadsheets_count_them() -> None:
    assert [letters_of(place) for place in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


def test_every_units_factor_is_exact_in_a_formula() -> None:
    for unit in UNITS.values():
        written = in_formula(unit.factor)
        above, _, below = written.strip("()").partition("/")
        assert Decimal(above) == Decimal(below or 1) * unit.factor.numerator / Decimal(unit.factor.denominator) or (
            int(above), int(below)) == (unit.factor.numerator, unit.factor.denominator)
        assert max(len(number.replace(".", "").strip("0")) for number in (above, below)) <= 15
