"""Tables of sales: read whole or refused with the line and column of every fault. Judge: the csv module (RFC 4180)."""

import csv
import io
from contextlib import suppress
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.errors import FileTooLarge, Refused, UnreadableFile
from service.domain.sales import SaleKind, SalesLine
from service.integrations.sales.sales_csv import COLUMNS, read_sales_csv
from service.use_cases.sales_files import MOST_LINES, HowSalesAreWritten
from tests.sold import a_comp, a_sale, a_staff_meal, sales_lines

MONDAY = date(2026, 3, 2)
HEAD = "business_date,pos_code,quantity,net_takings,kind\n"
NO_DATE = HowSalesAreWritten(MONDAY)


def read(text: str | bytes, how: HowSalesAreWritten = HowSalesAreWritten()) -> dict[date, list[SalesLine]]:  # noqa: B008
    content = text if isinstance(text, bytes) else text.encode()
    return {day.business_date: list(day.lines) for day in read_sales_csv(content, how)}


def faults(text: str, how: HowSalesAreWritten = HowSalesAreWritten()) -> list[tuple[int, str]]:  # noqa: B008
    """Where it is wrong; each fault also says the mend, with its line."""
    with pytest.raises(Refused) as refused:
        read(text, how)
    assert all(each.detail.startswith(f"Line {each.more['line']}") for each in refused.value.faults)
    return [(each.more["line"], each.more["column"]) for each in refused.value.faults]


def test_a_table_is_read_by_date_in_the_order_it_comes() -> None:
    text = HEAD + "2026-03-03,1042,12.5,229.16,sale\n2026-03-02,7,1,,comp\n2026-03-03,007,-1,0,staff_meal\n"
    assert read(text) == {MONDAY + timedelta(days=1): [a_sale("1042", "12.5", "229.16"), a_staff_meal("007", "-1")],
                          MONDAY: [a_comp("7")]}


@pytest.mark.parametrize("text", [
    "pos_code,quantity,net_takings\n1042,2,36.66\n", "net_takings,pos_code,kind,quantity\n36.66,1042,,2\n",
    "\ufeffPOS_CODE;Quantity;Net_Takings\r\n1042;2;36,66\r\n",
    '"pos_code"\t"quantity"\t"net_takings"\n1042\t2\t36.66\n',
    "pos_code,quantity,net_takings\n\n ,,\n1042, 2 ,36.66\n\n", "pos_code,quantity,net_takings\n1042,2,36.66"])
def test_columns_stand_in_any_order_and_delimiters_tell_themselves(text: str) -> None:
    assert read(text, NO_DATE) == {MONDAY: [a_sale("1042", "2", "36.66")]}


def test_other_encodings_of_spreadsheets_are_read() -> None:
    text = HEAD + "2026-03-02,Grüner Tee,2,7.00,sale\n"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        assert read(text.encode(encoding)) == {MONDAY: [a_sale("Grüner Tee", "2", "7.00")]}


@settings(max_examples=200)
@given(st.lists(sales_lines(["1042", "7", "a,b", 'say "1"', "=1+1", "'=1+1", "-5", "Ä;x"]), min_size=1, max_size=20),
       st.sampled_from([(",", "."), (";", ","), ("\t", "."), (",", ","), (";", ".")]),
       st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]))
def test_what_the_csv_module_writes_is_read_as_it_was(
    lines: list[SalesLine], how: tuple[str, str], quoting: Any
) -> None:
    delimiter, mark = how
    written = io.StringIO(newline="")
    writer = csv.writer(written, delimiter=delimiter, quoting=quoting)
    writer.writerow(COLUMNS)
    for line in lines:
        code = "'" + line.pos_code if line.pos_code.lstrip("'")[:1] in "=-" else line.pos_code
        writer.writerow((MONDAY, code, *(f"{number:f}".replace(".", mark) for number in line[1:3]), line.kind))
    found = read(written.getvalue(), HowSalesAreWritten(decimal_mark=mark))
    assert found == {MONDAY: lines}


@pytest.mark.parametrize(("row", "column"), [
    ("2026-3-2,1042,1,1,sale", "business_date"), ("02.03.2026,1042,1,1,sale", "business_date"),
    ("2026-02-30,1042,1,1,sale", "business_date"), (",1042,1,1,sale", "business_date"),
    ("1899-12-31,1042,1,1,sale", "business_date"), ("２０２６-03-02,1042,1,1,sale", "business_date"),
    ("2026-03-02,,1,1,sale", "pos_code"), (f"2026-03-02,{'9' * 65},1,1,sale", "pos_code"),
    ("2026-03-02,10\u202e42,1,1,sale", "pos_code"), ("2026-03-02,1042,,1,sale", "quantity"),
    ("2026-03-02,1042,1e3,1,sale", "quantity"), ("2026-03-02,1042,١,1,sale", "quantity"),
    ("2026-03-02,1042,NaN,1,sale", "quantity"), ("2026-03-02,1042,+1,1,sale", "quantity"),
    ("2026-03-02,1042,1_000,1,sale", "quantity"), ("2026-03-02,1042,1 000,1,sale", "quantity"),
    ("2026-03-02,1042,1.0000001,1,sale", "quantity"), ("2026-03-02,1042,1234567890123,1,sale", "quantity"),
    ('2026-03-02,1042,1,"18,33",sale', "net_takings"), ("2026-03-02,1042,1,£18.33,sale", "net_takings"),
    ("2026-03-02,1042,1,(18.33),sale", "net_takings"), ("2026-03-02,1042,1,,sale", "net_takings"),
    ("2026-03-02,1042,1,5,comp", "net_takings"), ("2026-03-02,1042,1,0.01,staff_meal", "net_takings"),
    ("2026-03-02,1042,1,1,void", "kind"), ("2026-03-02,1042,1,1", ""), ("2026-03-02,1042,1,18,33,sale", "")])
def test_every_fault_names_its_line_and_column_and_no_row_is_left_out(row: str, column: str) -> None:
    good = "2026-03-02,1042,1,18.33,sale\n"
    assert faults(HEAD + good + row + "\n" + good + row + "\n") == [(3, column), (5, column)]


def test_a_number_that_reads_with_the_other_mark_says_so() -> None:
    with pytest.raises(Refused, match="decimal=point"):
        read("pos_code;quantity;net_takings\n1042;1;18.33\n", NO_DATE)
    with pytest.raises(Refused, match="decimal=comma"):
        read('pos_code,quantity,net_takings\n1042,1,"18,33"\n', NO_DATE)


@pytest.mark.parametrize(("header", "column"), [
    ("business_date,pos_code,net_takings", "quantity"), ("pos_code,quantity", "business_date"),
    ("business_date,pos_code,quantity,sum", "sum"), ("business_date,pos_code,quantity,quantity", "quantity"),
    ("business_date,pos_code,quantity,", "")])
def test_a_header_that_is_not_known_is_refused_by_name(header: str, column: str) -> None:
    assert (1, column) in faults(header + "\n2026-03-02,1042,1,2\n")


def test_a_row_of_another_date_than_the_request_s_is_refused() -> None:
    assert faults(HEAD + "2026-03-02,1042,1,1,sale\n2026-03-03,1042,1,1,sale\n", NO_DATE) == [(3, "business_date")]


def test_faults_are_told_up_to_twenty() -> None:
    assert len(faults(HEAD + "2026-03-02,1042,x,1,sale\n" * 50)) == 20


@pytest.mark.parametrize(("content", "why"), [
    (b"", "empty"), (b"\n \n,,\n", "empty"), (HEAD.encode(), "no-rows"), (b"pos_code,quantity\n\x00\x01", "binary"),
    (HEAD.encode() + b'2026-03-02,"1042,1,1,sale\n', "quotes"), (b"\xff\xfe\x00\xd8" + b"\n\x00", "encoding")])
def test_what_is_no_table_is_refused_by_what_it_is(content: bytes, why: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read(content)
    assert refused.value.more["why"] == why


def test_tables_are_bounded_in_rows_and_cells() -> None:
    row = "2026-03-02,1042,1,1,sale\n"
    assert len(read(HEAD + row * MOST_LINES)[MONDAY]) == MOST_LINES
    with pytest.raises(FileTooLarge):
        read(HEAD + row * (MOST_LINES + 1))
    with pytest.raises(FileTooLarge):
        read(HEAD + "2026-03-02," + "9" * 5_000 + ",1,1,sale\n")


@settings(max_examples=300)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: (HEAD + text).encode()))
def test_whatever_a_file_holds_it_is_read_or_refused(content: bytes) -> None:
    found: dict[date, list[SalesLine]] = {MONDAY: []}
    with suppress(Refused, UnreadableFile, FileTooLarge):
        found = read(content)
    assert found
    assert all(isinstance(line.quantity, Decimal) and line.kind in SaleKind for day in found.values() for line in day)
