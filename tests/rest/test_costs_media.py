"""A tag stands for bytes, not for what they were made from. Source: RFC 9110 section 8.8.1: a strong validator changes
whenever the content of a 200 does, also when the software that writes it does."""

from service.rest.costs_media import prebuilt
from service.use_cases.position import Position
from tests.builders import A_DAY

WEDNESDAY = Position(214, "5f" * 32, A_DAY)


def test_a_release_that_says_more_of_the_same_figures_has_other_tags() -> None:
    before, after, again = (prebuilt(WEDNESDAY, "dish-costs.all.full", body, "application/json").etag for body in (
        b'[{"dish":"hash"}]', b'[{"dish":"hash","section":"grill"}]', b'[{"dish":"hash"}]'))
    assert before != after
    assert before == again
