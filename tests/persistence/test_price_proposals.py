"""Price proposals in the store, on SQLite and on PostgreSQL: kept as they were, for good once they ended."""

import json
import threading
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import DatabaseError

from service.domain.errors import ProposalClosed
from service.domain.price_list import DocumentCharge, FileFormat, Layout, PriceList, PriceRow, RowFault
from service.domain.price_proposal import PriceProposal, ProposalEnd, ProposalState
from service.domain.supplier import Supplier
from service.domain.supplier_item import Pack
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.persistence.numbering import UnknownIdentity
from service.persistence.tables.proposals import price_proposal_part
from service.persistence.verifying import verify
from tests.builders import a_price, a_primal
from tests.persistence.writing import CHEF, add, record

TEN = datetime(2026, 3, 2, 10, tzinfo=UTC)
LAYOUT = Layout((("item", "Art.-Nr."), ("price", "Preis")), 3, ",", ";", "windows-1252", "")
A_LIST = PriceList(FileFormat.CSV, (), reference="List 12", currency="GBP", layout=LAYOUT)
TOPSIDE = PriceRow(1, "line 4", "10-2345", "5000000000005", "Topside PAD", Decimal("14.20"), "14,20", Decimal(1420),
                   "GBP", Decimal("1.0"), "pack", "case", Pack("case", Decimal(2), Decimal("5.0"), "kg"),
                   date(2026, 12, 1), date(2027, 2, 28), Decimal(10), None, None, True)
UNREAD = PriceRow(2, "line 5", name="Shin", amount_text="on request",
                  faults=(RowFault("Preis", "It is no amount."), RowFault("", "Say which item it is.")))


@pytest.fixture
def suppliers(ledger):
    """A ledger at revision 1, with two suppliers."""
    record(ledger, Supplier("fenmoor", "Fenmoor"), Supplier("holt", "Holt"), a_primal())
    return ledger


def a_draft(rows=1, **facts):
    return PriceProposal(**{
        "id": 0, "supplier": "fenmoor", "effective_from": date(2026, 12, 1), "spread_charges": False,
        "file_name": "list.csv", "file_hash": "ab" * 32, "said": A_LIST, "rows": rows, "made_at": TEN,
        "key_id": "key-1", "who": "the chef", "base_revision": 1, **facts})


def propose(ledger, *rows, **facts):
    """Keep a draft and say which number it got."""
    with ledger.write(CHEF) as work:
        return work.add_proposal(a_draft(len(rows), **facts), rows)


def change(ledger, proposal, **facts):
    with ledger.write(CHEF) as work:
        work.change_proposal(replace(proposal, **facts))
    return replace(proposal, **facts)


def accepted(revision=2, **facts):
    return {"state": ProposalState.ACCEPTED, "end": ProposalEnd(TEN, "key-2", "the owner", revision, **facts)}


REJECTED = {"state": ProposalState.REJECTED, "end": ProposalEnd(TEN, "key-2", "the owner", None, "the wrong year")}


def test_a_draft_comes_back_as_it_was_and_takes_no_revision(suppliers, engines, clock):
    said = replace(A_LIST, supplier_name="Fenmoor & Sons", issued_on=date(2026, 11, 2), starts=date(2026, 12, 1),
                   ends=date(2027, 2, 28), complete=False, charges=(DocumentCharge("freight", Decimal("12.50")),
                                                                    DocumentCharge("rebate", Decimal("-1"))))
    kept = propose(suppliers, TOPSIDE, UNREAD, said=said, spread_charges=True)
    assert kept == a_draft(2, id=1, said=said, spread_charges=True)
    fresh = SqlLedger(engines, clock)
    assert fresh.proposal(1) == kept
    assert fresh.proposal_rows(1) == (TOPSIDE, UNREAD)
    assert str(fresh.proposal_rows(1)[0].amount) == "14.20"
    assert str(fresh.proposal(1).said.charges[0].amount) == "12.50"
    assert fresh.head().revision == 1
    assert fresh.proposal(2) is None
    assert fresh.proposal_rows(2) == ()


def test_without_a_layout_or_a_day_it_comes_back_too(suppliers):
    bare = PriceList(FileFormat.INVOICE, ())
    kept = propose(suppliers, PriceRow(1, "line 1"), said=bare, effective_from=None, file_name="", key_id="cli")
    assert suppliers.proposal(1) == kept
    assert suppliers.proposal(1).said == bare


def test_numbers_count_on_also_within_one_work_and_after_one_undone(suppliers):
    with suppliers.write(CHEF) as work:
        assert [work.add_proposal(a_draft(), [TOPSIDE]).id for _ in range(2)] == [1, 2]
    with pytest.raises(RuntimeError), suppliers.write(CHEF) as work:
        assert work.add_proposal(a_draft(), [TOPSIDE]).id == 3
        raise RuntimeError("thought better of it")
    assert propose(suppliers, TOPSIDE, id=77).id == 3
    assert [one.id for one in suppliers.proposals(None, 10, None, None)] == [3, 2, 1]


def test_rows_that_are_missing_are_not_taken_for_none(suppliers):
    with pytest.raises(ValueError, match="2 rows and is given 1"), suppliers.write(CHEF) as work:
        work.add_proposal(a_draft(2), [TOPSIDE])


def test_a_supplier_never_recorded_has_no_proposal_and_no_layout(suppliers):
    with pytest.raises(UnknownIdentity, match="brack"):
        propose(suppliers, TOPSIDE, supplier="brack")
    with pytest.raises(UnknownIdentity, match="brack"), suppliers.write(CHEF) as work:
        work.remember_layout("brack", LAYOUT)
    assert suppliers.proposals(None, 10, None, None) == ()


def test_proposals_are_listed_newest_first_page_by_page(suppliers):
    for supplier in ("fenmoor", "holt", "fenmoor", "fenmoor"):
        propose(suppliers, TOPSIDE, supplier=supplier)
    change(suppliers, suppliers.proposal(3), **REJECTED)

    def numbers(*asked):
        return [one.id for one in suppliers.proposals(*asked)]

    assert numbers(None, 3, None, None) == [4, 3, 2]
    assert numbers(2, 3, None, None) == [1]
    assert numbers(None, 9, "fenmoor", None) == [4, 3, 1]
    assert numbers(4, 1, "fenmoor", "open") == [1]
    assert numbers(None, 9, None, "rejected") == [3]
    assert numbers(None, 9, "brack", None) == []


def test_the_same_file_is_found_again_for_the_same_supplier(suppliers):
    propose(suppliers, TOPSIDE)
    propose(suppliers, TOPSIDE, file_hash="cd" * 32)
    propose(suppliers, TOPSIDE, supplier="holt")
    last = propose(suppliers, TOPSIDE)
    assert [one.id for one in suppliers.proposals_like("fenmoor", "ab" * 32)] == [4, 1]
    with suppliers.write(CHEF) as work:
        assert work.proposals_like("fenmoor", "ab" * 32)[0] == last == work.proposal(4)
        assert work.proposals_like("brack", "ab" * 32) == ()


def test_the_list_before_is_the_latest_complete_one_accepted(suppliers):
    part = replace(A_LIST, complete=False)
    for facts in ({}, {}, {"said": part}, {"supplier": "holt"}, {}, {}):
        propose(suppliers, TOPSIDE, **facts)
    for number in (1, 2, 3, 4):
        change(suppliers, suppliers.proposal(number), **accepted())
    change(suppliers, suppliers.proposal(5), **REJECTED)
    assert [one and one.id for one in (suppliers.list_before("fenmoor", number) for number in (6, 3, 2, 1))] == [
        2, 2, 1, None]
    assert suppliers.list_before("holt", 4) is None
    assert suppliers.list_before("fenmoor", 6) == suppliers.proposal(2)


def test_another_look_changes_the_look_alone(suppliers):
    draft = propose(suppliers, TOPSIDE)
    other = replace(draft, file_name="other.csv", who="somebody", rows=7, said=replace(A_LIST, currency="EUR"))
    change(suppliers, other, base_revision=9, looks=2)
    assert suppliers.proposal(1) == replace(draft, base_revision=9, looks=2)
    assert suppliers.head().revision == 1


def test_how_it_ended_is_kept_with_every_price_and_reason(suppliers):
    prices = {1: "2-1", 2: "2-2", 3: "2-3", 7: "2-4", 9: "2-9", 10: "2-5", 11: "2-6"}
    ended = change(suppliers, propose(suppliers, TOPSIDE), **accepted(
        prices=prices, overrides={9: "Agreed by telephone", 2: "é"}))
    assert suppliers.proposal(1) == ended
    assert suppliers.proposal(1).end.prices == prices
    rejected = change(suppliers, propose(suppliers, TOPSIDE), **REJECTED)
    assert suppliers.proposal(2) == rejected


def test_the_prices_of_a_long_list_are_kept_in_few_words(suppliers, engines):
    prices = {row: f"2-{row}" for row in range(1, 100_001)}
    change(suppliers, propose(suppliers, TOPSIDE), **accepted(prices=prices))
    assert suppliers.proposal(1).end.prices == prices
    with engines.read() as connection:
        assert connection.scalar(text("SELECT length(ended) FROM price_proposal")) < 200


@pytest.mark.parametrize("price", ["3-1", "2-01", "2-", "2-x", "21-1"])
def test_a_price_of_another_revision_is_not_one_of_this_proposal(suppliers, price):
    draft = propose(suppliers, TOPSIDE)
    with pytest.raises(ValueError):
        change(suppliers, draft, **accepted(prices={1: price}))
    assert suppliers.proposal(1) == draft


@pytest.mark.parametrize("end", [accepted(), REJECTED])
@pytest.mark.parametrize("then", [accepted(3), REJECTED, {"looks": 2, "base_revision": 5}])
def test_what_has_ended_never_changes_again(suppliers, end, then):
    draft = propose(suppliers, TOPSIDE)
    ended = change(suppliers, draft, **end)
    with pytest.raises(ProposalClosed, match="proposal 1 is not open"):
        change(suppliers, draft, **then)
    assert suppliers.proposal(1) == ended


def test_a_change_of_one_never_made_is_refused(suppliers):
    with pytest.raises(ProposalClosed, match="never made"):
        change(suppliers, a_draft(id=1), looks=2)


def test_an_end_that_is_refused_takes_its_prices_with_it(suppliers):
    draft = propose(suppliers, TOPSIDE)
    change(suppliers, draft, **REJECTED)
    with pytest.raises(ProposalClosed), suppliers.write(CHEF) as work:
        add(work, a_price())
        work.change_proposal(replace(draft, **accepted(prices={1: "2-1"})))
    assert suppliers.head().revision == 1
    assert suppliers.kitchen(1).prices == {}


def test_prices_and_the_end_of_their_proposal_are_one_revision(suppliers, engines):
    draft = propose(suppliers, TOPSIDE)
    with suppliers.write(CHEF) as work:
        mark = add(work, a_price())
        work.change_proposal(replace(draft, **accepted(mark.revision, prices={1: f"{mark.revision}-{mark.entry}"})))
    assert suppliers.head().revision == 2
    assert suppliers.proposal(1).end.prices == {1: suppliers.kitchen(2).prices["beef-topside"][0].id}
    assert verify(engines) == []


def test_of_two_who_accept_at_once_one_is_told(suppliers):
    """The head's lock decides: the second one reads after the first has committed."""
    told = []

    def accept(number, together):
        together.wait()
        with suppliers.write(CHEF) as work:
            proposal = work.proposal(number)
            if proposal.end is not None:
                told.append(number)
                return
            mark = add(work, a_price())
            work.change_proposal(replace(proposal, **accepted(mark.revision, prices={1: f"{mark.revision}-1"})))

    for _ in range(20):
        number, together = propose(suppliers, TOPSIDE).id, threading.Barrier(2)
        both = [threading.Thread(target=accept, args=(number, together)) for _ in range(2)]
        for one in both:
            one.start()
        for one in both:
            one.join()
    assert told == list(range(1, 21))
    assert suppliers.head().revision == 21
    assert len({one.end.revision for one in suppliers.proposals(None, 30, None, "accepted")}) == 20


def test_a_layout_is_remembered_in_place_of_the_one_before(suppliers):
    assert suppliers.layout_of("fenmoor") is None
    for header in (2, 3):
        with suppliers.write(CHEF) as work:
            work.remember_layout("fenmoor", replace(LAYOUT, header_line=header, sheet="Preisliste \u00e4"))
    assert suppliers.layout_of("fenmoor") == replace(LAYOUT, header_line=3, sheet="Preisliste \u00e4")
    assert suppliers.layout_of("holt") is None
    assert suppliers.head().revision == 1


def test_a_long_list_is_kept_a_thousand_rows_to_a_part(suppliers, engines):
    rows = [TOPSIDE._replace(number=number, place=f"line {number + 3}") for number in range(1, 2_502)]
    propose(suppliers, *rows)
    propose(suppliers, UNREAD)
    assert suppliers.proposal_rows(1) == tuple(rows)
    assert suppliers.proposal_rows(2) == (UNREAD,)
    with engines.read() as connection:
        texts = connection.execute(select(price_proposal_part.c.rows).where(
            price_proposal_part.c.proposal_id == 1).order_by(price_proposal_part.c.position)).scalars().all()
    assert [len(json.loads(one)["number"]) for one in texts] == [1_000, 1_000, 501]


@pytest.mark.parametrize("statement", [
    "UPDATE price_proposal SET state = 'accepted'",
    "UPDATE price_proposal SET ended = '{}'",
    "UPDATE price_proposal SET state = 'lost', ended = '{}'",
    "UPDATE price_proposal SET supplier_id = 99",
    "UPDATE price_proposal SET looks = 0",
    "UPDATE price_proposal SET base_revision = -1",
    "UPDATE price_proposal SET file_hash = 'short'",
    "UPDATE price_proposal SET spread_charges = 2",
    "UPDATE price_proposal_part SET position = 0",
    "DELETE FROM price_proposal",
])
def test_the_database_itself_holds_what_people_rely_on(suppliers, engines, statement):
    propose(suppliers, TOPSIDE)
    with pytest.raises(DatabaseError, match=r"(?i)constraint"), engines.write() as connection:
        connection.execute(text(statement))


def test_proposals_go_with_their_migration_and_the_rest_stays(suppliers, engines, database_url):
    propose(suppliers, TOPSIDE)
    migrate(database_url, "0004")
    with engines.read() as connection:
        assert "price_proposal" not in connection.dialect.get_table_names(connection)
    migrate(database_url)
    with engines.read() as connection:
        assert connection.scalar(select(func.count()).select_from(price_proposal_part)) == 0
    assert propose(suppliers, TOPSIDE).id == 1
    assert verify(engines) == []
