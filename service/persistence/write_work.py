"""One write: what is to be recorded is gathered, and stored as one revision when the work ends without a fault.

Rules that always hold: the head's lock is held from the first statement; a mark belongs to an entry of this very
work, and what carries it is of the kind and code that the entry names (this is what readers advance by); a work
without entries takes no revision.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, insert, update

from service.domain.history import Mark, Version
from service.domain.kitchen import Kitchen
from service.domain.price import Price, Withdrawal
from service.domain.price_list import Layout, PriceRow
from service.domain.price_proposal import PriceProposal
from service.domain.yield_test import YieldTest
from service.persistence import access_keys, entry_reading, proposal_reading, remembering
from service.persistence.feed_links import SqlFeedLinkWork
from service.persistence.hash_chain import RevisionFacts, revision_hash
from service.persistence.kitchen_keeping import KitchenKeeper
from service.persistence.margin_alerts import SqlMarginAlertWork
from service.persistence.proposal_storing import ProposalsGathered, store_proposals
from service.persistence.record_storing import Gathered, store_records
from service.persistence.row_storing import store_columns
from service.persistence.sales import SqlSalesWork
from service.persistence.tables import chain
from service.persistence.webhook_storing import SqlWebhookWork
from service.use_cases.canonical import canonical_texts
from service.use_cases.ports import AccessKey, Asker, Entry, Head, RecordedEntry


class SqlWriteWork:
    """A `WriteWork` on a connection that holds the head's lock."""

    def __init__(self, connection: Connection, keeper: KitchenKeeper, asker: Asker, head: Head,
                 now: datetime, today: date, moves_figures: bool) -> None:
        self.head, self.now, self.today = head, now, today
        self.feeds, self.sales = SqlFeedLinkWork(connection), SqlSalesWork(connection)
        self.webhooks, self.margin_alerts = SqlWebhookWork(connection), SqlMarginAlertWork(connection)
        self._connection, self._keeper, self._asker = connection, keeper, asker
        self._moves_figures = moves_figures
        self._entries: list[Entry] = []
        self._gathered = Gathered()
        self._proposals = ProposalsGathered()
        self._keys: list[tuple[AccessKey, str]] = []
        self._revoked: list[tuple[str, datetime]] = []
        self._answer: Mapping[str, Any] | None = None
        self.revision: int | None = None
        """What it was stored as; None until then, and where there was nothing to store."""

    def kitchen(self) -> Kitchen:
        """All that was recorded before this work, read under the lock."""
        return self._keeper.at(self._connection, self.head.revision)

    def entries_of(self, kind: str, code: str, after_revision: int) -> Sequence[RecordedEntry]:
        return entry_reading.entries_of(self._connection, kind, code, after_revision)

    def every_key(self) -> Sequence[AccessKey]:
        return access_keys.all_keys(self._connection)

    def next_mark(self, entry: Entry) -> Mark:
        self._entries.append(entry)
        return Mark(self.head.revision + 1, len(self._entries))

    def add_version(self, kind: str, code: str, version: Version[Any]) -> None:
        self._check(version.made, kind, code)
        self._gathered.versions.append((kind, code, version))

    def add_price(self, price: Price) -> None:
        self._check(price.made, "price", price.ingredient)
        self._gathered.prices.append(price)

    def withdraw_price(self, price: Price) -> None:
        self._check(_taken_back(price.withdrawn), "price", price.ingredient)
        self._gathered.withdrawn.append(price)

    def add_yield_test(self, test: YieldTest) -> None:
        self._check(test.made, "yield_test", test.breakdown)
        self._gathered.yield_tests.append(test)

    def set_aside_yield_test(self, test: YieldTest) -> None:
        self._check(_taken_back(test.set_aside), "yield_test", test.breakdown)
        self._gathered.set_aside.append(test)

    def add_key(self, key: AccessKey, secret_hash: str) -> None:
        self._check_recorded()
        self._keys.append((key, secret_hash))

    def revoke_key(self, key_id: str, at: datetime) -> None:
        self._check_recorded()
        self._revoked.append((key_id, at))

    def proposal(self, number: int) -> PriceProposal | None:
        return proposal_reading.proposal(self._connection, number)

    def proposals_like(self, supplier: str, file_hash: str) -> Sequence[PriceProposal]:
        return proposal_reading.proposals_like(self._connection, supplier, file_hash)

    def add_proposal(self, proposal: PriceProposal, rows: Sequence[PriceRow]) -> PriceProposal:
        return self._proposals.add(self._connection, proposal, rows)

    def change_proposal(self, proposal: PriceProposal) -> None:
        self._proposals.changes.append(proposal)

    def remember_layout(self, supplier: str, layout: Layout) -> None:
        self._proposals.layouts[supplier] = layout

    def remembered(self) -> Mapping[str, Any] | None:
        return remembering.remembered(self._connection, self._asker, self.now)

    def remember(self, answer: Mapping[str, Any]) -> None:
        self._answer = answer

    def store(self) -> None:
        """Store all that was gathered, in the transaction that holds the lock."""
        if self._entries:
            self._store_revision()
            revision = self.revision = self.head.revision + 1
            store_records(self._connection, revision, self._gathered, self._keeper.numbers(self.head.revision))
            access_keys.store(self._connection, revision, self._keys, self._revoked)
            for part in (self.feeds, self.sales, self.webhooks, self.margin_alerts):
                part.store(revision)
        store_proposals(self._connection, self._proposals)
        if self._answer is not None:
            remembering.remember(self._connection, self._asker, self.now, self._answer)

    def _store_revision(self) -> None:
        head, asker, connection = self.head, self._asker, self._connection
        facts = RevisionFacts(
            head.revision + 1, self.now, self.today, asker.key_id, asker.name, asker.request_id, self._moves_figures)
        entries = _stored(self._entries)
        new_hash = revision_hash(head.hash, facts, zip(*entries.values(), strict=True))
        connection.execute(insert(chain.revision), {
            "number": facts.number, "made_at": facts.made_at, "on_date": facts.on_date, "key_id": facts.key_id,
            "who": facts.who, "request_id": facts.request_id, "moves_figures": facts.moves_figures,
            "previous_hash": head.hash, "hash": new_hash})
        store_columns(connection, chain.entry, {"revision": [facts.number] * len(self._entries), **entries})
        moved = {"figures_revision": facts.number, "figures_hash": new_hash} if self._moves_figures else {}
        connection.execute(update(chain.ledger_head).where(chain.ledger_head.c.id == 1).values(
            revision=facts.number, on_date=facts.on_date, hash=new_hash, **moved))

    def _check_recorded(self) -> None:
        if not self._entries:
            raise ValueError("Say so in an entry first: what is not in the ledger did not happen.")

    def _check(self, mark: Mark, kind: str, code: str) -> None:
        """Hold what is stored to the entry that says so."""
        if mark.revision != self.head.revision + 1 or not 1 <= mark.entry <= len(self._entries):
            raise ValueError(f"{mark} is no entry of this work.")
        entry = self._entries[mark.entry - 1]
        if (entry.kind, entry.code) != (kind, code):
            raise ValueError(f"Entry {mark.entry} is about {entry.kind} {entry.code!r}, not {kind} {code!r}.")


def _stored(entries: Sequence[Entry]) -> dict[str, Sequence[Any]]:
    """The entries with their numbers and texts, column by column in the order of `StoredEntry`."""
    return {
        "number": range(1, len(entries) + 1),
        "action": [entry.action for entry in entries],
        "kind": [entry.kind for entry in entries],
        "code": [entry.code for entry in entries],
        "document": canonical_texts([entry.document for entry in entries]),
    }


def _taken_back(withdrawal: Withdrawal | None) -> Mark:
    if withdrawal is None:
        raise ValueError("What is taken back says by which entry and why.")
    return withdrawal.made
