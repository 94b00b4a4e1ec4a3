"""Proposals over time: what was seen is what is accepted, and what ended is shown as it was. All of it is invented.

The clock stands on 2 March 2026.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.domain.errors import Fault, ProposalOutOfDate, Refused, WrongValue
from service.domain.price_list import FileFormat, Layout, PriceList, PriceRow
from service.domain.supplier import Supplier
from service.persistence.ledger import SqlLedger
from service.use_cases.accept_prices import accept_prices, look_again, reject_prices
from service.use_cases.ports import Asker
from service.use_cases.price_files import HowToRead
from service.use_cases.propose_prices import ProposalAsked, propose_prices
from service.use_cases.read_proposal_rows import RowsAsked, proposal_rows
from service.use_cases.read_proposals import Proposals, list_proposals, proposal_document
from service.use_cases.reviews import MOST_KEPT, Reviews, proposal_numbered
from service.use_cases.rows_chosen import Chosen
from service.use_cases.snapshots import Snapshots
from tests.builders import a_conversion, a_dish, a_line, a_price, a_primal, an_ingredient, an_item, some_settings
from tests.conftest import SettableClock
from tests.persistence.writing import record

FINANCE = Asker("key-1", "finance", "request")
TODAY, TOMORROW = date(2026, 3, 2), date(2026, 3, 3)
LAYOUT = Layout((("item", "Ref"), ("price", "Net")), 1, ".", ",")
TOPSIDE = PriceRow(1, "line 2", "10-2345", name="Topside", amount=Decimal("14.90"), per_unit="kg")
SHALLOT = PriceRow(2, "line 3", "20-1", name="Shallot", amount=Decimal("2.10"), per_unit="kg")
A_LIST = PriceList(FileFormat.CSV, (TOPSIDE, SHALLOT), layout=LAYOUT)
INVOICE = PriceList(FileFormat.INVOICE, (TOPSIDE,), starts=TODAY, complete=False)


@pytest.fixture
def proposals(ledger: SqlLedger) -> Proposals:
    """A topside at 14.20, which a dish uses and Fenmoor sells; shallots that nobody has mapped."""
    record(ledger, some_settings(), Supplier("fenmoor", "Fenmoor Yard"), Supplier("harrow", "Harrow"), a_primal(),
           an_ingredient("shallot"), an_item(), a_price("14.20"), a_dish("steak", a_line("ingredient beef-topside")))
    return Proposals(ledger, Snapshots(ledger), Reviews(ledger))


def proposed(proposals: Proposals, said: PriceList = A_LIST, content: bytes = b"1", starts: date | None = TODAY,
             **asked: Any) -> int:
    """The number of the proposal that a file with this content becomes."""
    def read(_content: bytes, _how: HowToRead) -> PriceList:
        return said

    receipt = propose_prices(proposals.ledger, read, content, ProposalAsked("fenmoor", starts, **asked), FINANCE)
    return int(receipt.document["id"])


def told(proposals: Proposals, number: int) -> dict[str, Any]:
    return proposal_document(proposals, proposal_numbered(proposals.ledger, str(number)))


def rows_of(proposals: Proposals, number: int) -> list[dict[str, Any]]:
    proposal = proposal_numbered(proposals.ledger, str(number))
    return proposal_rows(proposals, proposal, proposals.reviews.look(proposal), RowsAsked(), 0, 100)[0]


def accepted(proposals: Proposals, number: int, *rows: int, **seen: Any) -> dict[str, Any]:
    accept_prices(proposals.ledger, proposals.reviews, number, Chosen(rows or None, **seen), FINANCE)
    return told(proposals, number)


def refused(proposals: Proposals, number: int, fault: type[Fault], *rows: int, **seen: Any) -> Any:
    head = proposals.ledger.head()
    with pytest.raises(fault) as refusal:
        accepted(proposals, number, *rows, **seen)
    assert proposals.ledger.head() == head
    assert proposal_numbered(proposals.ledger, str(number)).end is None
    return refusal.value


def test_the_same_file_read_by_other_columns_is_another_proposal(proposals: Proposals) -> None:
    number = proposed(proposals)
    assert proposed(proposals) == number
    by_gross = replace(A_LIST, layout=replace(LAYOUT, columns=(("item", "Ref"), ("price", "Gross"))))
    assert proposed(proposals, by_gross) != number


def test_an_invoice_is_the_same_whether_its_own_day_is_given_or_not(proposals: Proposals) -> None:
    assert proposed(proposals, INVOICE, starts=None) == proposed(proposals, INVOICE, starts=TODAY)


def test_rows_that_were_left_are_proposed_anew_when_that_is_asked_for(proposals: Proposals) -> None:
    number = proposed(proposals)
    assert accepted(proposals, number)["acceptance"]["left"] == 1
    record(proposals.ledger, an_item("20-1", ingredient="shallot"))
    assert proposed(proposals) == number
    anew = proposed(proposals, again=True)
    assert anew == proposed(proposals, again=True) == number + 1
    assert [row["standing"] for row in rows_of(proposals, anew)] == ["unchanged", "clean"]
    assert [found["code"] for found in told(proposals, anew)["findings"]] == ["same_file"]


def test_what_was_seen_before_somebody_looked_again_is_not_accepted(proposals: Proposals) -> None:
    number = proposed(proposals)
    seen = told(proposals, number)
    look_again(proposals.ledger, number, FINANCE)
    fault = refused(proposals, number, ProposalOutOfDate, looks=seen["looks"])
    assert "look 2" in fault.detail
    assert accepted(proposals, number, looks=2)["acceptance"]["accepted"] == 1


def test_a_row_that_midnight_made_a_question_of_is_not_left_silently(
    proposals: Proposals, clock: SettableClock,
) -> None:
    on_both_days = (TOPSIDE, SHALLOT._replace(starts=date(2026, 4, 1)))
    record(proposals.ledger, an_item("20-1", ingredient="shallot"))
    number = proposed(proposals, replace(A_LIST, rows=on_both_days))
    seen = told(proposals, number)
    assert (seen["reviewed_on"], seen["counts"]["clean"]) == (TODAY, 2)
    clock.move(days=1)
    assert refused(proposals, number, ProposalOutOfDate, reviewed_on=seen["reviewed_on"]).more["rows"] == [1]
    assert told(proposals, number)["counts"] | {"by_finding": []} == seen["counts"] | {
        "clean": 1, "questioned": 1, "by_finding": []}
    assert accepted(proposals, number, 2, reviewed_on=TOMORROW)["acceptance"]["accepted"] == 1


def test_all_clean_rows_are_those_that_were_seen(proposals: Proposals) -> None:
    number = proposed(proposals)
    record(proposals.ledger, an_item("20-1", ingredient="shallot"))
    assert refused(proposals, number, ProposalOutOfDate).more["rows"] == [2]
    assert accepted(proposals, number, 1)["acceptance"]["accepted"] == 1


@pytest.mark.parametrize("changed", [
    a_primal(conversions=(a_conversion("each", "2", "kg"),)), a_primal(base_unit="l"),
    a_primal(preferred_supplier="fenmoor"), an_item(name="Topside PAD", priced_per="kg"), a_price("14.30"),
    some_settings(price_change_limit_percent="1"), some_settings(closed_through=TODAY)], ids=str)
def test_a_row_whose_ground_has_changed_is_not_accepted(proposals: Proposals, changed: Any) -> None:
    number = proposed(proposals)
    record(proposals.ledger, changed)
    assert told(proposals, number)["moved_rows"] == [1]
    assert refused(proposals, number, ProposalOutOfDate, 1).more["rows"] == [1]


def test_what_does_not_bear_on_a_row_does_not_hold_it_up(proposals: Proposals) -> None:
    number = proposed(proposals)
    record(proposals.ledger, a_primal(name="Topside of beef"), an_ingredient("leek"), a_dish("steak", name="Steak"))
    assert told(proposals, number)["out_of_date"] is False
    assert accepted(proposals, number, 1)["acceptance"]["accepted"] == 1


def test_no_price_is_recorded_of_a_supplier_who_was_retired_meanwhile(proposals: Proposals) -> None:
    number = proposed(proposals)
    record(proposals.ledger, Supplier("fenmoor", "Fenmoor Yard"), start=date(2026, 6, 1), retired=True)
    refused(proposals, number, ProposalOutOfDate, 1)
    look_again(proposals.ledger, number, FINANCE)
    assert "retired_supplier" in refused(proposals, number, Refused, 1).faults[0].detail


def test_what_ended_is_shown_as_it_was_on_that_day(proposals: Proposals, clock: SettableClock) -> None:
    number = proposed(proposals)
    then, rows = accepted(proposals, number, 1), rows_of(proposals, number)
    clock.move(days=90)
    fresh = replace(proposals, reviews=Reviews(proposals.ledger))
    assert told(fresh, number) == then
    assert rows_of(fresh, number) == rows
    assert (rows[0]["standing"], rows[0]["decision"]) == ("clean", "accepted")


def test_a_day_goes_by_between_two_pages_and_no_row_moves(proposals: Proposals, clock: SettableClock) -> None:
    proposal = proposal_numbered(proposals.ledger, str(proposed(proposals)))
    look = proposals.reviews.look(proposal)
    first, after = proposal_rows(proposals, proposal, look, RowsAsked(sort="effect"), 0, 1)
    clock.move(days=1)
    second, last = proposal_rows(proposals, proposal, look, RowsAsked(sort="effect"), after or 0, 1)
    assert ([first[0]["row"], second[0]["row"]], last) == ([1, 2], None)


def test_a_price_that_a_contract_holds_back_moves_no_dish_on_its_first_day(proposals: Proposals) -> None:
    record(proposals.ledger, a_price("13.00", effective_to=date(2026, 12, 31)))
    row = rows_of(proposals, proposed(proposals))[0]
    assert (row["change"], row["menu_effect"], row["dishes"]) == ("1.9000", "0.0000", 0)


def test_dishes_whose_cost_would_be_unknown_are_told_before_those_that_move(proposals: Proposals) -> None:
    """Harrow offers shallots from April on; a price of Fenmoor's from today on makes two offers of it then."""
    april = date(2026, 4, 1)
    theirs = a_price("2.00", ingredient="shallot", supplier="harrow", effective_from=april)
    record(proposals.ledger, an_item("20-1", ingredient="shallot"), theirs, an_item("20-2", ingredient="leek"),
           an_ingredient("leek"), a_dish("soup", a_line("ingredient shallot")))
    leek = SHALLOT._replace(number=3, place="line 4", item="20-2", starts=april)
    effect = told(proposals, proposed(proposals, replace(A_LIST, rows=(TOPSIDE, SHALLOT, leek))))["effect"]
    assert [(dish["dish"], dish["food_cost_after"] is None) for dish in effect["dishes"]] == [
        ("soup", True), ("steak", False)]


def test_of_two_rows_for_one_price_one_is_taken_whatever_the_reasons(proposals: Proposals) -> None:
    dearer = TOPSIDE._replace(number=2, place="line 3", amount=Decimal("15.10"))
    number = proposed(proposals, replace(A_LIST, rows=(TOPSIDE, dearer)))
    both = [(1, "It holds."), (2, "So does this.")]
    assert "Rows 1, 2 would each be" in refused(proposals, number, Refused, overrides=both).faults[0].detail
    accept_prices(proposals.ledger, proposals.reviews, number, Chosen(None, both[1:]), FINANCE)
    assert [row["decision"] for row in rows_of(proposals, number)] == ["left", "accepted"]


def test_a_reason_is_asked_for(proposals: Proposals) -> None:
    number = proposed(proposals)
    fault = refused(proposals, number, Refused, 1, overrides=[(1, " ")]).faults[0]
    assert fault.pointer == "#/overrides/0/reason"
    with pytest.raises(WrongValue, match="why"):
        reject_prices(proposals.ledger, number, "  ", FINANCE)


def test_every_row_of_a_long_list_is_named_twice_and_the_answer_stays_short(proposals: Proposals) -> None:
    number = proposed(proposals)
    rows = [1] * 60_000 + list(range(3, 40_003))
    faults = refused(proposals, number, Refused, *rows).faults
    assert (len(faults), faults[0].pointer) == (200, "#/rows/1")


def test_few_reviews_are_kept_since_each_holds_a_kitchen(proposals: Proposals) -> None:
    numbers = [proposed(proposals, content=bytes([number])) for number in range(1, MOST_KEPT + 10)]
    for number in numbers:
        told(proposals, number)
    assert len(proposals.reviews._kept) == MOST_KEPT


def test_the_names_of_a_page_of_proposals_are_read_once(proposals: Proposals, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(1, 12):
        proposed(proposals, content=bytes([number]))
    asked: list[int] = []
    head = proposals.ledger.head
    monkeypatch.setattr(type(proposals.ledger), "head", lambda _: asked.append(1) or head())
    data, _ = list_proposals(proposals.ledger, None, 100, None, None)
    assert ([one["supplier_name"] for one in data], len(asked)) == (["Fenmoor Yard"] * 11, 1)


def test_no_review_is_made_while_the_ledger_is_locked(proposals: Proposals, monkeypatch: pytest.MonkeyPatch) -> None:
    """That of a hundred thousand rows takes seconds, and each asks for a second connection."""
    number = proposed(proposals)
    record(proposals.ledger, an_ingredient("leek"))
    locked, made = [False], []
    write, at = type(proposals.ledger).write, Reviews.at

    @contextmanager
    def watched(*asked: Any) -> Iterator[Any]:
        with write(*asked) as work:
            locked[0] = True
            yield work
        locked[0] = False

    def watched_at(*asked: Any) -> Any:
        made.append(locked[0])
        return at(*asked)

    monkeypatch.setattr(type(proposals.ledger), "write", watched)
    monkeypatch.setattr(Reviews, "at", watched_at)
    accept_prices(proposals.ledger, Reviews(proposals.ledger), number, Chosen(None), FINANCE)
    assert made == [False, False]
