"""Answer a request once: the same Idempotency-Key gets the same answer, and the effect happens one time.

The answer is kept in the transaction of its effect, per key and route; a repeat takes no revision.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from service.use_cases.ports import Asker, Ledger, WriteWork


@dataclass(frozen=True, slots=True)
class Receipt:
    """The answer to a request that records something. `repeated` says that it was kept from the first time."""

    document: Mapping[str, Any]
    repeated: bool = False


def answered_once(
    ledger: Ledger, asker: Asker, effect: Callable[[WriteWork], Mapping[str, Any]], moves_figures: bool = True,
    kept: Callable[[Mapping[str, Any]], Mapping[str, Any]] = dict,
) -> Receipt:
    """Run `effect` in one write and answer with what it gives; `kept` takes out what must not be stored (secrets).

    Raises:  IdempotencyKeyReused, and whatever `effect` raises; then nothing is written.
    """
    with ledger.write(asker, moves_figures) as work:
        remembered = work.remembered()
        if remembered is not None:
            return Receipt(remembered, repeated=True)
        answer = effect(work)
        work.remember(kept(answer))
        return Receipt(answer)
