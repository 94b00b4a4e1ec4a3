"""The kitchen's settings on the wire."""

from typing import Any, ClassVar

import marshmallow as ma

from service.domain.kitchen_settings import SectionTarget
from service.rest.fields.choices import Flag
from service.rest.fields.exact_field import says
from service.rest.fields.groups import Group, Several
from service.rest.fields.numbers import ExactDecimal, Whole
from service.rest.fields.texts import Name, Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.schemas import Answer, Request
from service.rest.schemas.records import DatedRequest, record
from service.rest.sentences import Sentence

SECTIONS = 100
"""How many sections of a menu may have a target of their own."""

_HOURS = Sentence("Give an hour of the day as HH:MM, such as '04:00'.", "not-an-hour")


class HourOfDay(Text):
    """HH:MM, 00:00 to 23:59."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        hours, colon, minutes = text.partition(":")
        if not (text.isascii() and len(text) == 5 and colon and hours.isdigit() and minutes.isdigit()
                and int(hours) < 24 and int(minutes) < 60):
            raise ma.ValidationError([_HOURS])
        return text


class _SectionTargetFacts(ma.Schema):
    section = Name(max=60, required=True, metadata=says("The part of the menu, as its dishes name it in `section`."))
    target_food_cost_percent = ExactDecimal(positive=True, max="1000", required=True, metadata=says(
        "Of its dishes without a target of their own."))


class SectionTargetRequest(_SectionTargetFacts, Request):
    """The target food cost of a section of the menu."""

    @ma.post_load
    def _make(self, values: dict[str, Any], **_options: Any) -> SectionTarget:
        return record(SectionTarget, values)


class SectionTargetAnswer(_SectionTargetFacts, Answer):
    """The target food cost of a section of the menu."""


_TARGETS_OF_SECTIONS = "Each section at most once; of dishes without a target of their own. None unless given."


class _SettingsFacts(ma.Schema):
    currency = Name(max=3, metadata=says(
        "ISO 4217, for every amount; cannot change once a price is recorded. EUR unless given."))
    time_zone = Name(max=64, metadata=says("IANA time zone: what \"today\" is. UTC unless given."))
    business_day_start = HourOfDay(max=5, metadata=says(
        "When the business day starts, HH:MM in `time_zone`. 00:00 unless given."))
    default_tax_rate_percent = ExactDecimal(non_negative=True, max="1000", metadata=says(
        "Of dishes without a rate of their own. 0 unless given."))
    menu_prices_include_tax = Flag(metadata=says("Whether menu prices are with tax. true unless given."))
    labour_rate_per_hour = ExactDecimal(non_negative=True, allow_none=True, metadata=says(
        "Money per hour, fully loaded; null: not known, which is not zero."))
    default_target_food_cost_percent = ExactDecimal(positive=True, max="1000", metadata=says(
        "Of dishes without a target of their own or of their section. 30 unless given."))
    price_step = ExactDecimal(positive=True, allow_none=True, metadata=says(
        "Menu prices go up in these steps, no finer than the currency's minor unit; null: that unit."))
    scale_tolerance_percent = ExactDecimal(non_negative=True, max="10", metadata=says(
        "By how much the outputs of a yield test may outweigh its input. 0.5 unless given."))
    price_change_limit_percent = ExactDecimal(non_negative=True, max="1000", metadata=says(
        "A proposed price further than this from the one in force is questioned. 25 unless given. Not dated."))
    price_deviation_limit = ExactDecimal(non_negative=True, max="1000", metadata=says(
        "And one further than so many median absolute deviations from the last year's median. 3 unless given. Not "
        "dated."))
    closed_through = Day(allow_none=True, metadata=says(
        "The last day of the closed period: no write may change figures up to it; null, and left out: none is closed. "
        "Not dated."))


class SettingsRequest(_SettingsFacts, DatedRequest):
    """The settings to be kept. What is left out takes its default."""

    section_targets = Several(Group(SectionTargetRequest), max=SECTIONS, metadata=says(_TARGETS_OF_SECTIONS))


class SettingsAnswer(_SettingsFacts, Answer):
    """The settings as they stand on the day asked for."""

    OPTIONAL: ClassVar[tuple[str, ...]] = ()

    section_targets = Several(Group(SectionTargetAnswer), metadata=says(_TARGETS_OF_SECTIONS))
    revision = Whole(metadata=says("The revision that recorded them last; 0: the defaults."))
    version_revision = Whole(metadata=says("The revision that recorded the version shown."))
    in_force_from = Day(allow_none=True, metadata=says("The first day of the version shown; null: from the beginning."))
    scheduled = Several(Day(), metadata=says("Days on which later versions start."))
