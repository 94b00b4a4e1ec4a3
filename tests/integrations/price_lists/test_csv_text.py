"""CSV files: encodings, delimiters, quotes.

Source: RFC 4180, section 2, rules 1 to 7, with its own examples turned into lists of prices; the Encoding Standard,
    index
windows-1252, for the bytes that have no character there.
"""

import codecs
import csv
from decimal import Decimal
from io import StringIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.domain.errors import ColumnsNotRecognised, FileTooLarge, UnreadableFile
from service.domain.price_list import FileFormat, PriceList
from service.integrations.delimited.text_encoding import encoding_of
from service.integrations.price_lists.csv_text import DELIMITERS
from service.integrations.price_lists.reading import read_price_file
from tests.integrations.price_lists.tables import NOBODY_SAYS, a_list, a_table

TEXT = "Art.-Nr.;Bezeichnung;Preis (EUR)\r\n10-1;Rinderhüfte;14,20\r\n10-2;Kräuter à 5 g;0,80\r\n"
ENCODINGS = {
    "utf-8": (TEXT.encode(), "utf-8"), "utf-8 with mark": (TEXT.encode("utf-8-sig"), "utf-8"),
    "utf-16 little, with mark": (codecs.BOM_UTF16_LE + TEXT.encode("utf-16-le"), "utf-16-le"),
    "utf-16 big, with mark": (codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"), "utf-16-be"),
    "utf-16 little, bare": (TEXT.encode("utf-16-le"), "utf-16-le"),
    "utf-16 big, bare": (TEXT.encode("utf-16-be"), "utf-16-be"),
    "windows-1252": (TEXT.encode("cp1252"), "windows-1252"), "ascii": (TEXT.encode("ascii", "ignore"), "utf-8"),
}


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_an_encoding_is_told_by_what_the_file_holds(encoding: str) -> None:
    content, name = ENCODINGS[encoding]
    found = read_price_file(content, NOBODY_SAYS)
    assert found.layout is not None
    assert (found.format, found.layout.encoding, found.layout.delimiter) == (FileFormat.CSV, name, ";")
    assert [row.amount for row in found.rows] == [Decimal("14.20"), Decimal("0.80")]
    assert encoding == "ascii" or [row.name for row in found.rows] == ["Rinderhüfte", "Kräuter à 5 g"]


def test_the_euro_sign_of_windows_1252_is_read() -> None:
    assert a_list("Code;Price\n1-1;€ 4,50\n", "cp1252").rows[0].currency == "EUR"


@pytest.mark.parametrize("byte", [0x81, 0x8D, 0x8F, 0x90, 0x9D])
def test_a_byte_without_a_character_is_refused_with_its_line(byte: int) -> None:
    with pytest.raises(UnreadableFile, match="Line 2 is not text in UTF-8, UTF-16 or Windows-1252") as refused:
        encoding_of(b"Code;Price\n1-1;\xe4" + bytes([byte]) + b";4,50\n")
    assert (refused.value.more["why"], refused.value.more["line"]) == ("encoding", 2)


def test_utf_8_that_is_broken_in_one_place_is_not_taken_for_another_encoding() -> None:
    lines = [b"Code;Name;Price", *("1-1;Rinderhüfte;4,50".encode() for _ in range(9)), b"1-2;H\xfcfte;4,50"]
    with pytest.raises(UnreadableFile, match="Line 11 "):
        read_price_file(b"\n".join(lines), NOBODY_SAYS)


@pytest.mark.parametrize("content", [
    codecs.BOM_UTF8 + b"Code;Price\n1-1;\xff", codecs.BOM_UTF16_LE + b"C\0o\0d", codecs.BOM_UTF16_LE + b"C\0\0\xd8C\0"])
def test_a_mark_that_does_not_hold_is_refused(content: bytes) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read_price_file(content, NOBODY_SAYS)
    assert refused.value.more["why"] == "encoding"


@pytest.mark.parametrize("delimiter", DELIMITERS)
@pytest.mark.parametrize("mark", [".", ","])
def test_a_delimiter_is_told_once_for_the_file(delimiter: str, mark: str) -> None:
    text = StringIO()
    writer = csv.writer(text, delimiter=delimiter)
    writer.writerows([["Our prices, net; of today"], ["Code", "Description; details", "Price"],
                      *([f"1-{place}", "Beef, diced; lean | fresh", f"4{mark}5{place}"] for place in range(9))])
    found = a_list(text.getvalue().replace("Description; details", "Description"))
    assert found.layout is not None
    assert (found.layout.delimiter, found.layout.decimal_mark) == (delimiter, mark)
    assert [row.amount for row in found.rows] == [Decimal(f"4.5{place}") for place in range(9)]


@pytest.mark.parametrize("delimiter", DELIMITERS)
def test_a_spreadsheet_s_own_hint_is_taken(delimiter: str) -> None:
    found = a_list(f"sep={delimiter}\r\nCode{delimiter}Price\r\n1-1{delimiter}4.50\r\n")
    assert found.layout is not None
    assert (found.layout.delimiter, found.layout.header_line, found.rows[0].place) == (delimiter, 2, "line 3")


def names(text: str) -> list[str]:
    return [row.name for row in a_list(text).rows]


def test_rule_1_and_2_rows_end_with_a_line_break_the_last_one_perhaps_not() -> None:
    assert names("name,code,price\r\naaa,bbb,1\r\nzzz,yyy,2\r\n") == ["aaa", "zzz"]
    assert names("name,code,price\r\naaa,bbb,1\r\nzzz,yyy,2") == ["aaa", "zzz"]
    assert names("name,code,price\naaa,bbb,1\nzzz,yyy,2\n") == ["aaa", "zzz"]
    assert names("name,code,price\raaa,bbb,1\rzzz,yyy,2\r") == ["aaa", "zzz"]


def test_rule_4_each_row_has_as_many_cells_and_a_ragged_one_is_a_fault_of_its_own() -> None:
    one, two, three, four = a_list("code,price,unit\r\n1-1,1,kg\r\n1-2,2\r\n1-3,3,50,kg\r\n1-4,4,kg\r\n").rows
    assert (one.amount, four.amount, one.faults, four.faults) == (1, 4, (), ())
    for row, cells in ((two, 2), (three, 4)):
        assert (row.amount, row.other_amount, len(row.faults)) == (None, None, 1)
        assert f"It has {cells} cells, the header 3" in row.faults[0].detail


def test_rule_4_blanks_inside_belong_to_the_cell() -> None:
    assert names("code,name,price\r\n1-1,a  b,1\r\n") == ["a  b"]


def test_rule_5_and_6_line_breaks_quotes_and_delimiters_stand_in_quotes() -> None:
    assert names('"code","name","price"\r\n"1-1","aaa","1"\r\n') == ["aaa"]
    assert names('code,name,price\r\n1-1,"b\r\nbb",1\r\n1-2,"c,cc",2\r\n') == ["b bb", "c,cc"]
    found = a_list('code,name,price\r\n1-1,"b\r\nbb",1\r\n1-2,ccc,2\r\n')
    assert [row.place for row in found.rows] == ["line 2", "line 4"]


def test_rule_7_a_quote_in_quotes_is_written_twice() -> None:
    assert names('code,name,price\r\n1-1,"b""bb",1\r\n') == ['b"bb']
    assert names('code,name,price\r\n1-1,Rib 12" cut,1\r\n') == ['Rib 12" cut']


@pytest.mark.parametrize(("row", "line"),
    [('1-2,"aaa,2\r\n', 3), ('1-2,"aaa"b,2\r\n', 3), ('1-2,"a\r\na"a,2\r\n1-3,b,3\r\n', 3)])
def test_quotes_that_do_not_match_are_refused_with_their_line(row: str, line: int) -> None:
    with pytest.raises(UnreadableFile, match=f"begins on line {line}") as refused:
        a_list("code,name,price\r\n1-1,aaa,1\r\n" + row)
    assert (refused.value.more["why"], refused.value.more["line"]) == ("quotes", line)


def test_a_quote_that_swallows_the_list_is_refused() -> None:
    rows = "".join(f"1-{place},aaa,{place}.50\r\n" for place in range(2000))
    with pytest.raises(UnreadableFile, match="line 2 "):
        a_list('code,name,price\r\n1-0,"aaa,1\r\n' + rows)
    with pytest.raises(FileTooLarge, match=r"line 2 .* a quote is not closed"):
        a_list('code,name,price\r\n1-0,"aaa,1\r\n' + rows + '1-9,aaa",1\r\n')


@pytest.mark.parametrize("control", ["\x00", "\x01", "\x08", "\x1b"])
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "utf-16"])
def test_control_characters_are_no_text(control: str, encoding: str) -> None:
    with pytest.raises(UnreadableFile) as refused:
        a_list(f"Code;Name;Price\n1-1;Rinderhüf{control}te;4,50\n", encoding)
    assert refused.value.more["why"] == "binary"


def test_limits_are_named() -> None:
    with pytest.raises(FileTooLarge, match="up to 256") as refused:
        a_list(";".join(["Code", "Price", *["x"] * 255]) + "\n")
    assert refused.value.more == {"limit": 256, "counted": "columns"}
    with pytest.raises(FileTooLarge, match="line 3 has more than 4,096 characters"):
        a_table("Code;Name;Price", "1-1;a;1", f"1-1;{'a' * 4097};1")
    with pytest.raises(FileTooLarge, match="100,000 rows") as refused:
        a_table("Code;Price", *["1-1;1"] * 100_001)
    assert refused.value.more == {"limit": 100_000, "counted": "rows"}
    assert a_table("Code;Name;Price", f"1-1;{'a' * 4096};1").rows[0].faults == ()
    with pytest.raises(FileTooLarge, match="1,048,576 characters"):
        a_list("Code;Price\n" + "a" * 1_048_577)
    with pytest.raises(FileTooLarge, match="20,000,000") as refused:
        read_price_file(b"x" * 20_000_001, NOBODY_SAYS)
    assert refused.value.more["limit"] == 20_000_000


def test_as_many_rows_as_are_promised_are_read() -> None:
    found = a_table("Code;Price", *[f"{place}-1;1,50" for place in range(100_000)])
    assert len(found.rows) == 100_000
    assert (found.rows[-1].number, found.rows[-1].item) == (100_000, "99999-1")


def said_of(content: bytes) -> PriceList | str:
    """What a file says, or the sentence of the fault that it is refused with; anything else is raised on."""
    try:
        return read_price_file(content, NOBODY_SAYS)
    except (UnreadableFile, FileTooLarge, ColumnsNotRecognised) as fault:
        return fault.detail


PIECES = st.sampled_from([
    b"Code;Price\n", b"Item,Name,Price,Unit\r\n", b'"', b'""', b",", b";", b"\t", b"\n", b"\r", b"1-1", b"14,20",
        b"1.234", b"-5",
    b"kg", b"2 x 5 kg", b"\xff\xfe", b"\xef\xbb\xbf", "é".encode(), b"\xe9", b"\0", b"=cmd|' /c'!A1", b"sep=;\n",
        b"PK\x03\x04",
    b"<", b"%PDF-", b"\x80", b"01/02/2026", b"Valid from", b"Currency", b"'", b"EUR", b" ", b"\xa0", b"\xc2\xa0",
        b"9" * 30])


def check_that_nothing_else_came(content: bytes) -> None:
    found = said_of(content)
    if isinstance(found, str):
        assert found.endswith(".")
    else:
        assert found.rows
        assert all((row.amount is None) <= bool(row.faults) for row in found.rows)


@settings(deadline=None)
@given(st.binary(max_size=400))
def test_no_bytes_bring_anything_but_a_list_or_one_of_three_faults(content: bytes) -> None:
    check_that_nothing_else_came(content)


@settings(deadline=None)
@given(st.lists(PIECES, max_size=40).map(b"".join))
def test_no_pieces_of_lists_bring_anything_else_either(content: bytes) -> None:
    check_that_nothing_else_came(content)
