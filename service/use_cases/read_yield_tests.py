"""Read yield tests: those of a breakdown, the yields they give, and how sure those are."""

from datetime import date

from service.domain.errors import NotFound
from service.domain.kitchen import Kitchen
from service.domain.yields import yields_of
from service.use_cases.documents import yield_test_document
from service.use_cases.read_record import Listed, page_by_id


def yield_tests(kitchen: Kitchen, breakdown: str, day: date, after: str, limit: int) -> Listed:
    """The tests of a breakdown, the one recorded last first, each saying whether it counts on `day` and why not.

    Raises:  NotFound.
    """
    if breakdown not in kitchen.breakdowns:
        raise NotFound(f"There is no breakdown {breakdown!r}.")
    tests = kitchen.yield_tests.get(breakdown, ())
    standing = kitchen.on(day).breakdowns.get(breakdown)
    counting = {test.id for test in yields_of(standing, tests, day).counting} if standing is not None else set()
    rows = [yield_test_document(test) | {"counts": test.id in counting} for test in reversed(tests)]
    return page_by_id(rows, after, limit)
