"""Canonical JSON: one text for one value.

Source of the judge: json.loads of the standard library.
"""

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from decimal import Decimal
from itertools import zip_longest

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
