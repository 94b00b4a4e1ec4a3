"""What would be equals what then is: figures under supposed changes against the same changes recorded for real."""

from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import pytest

from service.domain.dish import Dish
from service.domain.history import record_on
from service.domain.ingredient import Ingredient
from service.domain.kitchen_settings import KitchenSettings
from service.domain.recipe import Line
from service.domain.scenario import NewPrice, NewVersion, PriceMove, Supposed, kitchen_under
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.use_cases.conditions import Condition
from service.use_cases.cost_rows import dish_row
from service.use_cases.figures_under import moved_dishes
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import breakdown_kind, dish_kind, ingredient_kind, settings_kind, supplier_kind
from service.use_cases.kinds import SETTINGS, Kind
from service.use_cases.ports import Asker
from service.use_cases.position import Position
from service.use_cases.record_price import PriceAsked, record_price
from service.use_cases.snapshots import Snapshots
from tests.builders import a_breakdown, a_loss, a_main

CHEF = Asker("cli", "chef", "request")
OVERWRITE = Condition(any_tag=True)
CREATE = Condition()


def keep(ledger: SqlLedger, kind: Kind, code: str, record: object, start: date | None = None,
         condition: Condition = CREATE) -> None:
    keep_record(ledger, kind, code, record, start, condition, CHEF)


@pytest.fixture
def kitchen_of_two_dishes(ledger: SqlLedger) -> SqlLedger:
    """A primal of two muscles, one dish from each, and a dish that uses neither."""
    keep(ledger, settings_kind, SETTINGS, KitchenSettings(labour_rate_per_hour=Decimal("18.60")))
    keep(ledger, supplier_kind, "fenmoor", Supplier("fenmoor", "Fenmoor Yard"))
    for code in ("beef-topside", "shallot"):
        keep(ledger, ingredient_kind, code, Ingredient(code, code.capitalize(), "primal", "kg"))
        record_price(ledger, code, PriceAsked("fenmoor", Decimal("14.20"), Decimal(1), "kg", date(2026, 1, 5)), CHEF)
    keep(ledger, breakdown_kind, "topside-seamed", a_breakdown(
        a_main("topside-cap", "0.10", "16.00"), a_main("topside-inside", "0.55", "19.00"), a_loss("silverskin", "0.05"),
        code="topside-seamed"))
    for code, line in (("grilled-cap", Line(Decimal(800), "g", cut="topside-cap")),
                       ("roast", Line(Decimal(2), "kg", cut="topside-inside")),
                       ("shallots", Line(Decimal(1), "kg", ingredient="shallot"))):
        keep(ledger, dish_kind, code, Dish(code, code.capitalize(), Decimal(4), (line,), menu_price=Decimal("22.00")))
    return ledger


def position(ledger: SqlLedger, day: date) -> Position:
    head = ledger.head()
    return Position(head.figures_revision, head.figures_hash, day)


def test_a_dearer_primal_moves_just_the_dishes_it_reaches_as_recording_it_then_does(
    kitchen_of_two_dishes: SqlLedger,
) -> None:
    ledger = kitchen_of_two_dishes
    day = ledger.today()
    supposed = [NewPrice("beef-topside", "fenmoor", Decimal("15.336"), Decimal(1), "kg", day)]

    moved = moved_dishes(Snapshots(ledger), position(ledger, day), supposed)
    before = ledger.head()
    record_price(ledger, "beef-topside", PriceAsked("fenmoor", Decimal("15.336"), Decimal(1), "kg", day), CHEF)
    real = Snapshots(ledger).at(position(ledger, day))

    assert before.revision + 1 == ledger.head().revision, "the question itself took no revision"
    assert [dish.code for dish in moved] == ["grilled-cap", "roast"]
    for dish in moved:
        assert dish.after is not None
        then = dish_row(real, dish.code)
        assert {name: value for name, value in dish.after.items() if name != "revision"} == {
            name: value for name, value in then.items() if name != "revision"}


def test_another_menu_price_and_other_yields_equal_their_recording(kitchen_of_two_dishes: SqlLedger) -> None:
    ledger = kitchen_of_two_dishes
    day = ledger.today() + timedelta(days=5)
    kitchen = ledger.kitchen(ledger.head().revision)
    roast = record_on(kitchen.dishes["roast"], day)
    assert roast is not None
    dearer = Dish(**{name: getattr(roast, name) for name in roast.__slots__} | {"menu_price": Decimal("24.50")})
    leaner = a_breakdown(a_main("topside-cap", "0.12", "16.00"), a_main("topside-inside", "0.50", "19.00"),
                         a_loss("silverskin", "0.08"), code="topside-seamed")
    supposed: list[Supposed] = [NewVersion("dish", "roast", dearer, day),
                                NewVersion("breakdown", "topside-seamed", leaner, day)]

    moved = moved_dishes(Snapshots(ledger), position(ledger, day), supposed)
    keep(ledger, dish_kind, "roast", dearer, day, OVERWRITE)
    keep(ledger, breakdown_kind, "topside-seamed", leaner, day, OVERWRITE)
    real = Snapshots(ledger).at(position(ledger, day))

    assert {dish.code for dish in moved} == {"grilled-cap", "roast"}
    assert all(dish.after is not None and dish.after["food_cost"] == dish_row(real, dish.code)["food_cost"]
               and dish.after["food_cost_percent"] == dish_row(real, dish.code)["food_cost_percent"] for dish in moved)
    assert dish_row(real, "roast")["menu_price"] == "24.50"


def test_a_move_by_percent_is_one_that_can_be_recorded_and_held_to_what_it_names(
    kitchen_of_two_dishes: SqlLedger,
) -> None:
    kitchen = kitchen_of_two_dishes.kitchen(kitchen_of_two_dishes.head().revision)
    day = kitchen_of_two_dishes.today()
    move = PriceMove(Decimal("7.777777"), day, ingredients=frozenset({"shallot"}))

    after = kitchen_under(kitchen, [move])

    assert after.prices["beef-topside"] == kitchen.prices["beef-topside"]
    exact = Decimal("14.20") * (100 + Decimal("7.777777")) / 100
    assert after.prices["shallot"][-1].amount == exact.quantize(Decimal("0.000001"), ROUND_HALF_UP) != exact
    assert kitchen_under(kitchen, [PriceMove(Decimal(5), day, kinds=frozenset({"vegetable"}))]) == kitchen


def test_nothing_supposed_moves_nothing(kitchen_of_two_dishes: SqlLedger) -> None:
    ledger = kitchen_of_two_dishes

    assert moved_dishes(Snapshots(ledger), position(ledger, ledger.today()), []) == []


def test_another_breakdown_of_the_same_cuts_takes_over_as_recording_it_then_does(
    kitchen_of_two_dishes: SqlLedger,
) -> None:
    ledger = kitchen_of_two_dishes
    day = ledger.today()
    another = a_breakdown(
        a_main("topside-cap", "0.12", "16.00"), a_main("topside-inside", "0.50", "19.00"), code="topside-trimmed")

    moved = moved_dishes(Snapshots(ledger), position(ledger, day),
                         [NewVersion("breakdown", "topside-trimmed", another, day)])
    keep(ledger, breakdown_kind, "topside-trimmed", another, day)
    real = Snapshots(ledger).at(position(ledger, day))

    assert [dish.code for dish in moved] == ["grilled-cap", "roast"]
    assert all(dish.after is not None and dish.after["food_cost"] == dish_row(real, dish.code)["food_cost"]
               for dish in moved)
