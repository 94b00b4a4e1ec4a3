"""How many connections to a PostgreSQL a process may hold, and for what.

Each kind of work has its own, so that none keeps another waiting: what every request asks first, what is noted in
passing (never behind a long writer), writes (which wait for each other at the head anyway), and reads.

| of 8 | for | one more waits | then |
| --- | --- | --- | --- |
| 2 | quick statements: head and key | 5 s | 503 |
| 1 | in passing: last use, leases, alerts | 0.1 s | it is done later |
| 2 | writes | 10 s, then at the head 10 s | 503 |
| 3 | reads: kitchens, lists, pages | 10 s | 503 |
"""

from dataclasses import dataclass

FEWEST, MOST, USUAL = 4, 512, 8
PATIENCE_SECONDS, PASSING_PATIENCE_SECONDS = 10.0, 0.1


@dataclass(frozen=True, slots=True)
class Shares:
    """Connections by what they are for."""

    quick: int
    passing: int
    writing: int
    reading: int

    @property
    def together(self) -> int:
        return self.quick + self.passing + self.writing + self.reading


def shares_of(connections: int) -> Shares:
    """Split what a process may hold. Fewer than four are taken for four: one of each kind."""
    most = max(FEWEST, connections)
    quick, passing, writing = most // 4, max(1, most // 8), most // 4
    return Shares(quick, passing, writing, most - quick - passing - writing)
