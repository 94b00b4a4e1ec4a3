"""What is wrong with a query, all of it told at once: parameters that there are not, those given twice, wrong values.

Rules that always hold: the values are read here only where a parameter is refused already (the view reads them else);
faults stand in the order of a body's, by the schema's fields and then what is none of them; at most 100 are told.
"""

from collections.abc import Callable, Mapping, Sequence

import marshmallow as ma
from werkzeug.datastructures import MultiDict

from service.domain.errors import Refused, WrongValue
from service.rest.http_faults import RepeatedParameter, UnknownParameter
from service.rest.sentences import MOST_TOLD, faults_of

FaultsOfValues = Callable[[Mapping[str, str]], Sequence[WrongValue]]
"""From parameters that a view has, each given once, to what is wrong with their values; a view carries its own."""


def faults_of_values(schema: ma.Schema, given: Mapping[str, str]) -> Sequence[WrongValue]:
    """What a schema finds wrong with the values of a query."""
    try:
        schema.load(given)
    except ma.ValidationError as error:
        return faults_of(error.normalized_messages(), "query")
    return ()


def no_values(_given: Mapping[str, str]) -> Sequence[WrongValue]:
    """Of a view that has no parameters."""
    return ()


def hold_to_parameters(known: Mapping[str, bool], args: MultiDict[str, str], of_values: FaultsOfValues) -> None:
    """Refuse a parameter that is not among the known, and one that is given twice and is no list.

    Raises:  Refused with every one of them, and with what is wrong with the values of the others.
    """
    refused = _refused(known, args)
    if not refused:
        return
    given = {name: ",".join(values) for name, values in args.lists() if name not in refused}
    wrong = [fault for fault in of_values(given) if fault.more["parameter"] not in refused]
    places = {name: place for place, name in enumerate(known)}
    faults = sorted([*wrong, *refused.values()], key=lambda fault: places.get(fault.more["parameter"], len(places)))
    raise Refused(faults[:MOST_TOLD])


def _refused(known: Mapping[str, bool], args: MultiDict[str, str]) -> Mapping[str, WrongValue]:
    offered = f"there are {', '.join(sorted(known))}" if known else "there are none here"
    refused: dict[str, WrongValue] = {}
    for name, values in args.lists():
        if name not in known:
            refused[name] = UnknownParameter(f"There is no query parameter {name[:64]!a}; {offered}.",
                                             parameter=name[:64])
        elif len(values) > 1 and not known[name]:
            refused[name] = RepeatedParameter(f"{name} is given {len(values)} times; give it once.", parameter=name)
    return refused
