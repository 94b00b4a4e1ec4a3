"""Whether every value of one JSON schema is a value of another: what a request may still be, what an answer still is.

Rules that always hold: what cannot be decided counts as a misfit, so that a person looks at it; annotations decide
nothing, but a changed default of a request does (the same request then means something else). Branches of `oneOf` are
taken to exclude each other, as those with a discriminator do.

Source: JSON Schema 2020-12, core and validation; the judge of single values is the library jsonschema.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from operator import ge, gt, le, lt
from typing import Any

from jsonschema import Draft202012Validator

Schema = Mapping[str, Any]
_TYPES = ("string", "number", "boolean", "array", "object", "null")
_ANNOTATIONS = frozenset(("description", "title", "example", "examples", "default", "deprecated", "readOnly",
                          "writeOnly", "format", "$comment"))
ASKED_BY = "x-asked-by"
"""Marks an alternative that only an answer to a request with that parameter is."""
_COMPARED = frozenset((
    "type", "enum", "const", "pattern", "minLength", "maxLength", "minimum", "maximum", "exclusiveMinimum",
    "exclusiveMaximum", "multipleOf", "items", "minItems", "maxItems", "uniqueItems", "properties", "required",
    "additionalProperties", "discriminator"))
_OF_TYPE = {"string": ("minLength", "maxLength"), "array": ("minItems", "maxItems"),
            "number": ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")}
_BOUND_BY: Mapping[str, Sequence[tuple[str, Callable[[Any, Any], bool]]]] = {
    "minLength": (("minLength", ge),), "maxLength": (("maxLength", le),),
    "minItems": (("minItems", ge),), "maxItems": (("maxItems", le),),
    "minimum": (("minimum", ge), ("exclusiveMinimum", ge)), "maximum": (("maximum", le), ("exclusiveMaximum", le)),
    "exclusiveMinimum": (("minimum", gt), ("exclusiveMinimum", ge)),
    "exclusiveMaximum": (("maximum", lt), ("exclusiveMaximum", le))}
"""By which bounds of the one schema a bound of the other is kept."""
MORE_MAY_COME = "More may come"


@dataclass(frozen=True, slots=True)
class Misfit:
    """Where, by which keyword, and what the two schemas say there."""

    place: str
    keyword: str
    given: Any
    asked: Any


@dataclass
class Fit:
    """Compares schemas of two documents. `words_may_come`: a list of words whose description says so may grow."""

    given_document: Mapping[str, Any]
    asked_document: Mapping[str, Any]
    words_may_come: bool = False
    defaults_count: bool = False
    _settled: set[tuple[str, str]] = field(default_factory=set)

    def misfits(self, given: Any, asked: Any, place: str = "#") -> Iterator[Misfit]:
        """Why a value of `given` may not be one of `asked`; nothing when every one is."""
        if asked is True or asked == {}:
            return
        if isinstance(given, Mapping) and isinstance(asked, Mapping) and "$ref" in given and "$ref" in asked:
            pair = (json.dumps(given, sort_keys=True), json.dumps(asked, sort_keys=True))
            if pair in self._settled:  # found to fit before; or a schema within itself, where this is being asked
                return
            self._settled.add(pair)
            found = list(self._misfits(given, asked, place))
            if found:
                self._settled.discard(pair)
            yield from found
            return
        yield from self._misfits(given, asked, place)

    def _misfits(self, given: Any, asked: Any, place: str) -> Iterator[Misfit]:
        candidates = list(_alternatives(asked, self.asked_document))
        for each in _alternatives(given, self.given_document):
            yield from self._nearest(each, candidates, place)

    def _nearest(self, given: Schema, candidates: Sequence[Schema], place: str) -> Sequence[Misfit]:
        """The misfits with the alternative that fits best."""
        kind, asked_by = given["type"], given.get(ASKED_BY)
        alike = [each for each in candidates if each.get(ASKED_BY) == asked_by]
        if asked_by is not None and not alike:  # who does not know the parameter is never answered so
            return []
        same = [each for each in alike if each["type"] in (kind, "number" if kind == "integer" else kind)]
        if not same:
            return [Misfit(place, "type", kind, [each["type"] for each in alike])]
        return min((list(self._alternative_misfits(given, each, place)) for each in same), key=len)

    def _alternative_misfits(self, given: Schema, asked: Schema, place: str) -> Iterator[Misfit]:
        for keyword in sorted(set(asked) - _COMPARED - _ANNOTATIONS):
            if not keyword.startswith("x-") and (given.get(keyword) != asked[keyword] or "$ref" in str(asked[keyword])):
                yield Misfit(place, keyword, given.get(keyword), asked[keyword])
        if self.defaults_count and given.get("default") != asked.get("default"):
            yield Misfit(place, "default", given.get("default"), asked.get("default"))
        values = _values(given)
        if values is not None:
            yield from self._values_misfit(values, asked, place)
            yield from self._opened_misfit(given, asked, place)
            return
        if _values(asked) is not None and not self._words_may_come(asked):
            yield Misfit(place, "enum", None, _values(asked))
        yield from _bounds_misfit(given, asked, place)
        if given["type"] == "array":
            yield from self._arrays_misfit(given, asked, place)
        if given["type"] == "object":
            yield from self._objects_misfit(given, asked, place)

    def _values_misfit(self, values: Sequence[Any], asked: Schema, place: str) -> Iterator[Misfit]:
        """Of a list of values each is held to the schema itself."""
        held = {name: told for name, told in asked.items() if name != "enum" or not self._words_may_come(asked)}
        judge = Draft202012Validator({"components": self.asked_document.get("components", {}), **held})
        lost = [value for value in values if not judge.is_valid(value)]
        if lost:
            yield Misfit(place, "enum", lost, _values(asked))

    def _opened_misfit(self, given: Schema, asked: Schema, place: str) -> Iterator[Misfit]:
        """A list that was complete stays so: else it would be opened by one release, and grow by the next."""
        if self._words_may_come(given) and _values(asked) is not None and not self._words_may_come(asked):
            yield Misfit(place, "enum", MORE_MAY_COME, _values(asked))

    def _words_may_come(self, asked: Schema) -> bool:
        return self.words_may_come and MORE_MAY_COME in asked.get("description", "")

    def _arrays_misfit(self, given: Schema, asked: Schema, place: str) -> Iterator[Misfit]:
        if asked.get("uniqueItems") and not given.get("uniqueItems"):
            yield Misfit(place, "uniqueItems", False, True)
        yield from self.misfits(given.get("items", True), asked.get("items", True), f"{place}[]")

    def _objects_misfit(self, given: Schema, asked: Schema, place: str) -> Iterator[Misfit]:
        theirs, ours = given.get("properties", {}), asked.get("properties", {})
        closed = given.get("additionalProperties", True) is False
        for name in sorted(set(asked.get("required", ())) - set(given.get("required", ()))):
            yield Misfit(f"{place}/{name}", "required", False, True)
        for name in sorted(ours):
            if name in theirs:
                yield from self.misfits(theirs[name], ours[name], f"{place}/{name}")
            elif not closed:
                yield Misfit(f"{place}/{name}", "properties", None, ours[name])
        further = asked.get("additionalProperties", True)
        for name in sorted(set(theirs) - set(ours)):
            if further is False:
                yield Misfit(f"{place}/{name}", "properties", theirs[name], None)
            else:
                yield from self.misfits(theirs[name], further, f"{place}/{name}")
        if not closed:
            yield from self.misfits(given.get("additionalProperties", True), further, f"{place}/*")


def resolved(part: Any, document: Mapping[str, Any]) -> Any:
    """A part of a document, its reference followed; what stands beside the reference stays."""
    while isinstance(part, Mapping) and "$ref" in part:
        here: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            here = here[step.replace("~1", "/").replace("~0", "~")]
        part = {**here, **{name: told for name, told in part.items() if name != "$ref"}}
    return part


def _alternatives(schema: Any, document: Mapping[str, Any]) -> Iterator[Schema]:
    """A schema as schemas of one type each, any of which a value may be of."""
    if isinstance(schema, bool):
        schema = {} if schema else {"enum": []}
    schema = resolved(schema, document)
    for keyword in ("anyOf", "oneOf"):
        if keyword in schema:
            beside = {name: told for name, told in schema.items() if name != keyword}
            for branch in schema[keyword]:
                yield from _alternatives(_both(beside, resolved(branch, document)), document)
            return
    types = schema.get("type", _TYPES)
    for kind in [types] if isinstance(types, str) else types:
        alternative = {**schema, "type": kind}
        if _values(alternative) != []:
            yield alternative


def _both(beside: Schema, branch: Any) -> Schema:
    """A branch with what stands beside it. What both say is left for a person, under a keyword that nobody knows."""
    branch = {} if branch is True else {"enum": []} if branch is False else branch
    twice = {name: [beside[name], branch[name]] for name in sorted(set(beside) & set(branch) - _ANNOTATIONS)
             if beside[name] != branch[name]}
    unclear = {"said twice": twice} if twice else {}
    told = {"description": beside["description"]} if "description" in beside else {}
    return {**beside, **branch, **unclear, **told}


def _values(schema: Schema) -> Sequence[Any] | None:
    """The values that a schema of one type lists; None: it lists none."""
    if "const" not in schema and "enum" not in schema:
        return None
    listed = [schema["const"]] if "const" in schema else schema["enum"]
    return [value for value in listed if Draft202012Validator({"type": schema["type"]}).is_valid(value)]


def _bounds_misfit(given: Schema, asked: Schema, place: str) -> Iterator[Misfit]:
    kind = "number" if given["type"] == "integer" else given["type"]
    for keyword in _OF_TYPE.get(kind, ()):
        bound = asked.get(keyword)
        if bound is None or (bound == 0 and keyword in ("minLength", "minItems")):
            continue
        if not any(name in given and keeps(given[name], bound) for name, keeps in _BOUND_BY[keyword]):
            yield Misfit(place, keyword, given.get(keyword), bound)
    if kind == "number" and "multipleOf" in asked and given.get("multipleOf") != asked["multipleOf"]:
        yield Misfit(place, "multipleOf", given.get("multipleOf"), asked["multipleOf"])
    for keyword in ("pattern", "format"):
        if kind == "string" and keyword in asked and given.get(keyword) != asked[keyword]:
            yield Misfit(place, keyword, given.get(keyword), asked[keyword])
