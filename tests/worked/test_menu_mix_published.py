"""Menu mix, contribution and what a menu costs on the whole, against published worked examples; each sheet names its
source. A contribution margin is the gross profit of a portion: price less food cost."""

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from service.domain.rounding import published
from service.domain.sales import SaleKind
from service.domain.sales_tally import Part, Tally, added_up, percent_of, tally_of
from tests.worked.sheets import sheet

SHEETS = sheet("menu_mix")
ITEMS = [(worked, each) for worked in SHEETS for each in worked["sold"] if "contribution" in each]


def sold(item: dict[str, str]) -> Tally:
    portions, price = Fraction(item["portions"]), Fraction(item["price"])
    return tally_of({SaleKind.SALE: Part(portions, portions * price, portions * Fraction(item["cost"]))})


def as_printed(figure: Fraction | None, printed: str) -> Decimal:
    """The figure with as many decimals as the sheet prints."""
    assert figure is not None
    return published(figure, len(printed.partition(".")[2]))


@pytest.mark.parametrize(("worked", "item"), ITEMS, ids=[item["item"] for _, item in ITEMS])
def test_a_dish_contributes_and_has_its_share_of_the_mix(worked: dict[str, Any], item: dict[str, str]) -> None:
    menu, dish = added_up([sold(each) for each in worked["sold"]]), sold(item)
    assert as_printed(dish.average_gross_profit, item["contribution"]) == Decimal(item["contribution"])
    if "mix_percent" in item:
        share = percent_of(dish.sale.quantity, menu.sale.quantity)
        assert as_printed(share, item["mix_percent"]) == Decimal(item["mix_percent"])
    if "total" in item:
        assert as_printed(dish.gross_profit, item["total"]) == Decimal(item["total"])


def test_a_menu_contributes_what_its_dishes_do_and_so_much_a_portion() -> None:
    worked = SHEETS[1]
    menu = added_up([sold(each) for each in worked["sold"]])
    assert menu.sale.quantity == Fraction(worked["portions"])
    assert as_printed(menu.gross_profit, worked["contribution"]) == Decimal(worked["contribution"])
    assert as_printed(menu.average_gross_profit, worked["average_contribution"]) == Decimal(
        worked["average_contribution"])


def test_a_hundred_of_the_dearer_dish_leave_so_much_more() -> None:
    steak, chicken = (sold({**item, "portions": "100"}) for item in SHEETS[0]["sold"][:2])
    assert (steak.gross_profit or 0) - (chicken.gross_profit or 0) == 490
