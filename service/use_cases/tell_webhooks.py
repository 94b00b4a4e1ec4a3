"""Tell webhooks what happened: walk the timeline from where the cursor stands, and store a message for each that hears.

Rules that always hold: messages are worked out outside of any transaction, and stored together with the cursor's move
if it still stands where it did and no webhook has changed: so nothing is told twice or left out, whoever else tells at
the same time, and writers are not held up. What one transaction stores is bounded, also within one long step.
"""

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from service.domain.price_proposal import ProposalState
from service.domain.timeline import MovedBy, Place
from service.domain.webhook import HeardFrom, Webhook, WebhookState
from service.use_cases.cost_rows import rows_of_today
from service.use_cases.day_began import day_began
from service.use_cases.figure_timeline import FigureTimeline, Step
from service.use_cases.ports import Head, Ledger
from service.use_cases.position import Position
from service.use_cases.snapshots import Snapshots
from service.use_cases.webhook_events import Happening, items_of, proposal_happening
from service.use_cases.webhooks_port import Cursor, Glance, Message, Told

MOST_MESSAGES, MOST_STEPS, MOST_PROPOSALS = 500, 10, 100
"""About how much is stored at once: what is due is sent in between."""


def new_message_id() -> str:
    """The id of a message, by which receivers tell repeats: random, so that a restored ledger never gives one again."""
    return f"msg-{secrets.token_hex(12)}"


@dataclass
class _Batch:
    """What is gathered for one transaction."""

    webhooks: Sequence[Webhook]
    place: Place
    part: int
    proposal: int
    outside: set[str]
    most: int
    messages: list[Message] = field(default_factory=list)
    left_target: set[str] = field(default_factory=set)
    came_back: set[str] = field(default_factory=set)

    @property
    def full(self) -> bool:
        return len(self.messages) >= self.most

    def tell(self, happening: Happening, hearing: Sequence[Webhook]) -> None:
        """A message for each of those who hear and asked for such events."""
        for webhook in hearing:
            if webhook.hears(happening.event):
                data = happening.data | (happening.figures if webhook.figures else {})
                self.messages.append(Message(new_message_id(), webhook.id, happening.event, happening.at, data))

    def note(self, left: str | None, back: str | None) -> None:
        """Note a dish that is outside its target since, or no more; the last word of a batch counts."""
        if left is not None:
            self.outside.add(left)
            self.left_target.add(left)
            self.came_back.discard(left)
        if back is not None:
            self.outside.discard(back)
            self.came_back.add(back)
            self.left_target.discard(back)


class Telling:
    """Tells the webhooks of one ledger. For one thread."""

    def __init__(self, ledger: Ledger, timeline: FigureTimeline, snapshots: Snapshots,
                 most_messages: int = MOST_MESSAGES) -> None:
        self._ledger, self._timeline, self._snapshots = ledger, timeline, snapshots
        self._most_messages = most_messages
        self._nothing_new_at: tuple[object, ...] | None = None

    def tell(self, glance: Glance, now: datetime) -> bool:
        """Tell some of what is untold; whether there may be more. Costs one statement where nothing is new.

        False too where somebody else was faster: then it is for them to go on.
        """
        head = self._ledger.head()
        today = self._ledger.today_at(head)
        seen = (head.figures_revision, today, glance.cursor_version, glance.webhooks_revision, glance.proposal)
        if seen == self._nothing_new_at:
            return False
        webhooks = [one for one in self._ledger.webhooks.every() if one.state is WebhookState.ACTIVE]
        cursor = self._ledger.webhooks.cursor()
        told = self._told(cursor, webhooks, head, today, glance.proposal)
        if told is None:
            self._nothing_new_at = seen
            return False
        return self._ledger.webhooks.tell(cursor, told, now)

    def _told(self, cursor: Cursor, webhooks: Sequence[Webhook], head: Head, today: date, last_proposal: int
              ) -> Told | None:
        """What is to be stored; None where it is nothing."""
        if not webhooks:
            return None if cursor.place is None else Told((), None, 0, 0)
        revisions = {one.id: one.revision for one in webhooks}
        if cursor.place is None:
            return self._beginning(webhooks, revisions)
        batch = _Batch(webhooks, cursor.place, cursor.part, cursor.proposal, set(cursor.outside), self._most_messages)
        self._walk(batch, head, today)
        self._look_at_proposals(batch, last_proposal)
        if (batch.place, batch.part, batch.proposal) == (cursor.place, cursor.part, cursor.proposal):
            return None
        return Told(batch.messages, batch.place, batch.part, batch.proposal, batch.left_target, batch.came_back,
                    revisions)

    def _beginning(self, webhooks: Sequence[Webhook], revisions: dict[str, int]) -> Told:
        """The cursor where the first webhook hears from, and which dishes are outside their targets there."""
        places = list(_heard_from(webhooks))
        first = min(places, key=lambda each: each.place)
        revision, revision_hash = self._ledger.figures_at(first.place.revision)
        rows = rows_of_today(self._snapshots.at(Position(revision, revision_hash, first.place.day)))
        outside = [str(row["dish"]) for row in rows if row["within_target"] is False]
        place = Place(revision, first.place.day)
        return Told((), place, 0, min(each.proposal for each in places), outside, (), revisions)

    def _walk(self, batch: _Batch, head: Head, today: date) -> None:
        steps = self._timeline.steps(batch.place, head, today)
        for _, step in zip(range(MOST_STEPS), steps, strict=False):
            hearing = [one for one in batch.webhooks if one.heard_from and one.heard_from.hears_of(step.place)]
            items = items_of(step, self._happened_at(step, head), frozenset(batch.outside), batch.part)
            for index, item in enumerate(items, start=batch.part):
                if batch.full:
                    batch.part = index
                    return
                for happening in item.happenings:
                    batch.tell(happening, hearing)
                batch.note(item.left_target, item.came_back)
            batch.place, batch.part = step.place, 0
            if batch.full:
                return

    def _happened_at(self, step: Step, head: Head) -> datetime:
        """When: a revision at its commit, a day at its beginning."""
        place = step.place
        if step.moved_by is MovedBy.REVISION:
            return self._ledger.revisions((place.revision,))[place.revision].made_at
        return day_began(self._ledger.kitchen(head.figures_revision), place.day)

    def _look_at_proposals(self, batch: _Batch, last: int) -> None:
        """The proposals made since that still wait. They take no revision, so they are counted by their numbers."""
        until = min(last, batch.proposal + MOST_PROPOSALS)
        while not batch.full and batch.proposal < until:
            batch.proposal += 1
            proposal = self._ledger.proposal(batch.proposal)
            if proposal is not None and proposal.state is ProposalState.OPEN:
                batch.tell(proposal_happening(proposal), [
                    one for one in batch.webhooks if one.heard_from and proposal.id > one.heard_from.proposal])


def _heard_from(webhooks: Sequence[Webhook]) -> Iterator[HeardFrom]:
    return (one.heard_from for one in webhooks if one.heard_from is not None)
