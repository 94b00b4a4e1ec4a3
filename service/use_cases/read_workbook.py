"""Read the workbook: the whole menu, or chosen dishes, as sheets whose cells compute.

A workbook is made whole, in one request; so it has at most MOST_LINES lines: a menu of a thousand dishes with all that
they rest on. Of a longer one, dishes are named. A worker makes one at a time while another waits, so that workbooks
never take all the threads that answer; who finds no place within a second is asked to come again. The last are kept.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence

from service.domain.errors import LimitPassed, ReadersBusy, UnknownReference
from service.domain.workbook import LiveWorkbook, live_workbook
from service.domain.workbook_source import WorkbookSource
from service.use_cases.position import Position
from service.use_cases.snapshot import Snapshot

MOST_LINES = 15_000
KEPT = 3
PLACES, PATIENCE_SECONDS = 2, 1.0
"""How many requests at once a worker has for what it has yet to make, and how long another one waits for a place."""
WriteWorkbook = Callable[[LiveWorkbook], bytes]
"""From a live workbook to the bytes of a file."""


def workbook_source(snapshot: Snapshot, dishes: Sequence[str]) -> WorkbookSource:
    """What the workbook of the dishes named shows; of everything when none is named.

    Raises:  UnknownReference for a dish that does not stand that day; LimitPassed for more lines than a workbook has.
    """
    missing = [code for code in dishes if code not in snapshot.kitchen.dishes]
    if missing:
        raise UnknownReference(
            f"There is no dish {', '.join(map(repr, missing))} on {snapshot.position.day}: leave it out, or correct "
            "its code.", parameter="dishes", dishes=missing)
    source = WorkbookSource(snapshot.kitchen, snapshot.costing, tuple(dishes) or None)
    if source.lines > MOST_LINES:
        raise LimitPassed(
            f"The workbook would have {source.lines} lines of dishes, recipes, cuts and prices; one has at most "
            f"{MOST_LINES}. Name the dishes that you want, as in dishes=grilled-cap,beef-pie.",
            parameter="dishes", limit="workbook_lines", at_most=MOST_LINES, found=source.lines)
    return source


class Workbooks:
    """The workbooks of one worker."""

    def __init__(self, write: WriteWorkbook) -> None:
        self._write = write
        self._kept: OrderedDict[tuple[Position, tuple[str, ...]], bytes] = OrderedDict()
        self._lock, self._places = threading.Lock(), threading.BoundedSemaphore(PLACES)

    def of(self, snapshot: Snapshot, source: WorkbookSource) -> bytes:
        """The file of what the source shows at the snapshot's position.

        Raises:  ReadersBusy while one is being made and another waits.
        """
        key = (snapshot.position, source.chosen or ())
        found = self._kept.get(key)
        if found is not None:
            return found
        if not self._places.acquire(timeout=PATIENCE_SECONDS):
            raise ReadersBusy("Other workbooks are being made. Ask for yours again in some seconds.")
        try:
            with self._lock:
                return self._kept[key] if key in self._kept else self._keep(key, snapshot, source)
        finally:
            self._places.release()

    def _keep(self, key: tuple[Position, tuple[str, ...]], snapshot: Snapshot, source: WorkbookSource) -> bytes:
        self._kept[key] = made = self._write(live_workbook(source, snapshot.position.revision))
        if len(self._kept) > KEPT:
            self._kept.popitem(last=False)
        return made
