"""A schema is said to fit another only when it does: random values of it are values of the other.

The judge of single values is the library jsonschema (JSON Schema 2020-12), with formats taken as words alone.
"""

from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from tests.versioning.schema_fit import Fit

WORDS = ["", "a", "b", "ab", "abc"]
NUMBERS = [-1, 0, 1, 2, 3, 1.5]
INNER = [None, True, *WORDS, *NUMBERS]
VALUES = [*INNER, False, [], {}, *([one] for one in INNER), *([one, two] for one in INNER for two in INNER[::3]),
          [[], []], [{}], ["a", "b", 1, 2], {"x": {"y": "a"}}, {"x": ["a"], "y": [1]}, *({"x": one} for one in INNER),
          *({"x": one, "y": two} for one in INNER[::2] for two in INNER[::3]), *({"z": one} for one in INNER),
          {"x": "a", "y": 1, "z": None}]
"""Values of every kind, small enough that the schemas below tell them apart."""


def optional(**keywords: Any) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=keywords)


def schemas() -> st.SearchStrategy[Any]:
    """Small schemas with the keywords that the service's document has."""
    bound = st.sampled_from([0, 1, 2, 3])
    leaf = st.sampled_from(["string", "integer", "number", "boolean", "null"]).flatmap(lambda kind: {
        "string": optional(minLength=bound, maxLength=bound, pattern=st.sampled_from(["^a", "b$"])),
        "integer": optional(minimum=bound, maximum=bound, exclusiveMinimum=bound, multipleOf=st.sampled_from([1, 2])),
        "number": optional(minimum=bound, exclusiveMaximum=bound)}.get(kind, st.just({})).map(
            lambda told: {"type": kind, **told}))
    listed = st.lists(st.sampled_from([None, *WORDS, *NUMBERS]), max_size=3, unique_by=repr).map(
        lambda values: {"enum": values}) | st.sampled_from(WORDS).map(lambda word: {"const": word})
    several = st.lists(st.sampled_from(["string", "integer", "null"]), min_size=1, max_size=3, unique=True).map(
        lambda kinds: {"type": kinds})

    def outer(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        array = optional(items=inner, minItems=bound, maxItems=bound, uniqueItems=st.booleans()).map(
            lambda told: {"type": "array", **told})
        thing = optional(properties=st.dictionaries(st.sampled_from("xyz"), inner, max_size=2),
                         required=st.lists(st.sampled_from("xyz"), max_size=2, unique=True),
                         additionalProperties=st.booleans() | inner).map(lambda told: {"type": "object", **told})
        return array | thing | st.lists(inner, min_size=1, max_size=2).map(lambda branches: {"anyOf": branches})

    return st.recursive(leaf | listed | several | st.booleans(), outer, max_leaves=4)


def fits(one: Any, other: Any) -> bool:
    return not list(Fit({}, {}).misfits(one, other))


def every(kind: str, **keywords: list[Any]) -> list[Any]:
    """Every schema of a type with each keyword at each of some values, or without it."""
    choices = [[(name, value) for value in values] + [None] for name, values in keywords.items()]
    return [{"type": kind, **dict(filter(None, chosen))} for chosen in product(*choices)]


LEAVES = [{"type": "string"}, {"type": "integer", "minimum": 1}, {"enum": ["a", 1]}, True]
FAMILIES = {
    "text": every("string", minLength=[0, 1, 2], maxLength=[1, 2], pattern=["^a", "b$"], enum=[["a"], ["a", "ab"]]),
    "number": every("number", minimum=[0, 1], exclusiveMinimum=[0, 1], maximum=[1, 2], exclusiveMaximum=[2],
                    multipleOf=[1, 2]),
    "whole number": [each for kind in ("integer", "number") for each in every(kind, minimum=[0, 1], enum=[[1, 1.5]])],
    "list": every("array", items=LEAVES, minItems=[0, 1, 2], maxItems=[1, 2], uniqueItems=[True, False]),
    "object": every("object", properties=[{"x": leaf} for leaf in LEAVES] + [{"x": LEAVES[0], "y": LEAVES[1]}],
                    required=[["x"], ["x", "y"]], additionalProperties=[False, True, LEAVES[0]]),
    "one of several": [*LEAVES, False, {"type": "null"}, {"const": "a"}, {"enum": [None, "a"]}, *(
        {keyword: [one, {"type": "boolean"}]} for keyword, one in product(("anyOf", "oneOf"), (
            {"type": "string", "maxLength": 1}, {"type": ["integer", "null"]}, LEAVES[1], LEAVES[2]))),
        {"anyOf": [{"type": ["integer", "null"]}, LEAVES[1]]}],
}


@pytest.mark.parametrize("family", FAMILIES)
def test_of_every_two_schemas_what_is_said_to_fit_does(family: str) -> None:
    inside = [(schema, {repr(value) for value in VALUES if Draft202012Validator(schema).is_valid(value)})
              for schema in FAMILIES[family]]
    said = 0
    for one, values in inside:
        for other, theirs in inside:
            if fits(one, other):
                said += one != other
                assert values <= theirs, f"{one} does not fit {other}: {sorted(values - theirs)}"
    assert said > len(inside)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[Any, Any]:
    """Two schemas, mostly alike: the second is the first with keywords of a third, or without some of its own."""
    one, third = draw(schemas()), draw(schemas())
    if isinstance(one, bool) or isinstance(third, bool) or draw(st.integers(0, 4)) == 0:
        return one, third
    if draw(st.booleans()):
        return one, {**one, **{name: told for name, told in third.items() if name in one}}
    left_out = draw(st.sampled_from(sorted(one)))
    return one, {name: told for name, told in one.items() if name != left_out}


@settings(max_examples=100, deadline=None)
@given(pairs(), st.booleans())
def test_of_schemas_within_schemas_what_is_said_to_fit_does(pair: tuple[Any, Any], turned: bool) -> None:
    one, other = reversed(pair) if turned else pair
    if fits(one, other):
        inside, outside = Draft202012Validator(one), Draft202012Validator(other)
        assert [value for value in VALUES if inside.is_valid(value) and not outside.is_valid(value)] == []


@settings(max_examples=100, deadline=None)
@given(schemas())
def test_every_schema_fits_itself_and_anything(one: Any) -> None:
    assert fits(one, one)
    assert fits(one, True)


def test_what_nobody_can_compare_counts_as_a_misfit() -> None:
    for unknown in ({"not": {"type": "null"}}, {"allOf": [{"$ref": "#/x"}]}, {"patternProperties": {"a": True}}):
        assert not fits({"type": "string"}, {"type": "string", **unknown})
    assert not fits({"minimum": 3, "anyOf": [{"type": "integer", "minimum": 4}]},
                    {"minimum": 2, "anyOf": [{"type": "integer", "minimum": 4}]})


def test_a_schema_within_itself_is_compared() -> None:
    document: Any = {"tree": {"type": "object", "properties": {"below": {
        "type": "array", "items": {"$ref": "#/tree"}, "maxItems": 2}}}}
    smaller: Any = {"tree": {"type": "object", "properties": {"below": {
        "type": "array", "items": {"$ref": "#/tree"}, "maxItems": 1}}}}
    tree = {"$ref": "#/tree"}
    assert list(Fit(document, document).misfits(tree, tree)) == []
    assert list(Fit(smaller, document).misfits(tree, tree)) == []
    assert [misfit.keyword for misfit in Fit(document, smaller).misfits(tree, tree)] == ["maxItems"]
