"""Fields read exactly one form. Sources: RFC 8259 section 6, RFC 3339 section 5.6, UAX 15; the forms that the stock
fields take are those measured on marshmallow 4.4.0."""

from datetime import date
from decimal import Decimal
from typing import Any

import marshmallow as ma
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.rest.fields.choices import Choice, Flag
from service.rest.fields.groups import Several
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Name, Text
from service.rest.fields.times import Day, Moment
from service.rest.json_numbers import NumberText
from service.rest.openapi_layer.schemas import Query
from tests.rest.trays import Shape


def loaded(field: ma.fields.Field[Any], value: Any) -> Any:
    return field.deserialize(value)


def refused(field: ma.fields.Field[Any], value: Any) -> str:
    """The code with which a field refuses a value."""
    with pytest.raises(ma.ValidationError) as fault:
        field.deserialize(value)
    return fault.value.messages[0].code


@given(st.decimals(-999_999_999_999, 999_999_999_999, allow_nan=False, allow_infinity=False, places=6))
def test_every_decimal_of_twelve_and_six_digits_is_read_and_written_exactly(value: Decimal) -> None:
    text = format(value, "f")
    assert loaded(ExactDecimal(), text) == loaded(ExactDecimal(), NumberText(text)) == value
    assert Decimal(ExactDecimal()._serialize(value, None, None)) == value


@pytest.mark.parametrize("text", [
    "1E400", "1e2", "1E9999999", "NaN", "sNaN", "Infinity", "-Infinity", "1_000", " 1", "1 ", "1\n", "+1", ".5", "5.",
    "1,5", "0x10", "٣", "１", "", "-", "1234567890123", "0.1234567", "9" * 10_000, "1.2.3"])
def test_what_only_looks_like_a_decimal_is_refused(text: str) -> None:
    assert refused(ExactDecimal(), text) == "not-a-decimal"
    assert refused(ExactDecimal(), NumberText(text)) == "not-a-decimal"


@pytest.mark.parametrize("value", [True, False, 1, 1.5, [], {}, b"1"])
def test_only_text_and_json_numbers_are_decimals(value: Any) -> None:
    assert refused(ExactDecimal(), value) == "not-a-decimal"


def test_bounds_of_a_decimal_are_held() -> None:
    assert refused(ExactDecimal(positive=True), "0") == "too-small"
    assert refused(ExactDecimal(non_negative=True), "-0.000001") == "too-small"
    assert refused(ExactDecimal(max="1"), "1.000001") == "too-large"
    assert refused(ExactDecimal(decimals=2), "1.234") == "not-a-decimal"
    assert loaded(ExactDecimal(non_negative=True, max="1"), "1") == 1


def test_minus_zero_is_zero() -> None:
    assert str(loaded(ExactDecimal(), "-0.0")) == "0.0"


def test_one_value_has_one_text_whichever_way_it_came() -> None:
    field = ExactDecimal(shown_decimals=2)
    written = {field._serialize(Decimal(text), None, None) for text in ("14.2", "14.20", "14.200000", "1.42E+1")}
    assert written == {"14.20"}
    assert ExactDecimal()._serialize(Decimal("1E+3"), None, None) == "1000"


def test_a_float_never_goes_out() -> None:
    for field in (ExactDecimal(), Figure()):
        with pytest.raises(TypeError):
            field._serialize(0.1, "price", None)


def test_a_figure_keeps_the_decimals_it_was_rounded_to() -> None:
    assert Figure()._serialize(Decimal("4.1000"), None, None) == "4.1000"


@pytest.mark.parametrize("code", ["beef-topside", "a", "2000", "a-1-b", "a" * 64])
def test_codes_are_lower_case_words_joined_by_hyphens(code: str) -> None:
    assert loaded(Code(), code) == code


@pytest.mark.parametrize("code", ["Beef", "a--b", "-a", "a-", "a_b", "a b", "", "ä", "a" * 65, "a\n", "changes", 7,
                                  None])
def test_other_codes_are_refused(code: Any) -> None:
    assert refused(Code(), code) in ("not-a-code", "null")


def test_names_are_composed_and_without_blanks_around_them() -> None:
    assert loaded(Name(), "  Entrecote\u0301 ") == "Entrecot\u00e9"


@pytest.mark.parametrize("character", [
    "\x00", "\x1b", "\n", "\x7f", "\x85", "\u2028", "\u202e", "\u2066", "\ud800", "\ufffe", "\U0001ffff"])
def test_names_hold_no_control_surrogate_or_override(character: str) -> None:
    assert refused(Name(), f"Topside{character}cap") == "unprintable-character"


def test_text_is_measured_before_and_after_composing() -> None:
    assert refused(Name(), "a" * 121) == refused(Name(), "a" * 10_000_000) == "too-long"
    assert refused(Name(), "   ") == "too-short"
    assert loaded(Text(max=20, lines=True), "one\ntwo") == "one\ntwo"
    assert loaded(Name(), "𝔗opside 🐄 é") == "𝔗opside 🐄 é"


@pytest.mark.parametrize("text", [
    "20260105", "2026-1-5", "2026-02-30", "2026-W01-1", "2026-01-05T00:00", "٢٠٢٦-٠١-٠٥", "0001-01-01", "9999-12-31",
    "", NumberText("2026"), None])
def test_a_day_is_a_full_date_that_exists(text: Any) -> None:
    assert refused(Day(), text) in ("not-a-date", "null")
    assert loaded(Day(), "2028-02-29") == date(2028, 2, 29)


def test_an_instant_says_its_offset_and_goes_out_in_utc() -> None:
    moment = loaded(Moment(), "2026-01-05T10:00:00+02:00")
    assert Moment()._serialize(moment, None, None) == "2026-01-05T08:00:00Z"
    for text in ("2026-01-05T10:00:00", "2026-01-05 10:00:00Z", "2026-01-05T10:00:00+99:00", "20260105T100000Z"):
        assert refused(Moment(), text) == "not-a-date-time"


@pytest.mark.parametrize("value", ["true", "yes", "1", NumberText("1"), NumberText("0"), 1, 0, "t", None])
def test_only_true_and_false_are_booleans(value: Any) -> None:
    assert refused(Flag(), value) in ("not-a-boolean", "null")
    assert loaded(Flag(), True) is True


@pytest.mark.parametrize("text", ["5.5", "1e3", "9" * 5_001, "1_0", "-1", "101", "٣"])
def test_whole_numbers_are_bounded_before_they_are_converted(text: str) -> None:
    assert refused(Whole(max=100), NumberText(text)) in ("not-a-whole-number", "out-of-range")


def test_five_point_zero_is_a_whole_number_as_json_schema_says() -> None:
    assert loaded(Whole(), NumberText("5.0")) == 5
    assert refused(Whole(), "5") == refused(Whole(), True) == "not-a-whole-number"


def test_a_query_holds_numbers_and_words_as_text() -> None:
    class Asked(Query):
        limit = Whole(max=10)
        lidded = Flag()

    assert Asked().load({"limit": "5", "lidded": "false"}) == {"limit": 5, "lidded": False}


def test_a_choice_is_made_by_value_and_says_what_there_is() -> None:
    assert loaded(Choice(Shape), "deep") is Shape.DEEP
    with pytest.raises(ma.ValidationError, match="deep, flat"):
        Choice(Shape).deserialize("DEEP")


def test_a_list_is_measured_before_its_elements_are_read() -> None:
    read: list[Any] = []

    class Noting(Text):
        def read(self, value: Any) -> str:
            read.append(value)
            return super().read(value)

    assert refused(Several(Noting(), max=3), ["a"] * 4) == "too-many"
    assert read == []
    assert refused(Several(Text(), min=1), []) == "too-few"
    assert refused(Several(Text()), "abc") == "not-a-list"
