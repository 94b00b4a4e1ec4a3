"""Lists in the query. Sources: RFC 4180 section 2 for the quotes; OpenAPI 3.1 on parameter styles. The writer of the
lists is Python's csv, which shares no code with what is tested but the reader's own module."""

import csv
import io

import marshmallow as ma
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.rest.comma_lists import MOST, CommaList, MemberName
from service.rest.fields.texts import Code, Text

WORDS = st.text(st.characters(categories=["Lu", "Ll", "Nd", "Po", "Sm"]), min_size=1, max_size=12).filter(
    lambda word: word == word.strip())


def written(words: list[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(words)
    return out.getvalue()


@given(st.lists(WORDS.map(lambda word: Text().read(word)), min_size=1, max_size=20))
def test_entries_come_through_whatever_they_hold_and_once_each(words: list[str]) -> None:
    assert CommaList(Text()).read(written(words)) == tuple(dict.fromkeys(words))


def test_plain_codes_need_no_quotes() -> None:
    assert CommaList(Code()).read("grilled-cap,beef-pie,grilled-cap") == ("grilled-cap", "beef-pie")


@pytest.mark.parametrize(("given", "codes"), [
    ("", ["too-many"]), ("a,,b", ["not-a-code"]), ("a,", ["not-a-code"]), ("A,b,C_d", ["not-a-code", "not-a-code"]),
    ('"a', ["not-a-list"]), ('"a"b,c', ["not-a-list"]), ("a\nb", ["not-a-list"]), (["a"], ["not-a-list"]),
    (",".join(f"a{n}" for n in range(MOST + 1)), ["too-many"])])
def test_a_list_that_is_none_is_refused_and_every_wrong_entry_told(given: object, codes: list[str]) -> None:
    with pytest.raises(ma.ValidationError) as refused:
        CommaList(Code()).read(given)
    assert [sentence.code for sentence in refused.value.messages] == codes


def test_as_many_as_allowed_are_taken() -> None:
    given = [f"a{n}" for n in range(MOST)]
    assert CommaList(Code()).read(",".join(given)) == tuple(given)


def test_a_field_that_is_not_there_is_told_with_those_that_are() -> None:
    with pytest.raises(ma.ValidationError, match=r"'cost'.*food_cost, name"):
        CommaList(MemberName(["name", "food_cost"])).read("name,cost")
