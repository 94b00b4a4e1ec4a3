"""Canonical JSON: one text for one value.

Sources of the judges: json of the standard library; RFC 8785, sections 3.2.2 (its example's text and literals), 3.2.2
(escapes) and 3.2.3 (its example of keys). Where we differ from it is said: its numbers are floats, which are refused
here, and it sorts keys by UTF-16 where we do by code point.
"""

import json
import time
from collections import OrderedDict
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from itertools import zip_longest
from types import MappingProxyType
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.breakdown import Role
from service.use_cases.canonical import canonical_json, canonical_texts


@dataclass(frozen=True)
class Weighed:
    cut: str
    weight: Decimal


@pytest.mark.parametrize(("value", "text"), [
    ({"b": 1, "a": None, "é": True}, '{"a":null,"b":1,"é":true}'),
    (Decimal("14.20"), '"14.2"'), (Decimal("1E+2"), '"100"'), (Decimal("-0.00"), '"0"'),
    (Decimal("0.000001"), '"0.000001"'),
    (date(2026, 3, 2), '"2026-03-02"'),
    (datetime(2026, 3, 2, 12, tzinfo=timezone(timedelta(hours=2))), '"2026-03-02T10:00:00.000000Z"'),
    (("a", ["b"]), '["a",["b"]]'),
    (Weighed("cap", Decimal("0.50")), '{"cut":"cap","weight":"0.5"}'),
    ("line\nend\u0000", '"line\\nend\\u0000"'),
])
def test_the_text_of_a_value(value, text):
    assert canonical_json(value) == text


def test_text_and_literals_are_those_of_rfc_8785():
    value = json.loads(r'''{
        "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
        "literals": [null, true, false]}''')
    assert canonical_json(value) == r'''{"literals":[null,true,false],"string":"€$\u000f\nA'B\"\\\\\"/"}'''


def test_only_what_json_demands_is_escaped_and_as_rfc_8785_says():
    """Section 3.2.2: the five short forms, the other controls in small hexadecimal, and nothing else."""
    short = {8: r"\b", 9: r"\t", 10: r"\n", 12: r"\f", 13: r"\r"}
    controls = "".join(short.get(code, f"\\u{code:04x}") for code in range(32))
    assert canonical_json("".join(map(chr, range(32)))) == f'"{controls}"'
    plain = "/\x7f\x80\u2028\u2029\ufeff\U0001f600 <&>"
    assert canonical_json(plain) == f'"{plain}"'


def test_keys_stand_in_the_order_of_rfc_8785_but_for_what_utf_16_puts_elsewhere():
    """By code point the last two of its example change places: U+1F600 is above U+FB33, and its surrogates below."""
    theirs = ["\r", "1", "\x80", "\xf6", "\u20ac", "\U0001f600", "\ufb33"]
    assert sorted(theirs, key=lambda key: key.encode("utf-16-be")) == theirs
    assert list(json.loads(canonical_json(dict.fromkeys(theirs[::-1])))) == [*theirs[:5], "\ufb33", "\U0001f600"]
    assert list(json.loads(canonical_texts([dict.fromkeys(theirs[::-1])] * 2)[1])) == [
        *theirs[:5], "\ufb33", "\U0001f600"]


def test_a_percent_sign_in_a_key_or_a_value_is_a_letter_like_any_other():
    rows = [{"%s": 1, "a%": "%d", "%%": "50 %", "n": number} for number in range(3)]
    assert canonical_texts(rows) == [json.dumps(row, sort_keys=True, separators=(",", ":")) for row in rows]


def test_a_moment_is_written_in_utc_wherever_the_machine_stands(monkeypatch):
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    time.tzset()
    try:
        assert canonical_json(datetime(2026, 3, 2, 10, tzinfo=UTC)) == '"2026-03-02T10:00:00.000000Z"'
    finally:
        monkeypatch.undo()
        time.tzset()


class Text(str):
    __slots__ = ()


class Whole(int):
    pass


class Row(NamedTuple):
    cut: str
    kilograms: int


@pytest.mark.parametrize(("value", "text"), [
    (Role.BY_PRODUCT, '"by_product"'), (Text("a"), '"a"'), (Whole(7), "7"), (-0, "0"),
    (10**30, "1" + "0" * 30), (Row("cap", 2), '["cap",2]'), (MappingProxyType({"b": 1, "a": 2}), '{"a":2,"b":1}'),
    (OrderedDict(b=1, a=Text("x")), '{"a":"x","b":1}'), ({Text("k"): None}, '{"k":null}'), ({}, "{}"), ([], "[]"),
    (Decimal("100"), '"100"'), (Decimal("0E+3"), '"0"'), (Decimal("-1.50"), '"-1.5"'), (Decimal("1000.0"), '"1000"'),
    (datetime(2026, 3, 2, 10, 0, 0, 7, UTC), '"2026-03-02T10:00:00.000007Z"'),
    (datetime(2026, 3, 2, 23, tzinfo=timezone(timedelta(hours=-2))), '"2026-03-03T01:00:00.000000Z"')])
def test_what_is_like_a_plain_value_is_written_like_it(value, text):
    assert canonical_json(value) == text
    assert canonical_texts([{"a": value}, {"a": value}]) == [f'{{"a":{text}}}'] * 2


@pytest.mark.parametrize(("value", "words"), [
    (1.5, "float has no canonical form."), (Weighed, "type has no canonical form."), ({1: 2}, "not int."),
    ({None: 2}, "not NoneType.")])
def test_what_has_none_is_named_by_its_type(value, words):
    with pytest.raises(TypeError, match=words):
        canonical_json(value)
    with pytest.raises(TypeError, match=words):
        canonical_texts([{"a": value}])


def test_what_is_no_value_is_said():
    with pytest.raises(ValueError, match=r"^NaN is not a finite number\.$"):
        canonical_json(Decimal("NaN"))
    with pytest.raises(ValueError, match=r"^A moment needs its time zone\.$"):
        canonical_json(datetime(2026, 3, 2))  # noqa: DTZ001


@pytest.mark.parametrize("value", [1.5, {1: 2}, {"a": {3}}, object(), b"x"])
def test_what_has_no_canonical_form_is_refused(value):
    with pytest.raises(TypeError):
        canonical_json(value)


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity"), "\ud800", datetime(2026, 3, 2)])  # noqa: DTZ001
def test_what_is_no_value_is_refused(value):
    with pytest.raises(ValueError):
        canonical_json(value)


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner),
    max_leaves=10)


@given(PLAIN)
def test_of_plain_values_it_is_the_text_of_the_standard_encoder(value):
    """The definition that hashes rest on: keys sorted, no blanks, no escapes but those that JSON demands."""
    assert canonical_json(value) == json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


AMOUNTS = st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=6)
VALUES = st.one_of(PLAIN, AMOUNTS, st.dates(), st.datetimes(timezones=st.timezones()), st.sampled_from(Role),
                   st.sampled_from([1, True, 0, False, "", "%s", "%%", ()]))
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=3)


@st.composite
def mappings_alike(draw):
    """Mappings with the same keys, where some values are the same in all."""
    names = draw(st.lists(TEXTS, unique=True, max_size=4))
    common = {name: draw(VALUES) for name in names}
    return [{name: draw(VALUES) if draw(st.booleans()) else common[name] for name in names}
            for _ in range(draw(st.integers(0, 4)))]


@given(st.lists(mappings_alike(), max_size=2).map(lambda groups: [one for pair in zip_longest(*groups) for one in pair
                                                                   if one is not None]))
def test_many_are_written_as_each_by_itself(values):
    assert canonical_texts(values) == [canonical_json(value) for value in values]


@pytest.mark.parametrize(("value", "fault"), [
    ({"a": 1.5}, TypeError), ({1: 2}, TypeError), ({"a": object()}, TypeError), ({"a": "\ud800"}, ValueError),
    ({"\ud800": 1}, ValueError), ({"a": Decimal("NaN")}, ValueError)])
@pytest.mark.parametrize("beside", [{"a": "x"}, {1: 2}, None])
def test_among_many_what_has_no_canonical_form_is_refused(value, fault, beside):
    with pytest.raises((TypeError, ValueError)):
        canonical_texts([one for one in (beside, value, value) if one is not None])
    with pytest.raises(fault):
        canonical_texts([value, value])


@given(PLAIN)
def test_it_says_the_same_and_has_no_raw_line_end(value):
    text = canonical_json(value)
    assert json.loads(text) == value
    assert "\n" not in text
    assert canonical_json(json.loads(text)) == text


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=6))
def test_equal_decimals_have_one_text(value):
    assert canonical_json(value) == canonical_json(value.normalize() if value else Decimal(0))
    assert Decimal(json.loads(canonical_json(value))) == value


def test_one_and_true_are_equal_to_python_and_have_two_texts():
    """JSON has a literal for each (RFC 8259, section 3)."""
    assert canonical_texts([{"a": 1}, {"a": True}]) == ['{"a":1}', '{"a":true}']
