"""A request that the database undid is asked again, here: the whole view once more, from what was read of the request.

That is safe, and only then done: the database says of its own that nothing of the transaction is left, and a request
commits one transaction at most (a test holds every operation to that), so there is no earlier effect to double. What
two transactions that cross each other undo, a pause of chance lets through one after the other; so does a standby that
cancels a read to go on replaying. Who never gets through is told to come back (503).

Source:  PostgreSQL documentation, section 13.5: retry the complete transaction, the decisions included.
"""

import logging
import random
import time
from collections.abc import Callable
from typing import TypeVar

from service.use_cases.ledger_unavailable import Undone

TRIES = 5
LONGEST_PAUSE_SECONDS = 0.32
_LOG = logging.getLogger("seamcost.rest")

T = TypeVar("T")


def asked_again(view: Callable[[], T], wait: Callable[[float], None] = time.sleep,
                again: Callable[[], None] = lambda: None) -> T:
    """What the view answers, at its fifth try at the latest. `again` is told of each try after the first.

    Raises:  Undone, when each of the tries was; whatever else the view raises, at once.
    """
    for tried in range(1, TRIES):
        try:
            return view()
        except Undone as undone:
            _LOG.info("asked again after try %d: %s", tried, undone)
            again()
            wait(random.uniform(0, LONGEST_PAUSE_SECONDS / 2 ** (TRIES - 1 - tried)))
    return view()
