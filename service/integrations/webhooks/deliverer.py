"""The deliverer: tells webhooks what happened, and sends what is due, several at a time, until it is stopped.

Rules that always hold: what is claimed is claimed for a while, so that another deliverer has it when this one is
killed; a receiver that hangs holds up its own messages alone, since each webhook has few in flight, fewer while it
fails, and where many wait the one that was served least recently comes next; with nothing to do it asks the database
once a second in passing, and does a little of what else is to be done in passing. Sending is done by threads that end
with the process, everything else by the one that runs.
"""

import logging
import queue
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from time import monotonic

from service.domain.webhook import DeliveryState
from service.use_cases.deliver_webhooks import KEPT_FOR, PRUNED_AT_ONCE, header_fields, note, what_follows
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.use_cases.ports import Ledger
from service.use_cases.tell_webhooks import Telling
from service.use_cases.webhook_sending import Came, Outcome, Send
from service.use_cases.webhooks_port import Claimed, Tried

LOG = logging.getLogger("seamcost.deliver")

IN_FLIGHT, IN_FLIGHT_OF_ONE, IN_FLIGHT_WHILE_FAILING = 64, 4, 1
LEASE = timedelta(seconds=90)
"""Longer than the longest call takes."""
PAUSE_SECONDS = 1.0
FAULT_PAUSE_SECONDS = 5.0
PRUNING_EVERY_SECONDS = 600.0
BEAT_EVERY_SECONDS = 10.0
LAST_ANSWERS_SECONDS = 8.0
"""How long answers are waited for once it is told to stop; what they come after is sent again by somebody."""


class Deliverer:
    """Delivers for one ledger. `run` is for one thread; `stop` may be called from any, and from a signal handler."""

    def __init__(self, ledger: Ledger, telling: Telling, send: Send, clock: Callable[[], datetime],
                 in_flight: int = IN_FLIGHT, in_passing: Callable[[], None] = lambda: None) -> None:
        self._in_passing = in_passing
        self._ledger, self._telling, self._send, self._clock = ledger, telling, send, clock
        self._most_in_flight = in_flight
        self._came: queue.SimpleQueue[Tried | None] = queue.SimpleQueue()
        self._unnoted: list[Tried] = []
        self._in_flight: Counter[str] = Counter()
        self._failing: set[str] = set()
        self._served: dict[str, int] = {}
        self._turns = 0
        self._stopping = threading.Event()
        self._pruned_at = float("-inf")  # at once: of those that are run now and then none lives for long
        self._beat_at: float | None = None

    def run(self, at_work: Callable[[], None] = lambda: None) -> None:
        """Work until told to stop, and tell `at_work` whenever a turn came through. A database that does not answer is
        waited for."""
        while not self._stopping.is_set():
            try:
                pause = 0.0 if self.turn() else PAUSE_SECONDS
                at_work()
            except LedgerUnavailable as unavailable:
                LOG.warning("Waiting for the database: %s", unavailable)
                pause = FAULT_PAUSE_SECONDS
            except Exception:
                LOG.exception("A turn of the deliverer broke; it goes on")
                pause = FAULT_PAUSE_SECONDS
            self._collect(pause)
        self._finish()

    def run_until_idle(self) -> None:
        """Tell and send all that is due now, and wait for what comes of it."""
        while self.turn() or self._in_flight:
            self._collect(PAUSE_SECONDS)

    def stop(self) -> None:
        """Have `run` come to its end."""
        self._stopping.set()
        self._came.put(None)

    def turn(self) -> bool:
        """Note what came, tell some, send some; whether there may be more to do at once."""
        self._note()
        glance = self._ledger.webhooks.glance(self._clock())
        if glance.active:
            self._beat()
        more = self._telling.tell(glance, self._clock())
        self._note()  # what came while it was telling would else be sent again once its lease is over
        sent = self._send_due() if glance.due or more else False
        self._prune()
        if not more and not sent:
            self._in_passing()
        return more or sent

    def _note(self) -> None:
        self._collect(0)
        if self._unnoted:
            note(self._ledger, self._unnoted)
            self._unnoted = []

    def _collect(self, seconds: float) -> None:
        """Take what has come; wait so long for the first."""
        try:
            while True:
                tried = self._came.get(timeout=seconds) if seconds else self._came.get_nowait()
                seconds = 0
                if tried is not None:
                    self._take(tried)
        except queue.Empty:
            return

    def _take(self, tried: Tried) -> None:
        webhook = tried.claimed.webhook
        self._unnoted.append(tried)
        self._in_flight[webhook] -= 1
        self._in_flight += Counter()
        if tried.state is DeliveryState.DELIVERED:
            self._failing.discard(webhook)
        else:
            self._failing.add(webhook)

    def _send_due(self) -> bool:
        """Claim what there is room for and send it; whether anything was."""
        sent = False
        now = self._clock()
        self._turns += 1
        due = self._in_turn(self._ledger.webhooks.due(now))
        share = max(1, self._free() // len(due)) if due else 0
        for webhook in due:
            most = IN_FLIGHT_WHILE_FAILING if webhook in self._failing else IN_FLIGHT_OF_ONE
            room = min(most - self._in_flight[webhook], share, self._free())
            for claimed in self._ledger.webhooks.claim(webhook, room, now, now + LEASE) if room > 0 else ():
                threading.Thread(target=self._try, args=(claimed,), daemon=True, name=f"send {claimed.id}").start()
                self._in_flight[webhook] += 1
                self._served[webhook] = self._turns
                sent = True
        return sent

    def _in_turn(self, due: Sequence[str]) -> list[str]:
        """Those who have least in flight first, and of these who was served least recently: else a few that take their
        time and always have more would leave nothing to the others."""
        return sorted(due, key=lambda webhook: (self._in_flight[webhook], self._served.get(webhook, 0)))

    def _free(self) -> int:
        return self._most_in_flight - self._in_flight.total()

    def _try(self, claimed: Claimed) -> None:
        """Send one message, in a thread of its own."""
        try:
            outcome = self._send(claimed.url, header_fields(claimed, self._clock()), claimed.body.encode())
        except Exception:
            LOG.exception("Message %s could not be sent", claimed.id)
            outcome = Outcome(Came.NOT_REACHED)
        self._came.put(what_follows(claimed, outcome, self._clock()))

    def _beat(self) -> None:
        """Where webhooks are, a deliverer is missed when it is gone: it says now and then that it is there."""
        if self._beat_at is None or monotonic() - self._beat_at >= BEAT_EVERY_SECONDS:
            self._ledger.webhooks.beat(self._clock())
            self._beat_at = monotonic()

    def _prune(self) -> None:
        if monotonic() - self._pruned_at < PRUNING_EVERY_SECONDS:
            return
        if self._ledger.webhooks.prune(self._clock() - KEPT_FOR, PRUNED_AT_ONCE) < PRUNED_AT_ONCE:
            self._pruned_at = monotonic()
            self._forget_those_deleted()

    def _forget_those_deleted(self) -> None:
        there = {webhook.id for webhook in self._ledger.webhooks.every()}
        self._failing &= there
        self._served = {webhook: turn for webhook, turn in self._served.items() if webhook in there}

    def _finish(self) -> None:
        """Note the answers that still come in time."""
        until = monotonic() + LAST_ANSWERS_SECONDS
        while self._in_flight and monotonic() < until:
            self._collect(0.2)
        try:
            self._note()
        except LedgerUnavailable as unavailable:
            LOG.warning("What came last is not noted and will be sent again: %s", unavailable)
