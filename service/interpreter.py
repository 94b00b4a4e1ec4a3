"""How the interpreter of a process of the service behaves: its garbage collector, and the turns of its threads."""

import gc
import sys

TURN_SECONDS = 0.001
"""How long a thread that computes keeps the interpreter once another wants it. A poll wants it again after each word
with its database: at Python's 5 ms a till beside an import waits three times as long (measured; see DEVELOPERS.md)."""


def suit_the_service() -> None:
    """Have threads take turns more often, and the garbage collector look for cycles less often: a kitchen is a million
    objects that stay, with none.

    At Python's own thresholds a price list of 10 000 rows spends a third of its time on walking over them.
    """
    gc.set_threshold(50_000, 50, 100)
    sys.setswitchinterval(TURN_SECONDS)
