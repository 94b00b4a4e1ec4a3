"""The changes that a what-if supposes, as a scenario has them: held to what recording them would be held to.

Every fault is told at once, at the field that is wrong; nothing is supposed by halves.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from service.domain.bounds import check_bounds
from service.domain.errors import Fault, LimitPassed, Refused
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.loops import find_loop, loop_fault
from service.domain.network import Key
from service.domain.scenario import NewVersion, Supposed, kitchen_under
from service.domain.uses import uses_of
from service.use_cases.line_checks import line_faults
from service.use_cases.what_if_asked import Supposition
from service.use_cases.what_if_prices import SupposedPrices
from service.use_cases.what_if_records import SupposedRecords


def supposed_changes(kitchen: Kitchen, standing: KitchenOnDay, asked: Supposition) -> list[Supposed]:
    """The changes in the order in which a revision would record them: prices, then records.

    Raises:  Refused with every fault.
    """
    day = standing.day
    prices, records = SupposedPrices(kitchen, day), SupposedRecords(standing, day)
    prices.take(asked)
    records.take(asked)
    versions = records.versions()
    faults = [*prices.faults, *records.faults]
    if not faults:
        faults += _swap_faults(kitchen, day, versions, records.swapped)
    if faults:
        raise Refused(faults)
    return [*prices.changes, *versions]


def _swap_faults(kitchen: Kitchen, day: date, versions: Sequence[NewVersion],
                 swapped: Mapping[Key, Mapping[int, str]]) -> Iterator[Fault]:
    """What is wrong with the lines that were swapped, and the loops and bounds that they would bring about."""
    if not swapped:
        return
    after = kitchen_under(kitchen, versions)
    uses = uses_of(after.on(day))
    for version in versions:
        key = (version.kind, version.code)
        if key in swapped:
            yield from _line_faults(version, after, swapped[key])
            yield from _network_faults(uses, key, next(iter(swapped[key].values())))


def _line_faults(version: NewVersion, after: Kitchen, swapped: Mapping[int, str]) -> Iterator[Fault]:
    """What is wrong with the lines that were swapped; what was wrong with others before is nobody's fault now."""
    for fault in line_faults(version.record.lines, after, version.day, itself=(version.kind, version.code)):
        _, _, rest = (fault.pointer or "").partition("#/lines/")
        number, _, member = rest.partition("/")
        if number.isdigit() and int(number) in swapped:
            yield fault.at(f"{swapped[int(number)]}/{member if member in ('unit', 'quantity') else 'instead'}")


def _network_faults(uses: Mapping[Key, tuple[Key, ...]], key: Key, pointer: str) -> Iterator[Fault]:
    loop = find_loop(uses, key)
    if loop is not None:
        yield loop_fault(loop, f"{pointer}/instead")
        return
    try:
        check_bounds(uses, [key])
    except LimitPassed as passed:
        yield passed.at(f"{pointer}/instead")
