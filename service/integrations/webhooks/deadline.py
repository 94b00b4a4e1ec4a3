"""A moment on the clock by which something has ended, however many steps it takes."""

from collections.abc import Callable
from time import monotonic


class Deadline:
    """So many seconds from now. What waits is given what is left, never a time of its own."""

    def __init__(self, seconds: float, clock: Callable[[], float] = monotonic) -> None:
        self._clock, self._at = clock, clock() + seconds

    def left(self, at_most: float | None = None) -> float:
        """Seconds that are left, or fewer.

        Raises:  TimeoutError when none is.
        """
        left = self._at - self._clock()
        if left <= 0:
            raise TimeoutError("the time is up")
        return left if at_most is None else min(left, at_most)
