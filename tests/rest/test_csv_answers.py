"""CSV. Sources: RFC 4180 section 2; OWASP on CSV injection; RFC 8187 for the file's name. The judge is Python's csv."""

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.http import parse_options_header

from service.integrations.price_lists.cells import unprotected
from service.rest.csv_answers import Column, csv_bytes, disposition
from tests.rest.small_kitchen import Kitchen

COLUMNS = (Column("name", free_text=True), Column("cost"))
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))


def read_back(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode(), newline=""), strict=True))


@given(st.lists(st.tuples(TEXT, st.decimals(allow_nan=False, allow_infinity=False, places=4))))
def test_what_is_written_is_read_back_once_the_guard_is_off(rows: list[tuple[str, Decimal]]) -> None:
    content = csv_bytes(COLUMNS, [{"name": name, "cost": cost} for name, cost in rows])
    header, *cells = read_back(content)
    assert header == ["name", "cost"]
    assert len(cells) == len(rows)
    for (name, cost), (name_cell, cost_cell) in zip(rows, cells, strict=True):
        assert unprotected(name_cell) == name
        assert Decimal(cost_cell) == cost


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_text_that_a_spreadsheet_takes_for_a_formula_is_guarded(start: str) -> None:
    cells = read_back(csv_bytes(COLUMNS, [{"name": start + "1+1"}]))[1]
    assert cells[0] == "'" + start + "1+1"


def test_text_that_looks_guarded_already_is_guarded_again() -> None:
    for text in ("'=1+1", "''+1"):
        assert read_back(csv_bytes(COLUMNS, [{"name": text}]))[1][0] == "'" + text


def test_numbers_are_never_guarded() -> None:
    assert csv_bytes(COLUMNS, [{"name": "a", "cost": Decimal("-1.5000")}, {"name": "b", "cost": "-2.50"}]) == (
        b"name,cost\r\na,-1.5000\r\nb,-2.50\r\n")


def test_lines_end_in_crlf_and_the_unknown_is_empty() -> None:
    assert csv_bytes(COLUMNS, [{"name": 'a "b", c', "cost": None}, {}]) == (
        b'name,cost\r\n"a ""b"", c",\r\n,\r\n')


def test_the_file_s_name_is_given_in_both_forms() -> None:
    assert disposition('prix "€".csv') == (
        "attachment; filename=\"prix____.csv\"; filename*=UTF-8''prix%20%22%E2%82%AC%22.csv")
    assert parse_options_header(disposition("dish-costs.csv")) == ("attachment", {"filename": "dish-costs.csv"})
    assert disposition("€").isascii()


def test_a_cost_list_as_csv_says_that_it_has_a_header_and_what_the_file_is_called(kitchen: Kitchen) -> None:
    answer = kitchen.client.get("/v1/dish-costs", headers=kitchen.headers | {"Accept": "text/csv"})
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    assert f"dish-costs-{kitchen.ledger.today()}.csv" in answer.headers["Content-Disposition"]
    assert answer.text.startswith("dish,name,")
