"""The promises of the ledger's store, on SQLite and on PostgreSQL."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from service.domain.errors import IdempotencyKeyReused
from service.domain.history import Mark, Version
from service.domain.ingredient import StandardCode
from service.domain.kitchen_settings import SectionTarget
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.persistence.numbering import UnknownIdentity
from service.use_cases.ports import AccessKey, Asker, Entry, Idempotency
from tests.builders import (
    a_conversion,
    a_dish,
    a_line,
    a_pack,
    a_price,
    a_primal,
    a_recipe,
    a_seamed_topside,
    a_yield_test,
    an_ingredient,
    an_item,
    some_settings,
)
from tests.persistence.writing import CHEF, add, record, take_back

FENMOOR = Supplier("fenmoor", "Fenmoor Meats", "rings on Mondays")
A_HASH = "ab" * 32


def a_key(**facts):
    return AccessKey(**{"id": "k1", "name": "till", "scopes": ("costs:read",), "expires_at": None,
                        "created_at": datetime(2026, 3, 2, 10, tzinfo=UTC), "last_used_at": None, "revoked_at": None,
                        **facts})


def test_a_fresh_ledger_stands_at_revision_0(ledger):
    head = ledger.head()
    assert (head.revision, head.figures_revision, head.hash) == (0, 0, "0" * 64)
    assert ledger.kitchen(0).suppliers == {}
    assert ledger.figures_at(0) == (0, head.hash)
    assert ledger.entries(Mark(0, 0), 10, 0) == ()


def test_every_kind_of_record_comes_back_as_it_was_recorded(ledger):
    topside = a_primal(
        conversions=(a_conversion("each", "8.4", "kg"), a_conversion("l", "1100.5", "kg", "1000")),
        standard_codes=(StandardCode("UNECE-BOVINE", "2000"),), preferred_supplier="fenmoor", allergens=None)
    shallot = an_ingredient(allergens=("celery", "milk"))
    seamed = a_seamed_topside(steps=("Find the seam.", "Follow it."), packaging_per_kg="0.05")
    jus = a_recipe("jus", a_line("ingredient shallot", "500", "g", yield_percent="90", note="sliced"),
                   a_line("cut topside-mince", "0.000001"), conversions=(a_conversion("l", "1.05", "kg"),))
    plate = a_dish("plate", a_line("cut topside-cap", "0.8", cooking_yield_percent="75"),
                   a_line("recipe jus", "80", "ml"), menu_price="22.00", tax_rate_percent="20",
                   target_food_cost_percent="30", pos_code="1042", section="grill", allowance_percent="2",
                   labour_minutes="1.5")
    settings = some_settings(price_step="0.05", price_change_limit_percent="12.5", price_deviation_limit="2.5",
                             closed_through=date(2026, 2, 28),
                             section_targets=(SectionTarget("grill", Decimal("28.5")), SectionTarget("A", Decimal(35))))
    item = an_item("10/23 45+B_.", pack=a_pack("2.5", "kg", "4", "Karton"), priced_per="kg", gtin="9521234567899")
    everything = [settings, FENMOOR, topside, shallot, seamed, jus, plate,
                  a_price("14.20", effective_to=date(2026, 12, 31), reference="List 12"),
                  a_yield_test("8.6", {"topside-cap": "0.742", "topside-silverskin": "0"}, opened_weight="8.36",
                               minutes="24", pieces=3, butcher="block 2", supplier="fenmoor", grade="R4", note="cold"),
                  item]
    assert record(ledger, *everything) == 1
    kitchen = ledger.kitchen(1)
    last = {"supplier": kitchen.suppliers["fenmoor"], "ingredient": kitchen.ingredients["beef-topside"],
            "shallot": kitchen.ingredients["shallot"], "breakdown": kitchen.breakdowns["topside-seamed"],
            "recipe": kitchen.recipes["jus"], "dish": kitchen.dishes["plate"], "settings": kitchen.settings,
            "item": kitchen.supplier_items["fenmoor/10/23 45+B_."]}
    expected = {"supplier": FENMOOR, "ingredient": topside, "shallot": shallot, "breakdown": seamed, "recipe": jus,
                "dish": plate, "settings": settings, "item": item}
    assert {name: history[-1].record for name, history in last.items()} == expected
    assert kitchen.prices["beef-topside"] == (replace(everything[7], made=Mark(1, 8)),)
    assert kitchen.yield_tests["topside-seamed"] == (replace(everything[8], made=Mark(1, 9)),)


def test_amounts_come_back_with_no_more_decimals_than_they_need(ledger):
    record(ledger, FENMOOR, a_primal(), a_price("14.20", pack_quantity="100"))
    price = ledger.kitchen(1).prices["beef-topside"][0]
    assert (str(price.amount), str(price.pack_quantity)) == ("14.2", "100")


def test_one_work_is_one_revision_however_many_entries(ledger):
    record(ledger, FENMOOR, a_primal())
    record(ledger, a_price(), a_price("15.00"))
    assert ledger.head().revision == 2
    entries = ledger.entries(Mark(0, 0), 100, 2)
    assert [(one.mark.revision, one.mark.entry, one.kind) for one in entries] == [
        (1, 1, "supplier"), (1, 2, "ingredient"), (2, 1, "price"), (2, 2, "price")]
    assert {(one.key_id, one.who, one.request_id) for one in entries} == {("key-1", "the chef", "request-1")}


def test_a_work_that_adds_nothing_takes_no_revision(ledger):
    with ledger.write(CHEF) as work:
        work.kitchen()
    assert ledger.head().revision == 0


def test_a_fault_undoes_all_of_it(ledger):
    with pytest.raises(RuntimeError, match="thought better"), ledger.write(CHEF) as work:
        add(work, FENMOOR)
        raise RuntimeError("thought better of it")
    assert ledger.head().revision == 0
    assert record(ledger, Supplier("holt", "Holt")) == 1
    assert set(ledger.kitchen(1).suppliers) == {"holt"}


def test_what_refers_to_nothing_is_not_stored(ledger):
    with pytest.raises(UnknownIdentity, match="shallot"):
        record(ledger, a_recipe("jus", a_line("ingredient shallot")))
    assert ledger.head().revision == 0


def test_what_is_stored_is_what_its_entry_says(ledger):
    with pytest.raises(ValueError, match="not supplier 'holt'"), ledger.write(CHEF) as work:
        mark = work.next_mark(Entry("recorded", "supplier", "fenmoor", {}))
        work.add_version("supplier", "holt", Version(Supplier("holt", "Holt"), mark))
    with pytest.raises(ValueError, match="no entry of this work"), ledger.write(CHEF) as work:
        work.add_version("supplier", "holt", Version(Supplier("holt", "Holt"), Mark(1, 1)))
    with pytest.raises(ValueError, match="in an entry first"), ledger.write(CHEF) as work:
        work.add_key(a_key(), A_HASH)


def test_a_version_with_the_same_start_replaces_and_erases_nothing(ledger):
    day = date(2026, 4, 1)
    record(ledger, replace(FENMOOR, note="first"))
    record(ledger, replace(FENMOOR, note="from April"), start=day)
    record(ledger, replace(FENMOOR, note="second"))
    record(ledger, replace(FENMOOR, note="from April, again"), start=day)

    def notes(revision):
        return [version.record.note for version in ledger.kitchen(revision).suppliers["fenmoor"]]

    assert notes(1) == ["first"]
    assert notes(2) == ["first", "from April"]
    assert notes(3) == ["from April", "second"]
    assert notes(4) == ["second", "from April, again"]


def test_within_one_work_the_last_of_the_same_start_holds(ledger):
    record(ledger, replace(FENMOOR, note="first"), replace(FENMOOR, note="second"))
    assert [version.record.note for version in ledger.kitchen(1).suppliers["fenmoor"]] == ["second"]
    assert ledger.kitchen(1).suppliers["fenmoor"][0].made == Mark(1, 2)


def test_retiring_is_a_version_too(ledger):
    record(ledger, FENMOOR)
    record(ledger, FENMOOR, start=date(2026, 3, 2), retired=True)
    kitchen = ledger.kitchen(2)
    assert "fenmoor" in kitchen.on(date(2026, 3, 1)).suppliers
    assert "fenmoor" not in kitchen.on(date(2026, 3, 2)).suppliers


def test_a_withdrawal_is_known_only_from_its_revision(ledger):
    record(ledger, FENMOOR, a_primal(), a_price())
    with ledger.write(CHEF) as work:
        taken = take_back(work, work.kitchen().prices["beef-topside"][0])
    assert ledger.kitchen(1).prices["beef-topside"][0].withdrawn is None
    assert ledger.kitchen(2).prices["beef-topside"] == (taken,)
    with pytest.raises(LookupError), ledger.write(CHEF) as work:
        take_back(work, taken)
    assert ledger.head().revision == 2


def test_a_test_set_aside_is_known_only_from_its_revision(ledger):
    record(ledger, FENMOOR, a_primal(), a_seamed_topside(), a_yield_test("8.6", {"topside-cap": "0.742"}))
    with ledger.write(CHEF) as work:
        aside = take_back(work, work.kitchen().yield_tests["topside-seamed"][0])
    assert ledger.kitchen(1).yield_tests["topside-seamed"][0].set_aside is None
    assert ledger.kitchen(2).yield_tests["topside-seamed"] == (aside,)


def test_a_revision_above_the_head_is_not_known(ledger):
    with pytest.raises(LookupError, match="its head is 0"):
        ledger.kitchen(1)


def test_only_what_can_move_a_figure_moves_the_figures_revision(ledger):
    record(ledger, FENMOOR)
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {"name": "till"}))
        work.add_key(a_key(), A_HASH)
    head = ledger.head()
    assert (head.revision, head.figures_revision) == (2, 1)
    assert ledger.figures_at(2) == (1, head.figures_hash) == ledger.figures_at(1)
    assert head.hash != head.figures_hash


def test_an_item_moves_no_figure_and_is_known_at_its_revision(ledger):
    record(ledger, FENMOOR, a_primal())
    for quantity in ("5", "6"):
        with ledger.write(CHEF, moves_figures=False) as work:
            add(work, an_item(pack=a_pack(quantity)))
    head = ledger.head()
    assert (head.revision, head.figures_revision) == (3, 1)
    packs = [[version.record.pack.quantity for history in ledger.kitchen(revision).supplier_items.values()
              for version in history] for revision in (1, 2, 3)]
    assert packs == [[], [Decimal(5)], [Decimal(6)]]


def test_an_item_of_a_supplier_or_ingredient_that_was_never_recorded_is_not_stored(ledger):
    record(ledger, FENMOOR, a_primal())
    for item in (an_item(supplier="holt"), an_item(ingredient="shallot")):
        with pytest.raises(UnknownIdentity):
            record(ledger, item)
    assert ledger.head().revision == 1


def test_head_and_key_come_together_and_an_unknown_key_is_none(ledger):
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {"name": "till"}))
        work.add_key(a_key(expires_at=datetime(2027, 1, 1, tzinfo=UTC)), A_HASH)
    head, key = ledger.head_and_key(A_HASH)
    assert head == ledger.head()
    assert key == a_key(expires_at=datetime(2027, 1, 1, tzinfo=UTC), made_revision=1)
    assert ledger.head_and_key("cd" * 32)[1] is None


def test_a_key_is_revoked_at_once(ledger):
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {}))
        work.add_key(a_key(), A_HASH)
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("revoked", "key", "k1", {}))
        work.revoke_key("k1", work.now)
    assert ledger.head_and_key(A_HASH)[1].revoked_at == datetime(2026, 3, 2, 10, tzinfo=UTC)
    assert [key.id for key in ledger.every_key()] == ["k1"]
    with pytest.raises(LookupError), ledger.write(CHEF) as work:
        work.next_mark(Entry("revoked", "key", "k2", {}))
        work.revoke_key("k2", work.now)


def test_the_last_use_of_a_key_is_noted_once_a_minute_and_takes_no_revision(ledger):
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {}))
        work.add_key(a_key(), A_HASH)
    noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    noted = []
    for seconds in (0, 30, 59, 60, 61):
        ledger.touch_key("k1", noon + timedelta(seconds=seconds))
        noted.append(ledger.head_and_key(A_HASH)[1].last_used_at.minute * 60
                     + ledger.head_and_key(A_HASH)[1].last_used_at.second)
    assert noted == [0, 0, 0, 60, 60]
    assert ledger.head().revision == 1


def test_noting_the_last_use_never_waits_for_a_writer(ledger, clock):
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("created", "key", "k1", {}))
        work.add_key(a_key(), A_HASH)
    with ledger.write(CHEF, moves_figures=False) as work:
        work.next_mark(Entry("revoked", "key", "k1", {}))
        work.revoke_key("k1", work.now)
        before = datetime.now(UTC)
        ledger.touch_key("k1", clock())
        assert datetime.now(UTC) - before < timedelta(seconds=2)


def asker_with(key="order-66", fingerprint="f" * 64, route="POST /prices"):
    return Asker("key-1", "finance", "request-2", Idempotency(key, route, fingerprint))


def test_an_answer_is_kept_with_its_effect_for_seven_days(ledger, clock):
    with ledger.write(asker_with()) as work:
        assert work.remembered() is None
        add(work, FENMOOR)
        work.remember({"price": "1-1", "amount": "14.20"})
    with ledger.write(asker_with()) as work:
        assert list(work.remembered().items()) == [("price", "1-1"), ("amount", "14.20")]
    assert ledger.head().revision == 1
    with pytest.raises(IdempotencyKeyReused), ledger.write(asker_with(fingerprint="e" * 64)) as work:
        work.remembered()
    with ledger.write(asker_with(route="POST /keys")) as work:
        assert work.remembered() is None
    clock.move(days=7)
    with ledger.write(asker_with()) as work:
        assert work.remembered() is None
        work.remember({"price": "2-1"})
    with ledger.write(asker_with()) as work:
        assert work.remembered() == {"price": "2-1"}


def test_an_answer_is_forgotten_with_an_effect_that_failed(ledger):
    with pytest.raises(RuntimeError), ledger.write(asker_with()) as work:
        work.remember({"price": "1-1"})
        raise RuntimeError("no")
    with ledger.write(asker_with()) as work:
        assert work.remembered() is None


def test_entries_are_read_on_from_a_mark(ledger):
    record(ledger, FENMOOR, a_primal())
    record(ledger, a_price())
    record(ledger, a_price("15.00"))
    assert [one.mark for one in ledger.entry_page(Mark(0, 0), 9, 2, 10**6)[0]] == [
        one.mark for one in ledger.entries(Mark(0, 0), 9, 2)]
    first = ledger.entries(Mark(0, 0), 2, 2)
    assert [one.mark for one in first] == [Mark(1, 1), Mark(1, 2)]
    assert [one.mark for one in ledger.entries(first[-1].mark, 9, 2)] == [Mark(2, 1)]
    with ledger.write(CHEF) as work:
        assert [one.mark for one in work.entries_of("price", "beef-topside", 1)] == [Mark(2, 1), Mark(3, 1)]


def test_the_business_day_follows_the_settings_and_never_goes_back(ledger, clock):
    clock.now = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert ledger.today() == date(2026, 3, 2)
    record(ledger, replace(some_settings(), time_zone="Europe/Athens", business_day_start="04:00"))
    assert ledger.today() == date(2026, 3, 2)
    clock.now = datetime(2026, 3, 3, 2, 0, tzinfo=UTC)
    assert ledger.today() == date(2026, 3, 3)
    record(ledger, FENMOOR)
    assert ledger.head().on_date == date(2026, 3, 3)
    clock.move(days=-5)
    record(ledger, Supplier("holt", "Holt"))
    assert ledger.head().on_date == date(2026, 3, 3) == ledger.today() == ledger.today_at(ledger.head())


def test_the_signing_secret_is_the_same_in_every_worker(ledger, engines, clock):
    assert len(ledger.signing_secret()) == 32
    assert SqlLedger(engines, clock).signing_secret() == ledger.signing_secret()


def test_the_largest_amounts_survive_to_the_digit(ledger):
    """F4 of a stored float: 123456789012.345678 would come back as 123456789012.345673."""
    record(ledger, FENMOOR, a_primal(), a_price("123456789012.345678"), a_price("999999999999.999999"))
    assert [price.amount for price in ledger.kitchen(1).prices["beef-topside"]] == [
        Decimal("123456789012.345678"), Decimal("999999999999.999999")]


def test_a_page_of_entries_ends_where_they_get_long_and_says_that_there_are_more(ledger: SqlLedger) -> None:
    for number in range(4):
        with ledger.write(CHEF) as work:
            work.next_mark(Entry("said", "note", str(number), {"text": "x" * 100}))
    marks = [Mark(revision, 1) for revision in range(1, 5)]

    def page(after: Mark, limit: int, most: int) -> tuple[list[Mark], bool]:
        entries, more = ledger.entry_page(after, limit, 4, most)
        return [entry.mark for entry in entries], more

    assert page(Mark(0, 0), 9, 10_000) == (marks, False)
    assert page(Mark(0, 0), 4, 10_000) == (marks, False)
    assert page(Mark(0, 0), 3, 10_000) == (marks[:3], True)
    assert page(Mark(0, 0), 9, 250) == (marks[:2], True)
    assert page(Mark(0, 0), 9, 10) == (marks[:1], True)
    assert page(marks[-2], 9, 10) == (marks[-1:], False)
    assert page(marks[-1], 9, 10) == ([], False)
