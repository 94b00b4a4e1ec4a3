"""Purchase price variance as a document: gaps where no price stands, and one currency for all of it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from service.domain.history import Mark, Version
from service.domain.kitchen import EMPTY, Kitchen
from service.domain.supplier import Supplier
from service.use_cases.read_purchase_price_variance import Purchase, read_purchase_price_variance
from tests.builders import A_DAY, NEW_YEAR, a_price, an_ingredient, some_settings

RETIRED_ON = date(2026, 3, 1)


def a_store() -> Kitchen:
    """Salt at 1.10 a kg; saffron that is priced by the piece and converts no more; suet that is retired in March."""
    suet = an_ingredient("suet")
    return replace(
        EMPTY, revision=9, settings=(Version(some_settings(), Mark(1, 1)),),
        suppliers={"fenmoor": (Version(Supplier("fenmoor", "Fenmoor Yard"), Mark(1, 2)),)},
        ingredients={"salt": (Version(an_ingredient("salt"), Mark(1, 3)),),
                     "saffron": (Version(an_ingredient("saffron"), Mark(1, 4)),),
                     "suet": (Version(suet, Mark(1, 5)), Version(suet, Mark(8, 1), RETIRED_ON, retired=True))},
        prices={"salt": (a_price("1.10", ingredient="salt", made=Mark(2, 1)),),
                "saffron": (a_price("4.00", ingredient="saffron", pack_unit="each", made=Mark(2, 2)),),
                "suet": (a_price("3.00", ingredient="suet", made=Mark(2, 3)),)})


def bought(ingredient: str, paid: str | None = "10", on: date | None = None) -> Purchase:
    return Purchase(ingredient, Decimal(2), "kg", None if paid is None else Decimal(paid), on)


def test_what_is_not_kept_or_does_not_convert_on_the_standard_s_day_is_a_gap() -> None:
    told = read_purchase_price_variance(a_store(), A_DAY, [bought("salt"), bought("saffron"), bought("suet")])
    salt, saffron, suet = told["purchases"]
    assert (salt["variance"], salt["gaps"], told["currency"]) == ("7.8000", [], "GBP")
    assert [gap["code"] for gap in saffron["gaps"]] == ["missing_conversion"]
    assert saffron["standard_price"] == "2-2"
    assert [gap["code"] for gap in suet["gaps"]] == ["not_in_force"]
    assert (told["total"]["status"], told["total"]["without_variance"], told["total"]["known_variance"]) == (
        "incomplete", 2, "7.8000")


def test_a_gap_of_both_prices_is_told_once() -> None:
    told = read_purchase_price_variance(a_store(), A_DAY, [bought("suet", None, A_DAY)])
    assert [gap["code"] for gap in told["purchases"][0]["gaps"]] == ["not_in_force"]
    told = read_purchase_price_variance(a_store(), NEW_YEAR, [bought("suet", None, A_DAY), bought("suet", "5", A_DAY)])
    at_a_price, paid = told["purchases"]
    assert (at_a_price["standard_cost"], at_a_price["actual_cost"], at_a_price["effect"]) == ("6.0000", None, None)
    assert (paid["variance"], paid["effect"], paid["gaps"]) == ("-1.0000", "favourable", [])
