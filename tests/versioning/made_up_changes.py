"""Changes made up to try the check with: each changes the real document in one way that a rule is about.

Source of what breaks and what does not: the examples that the project oasdiff publishes in
docs/BREAKING-CHANGES-EXAMPLES.md, of which each entry here has the nearest in its comment; where there is none, the
comment says whose rule it is.
"""

from collections.abc import Callable, Mapping
from typing import Any

Change = Callable[[Any], Any]
ROW, PRICE = "DishCostAnswer", "PriceRequest"


def operation(document: Any, method: str = "get", path: str = "/v1/dish-costs") -> Any:
    return document["paths"][path][method]


def posting(document: Any) -> Any:
    return operation(document, "post", "/v1/ingredients/{code}/prices")


def member(document: Any, schema: str, name: str) -> Any:
    return document["components"]["schemas"][schema]["properties"][name]


def parameter(document: Any, name: str) -> Any:
    found, = [each for each in operation(document)["parameters"] if each.get("name") == name]
    return found


def required(document: Any, schema: str) -> list[str]:
    names: list[str] = document["components"]["schemas"][schema]["required"]
    return names


def without_member(document: Any, schema: str, name: str) -> None:
    del document["components"]["schemas"][schema]["properties"][name]
    if name in required(document, schema):
        required(document, schema).remove(name)


def with_member(document: Any, schema: str, name: str, about: Any, needed: bool) -> None:
    document["components"]["schemas"][schema]["properties"][name] = about
    if needed:
        required(document, schema).append(name)


def announced(document: Any, **told: Any) -> None:
    operation(document).update(deprecated=True, **{name.replace("_", "-"): value for name, value in told.items()})


BREAKING: Mapping[str, tuple[str, Change]] = {
    # deleting a path without deprecation; deleting an operation without deprecation
    "a path goes": ("GET /v1/dish-costs/{code} is gone", lambda d: d["paths"].pop("/v1/dish-costs/{code}")),
    "an operation goes": ("DELETE /v1/dishes/{code} is gone", lambda d: d["paths"]["/v1/dishes/{code}"].pop("delete")),
    # removing/updating an operation id
    "an operation has another name": ("operationId was list_dish_costs", lambda d: operation(d).update(
        operationId="list_costs")),
    # deleting a required property in response body
    "a figure goes": ("#/food_cost required was true", lambda d: without_member(d, ROW, "food_cost")),
    "a figure goes, and another has its place": ("#/food_cost properties was", lambda d: (
        without_member(d, ROW, "food_cost"), with_member(d, ROW, "cost", {"type": "string"}, needed=True))),
    # changing an existing property in response body to optional
    "a figure may be missing": ("#/food_cost required was true, is false",
                                lambda d: required(d, ROW).remove("food_cost")),
    # changing a response property to nullable
    "a figure may be null": ("#/status type was [\"string\"], is \"null\"", lambda d: member(
        d, ROW, "status").update(type=["string", "null"], enum=["complete", "incomplete", None])),
    # changing response's body schema type from string to number
    "a figure becomes a number": ("#/food_cost type was", lambda d: member(d, ROW, "food_cost").update(
        type=["number", "null"])),
    "a figure has another format": ("#/as_of format was \"date\"", lambda d: member(d, ROW, "as_of").update(
        format="date-time")),
    # as above, with the alternative of the whole row still there for who asks for it
    "a row of a list is another": ("#/data[] type was", lambda d: d["components"]["schemas"]["DishCostPage"][
        "properties"].update(data={"type": "array", "items": {"type": "string"}})),
    # modifying a pattern in a schema; increasing max length in response; reducing min length
    "a code has another pattern": ("#/dish pattern was", lambda d: member(d, ROW, "dish").update(pattern=".*")),
    "a code may be longer": ("#/dish maxLength was 64, is 65", lambda d: member(d, ROW, "dish").update(
        maxLength=65)),
    "a revision may be below 0": ("#/revision minimum was 0, is -1", lambda d: member(
        d, ROW, "revision").update(minimum=-1)),
    # adding an enum value to a response is told there, too
    "a state of a dish is new": ("#/status enum was", lambda d: member(d, ROW, "status")["enum"].append("old")),
    # ours: a list of words without that sentence is complete; one release may not open it for the next to add to
    "a list of words that was complete is opened": ("#/status enum was", lambda d: member(d, ROW, "status").update(
        description="Stable. More may come.")),
    "a state may be any word": ("#/status enum was", lambda d: member(d, ROW, "status").pop("enum")),
    # adding 'oneOf' schema to the response body or response body property
    "a name is text or an object": ("#/name type was [\"string\"], is \"object\"", lambda d: d["components"][
        "schemas"][ROW]["properties"].update(name={"oneOf": [{"type": "string"}, {"type": "object"}]})),
    # removing a success status; removing an existing response with non-successful status
    "304 is not answered": ("the answer 304 is gone", lambda d: operation(d)["responses"].pop("304")),
    "406 is not answered": ("the answer 406 is gone", lambda d: operation(d)["responses"].pop("406")),
    "202 may be answered": ("the answer 202 is new", lambda d: operation(d)["responses"].update({
        "202": {"description": "Accepted"}})),
    # deleting a media-type from response; removing an existing optional response header
    "CSV goes": ("text/csv is gone", lambda d: operation(d)["responses"]["200"]["content"].pop("text/csv")),
    "the tag goes": ("the header field ETag is gone", lambda d: operation(d)["responses"]["200"]["headers"].pop(
        "ETag")),
    "the wait is told in words": ("Retry-After: # type was", lambda d: d["components"]["headers"]["RetryAfter"].update(
        schema={"type": "string"})),
    # adding a new required property in request body; changing an existing property in request body to required
    "a price needs something new": ("#/why required was", lambda d: with_member(
        d, PRICE, "why", {"type": "string"}, needed=True)),
    "a price needs its reference": ("#/reference required was", lambda d: required(d, PRICE).append("reference")),
    # deleting an embedded optional property in request (there it warns; requests are closed here)
    "a price has no reference": ("#/reference properties was", lambda d: without_member(d, PRICE, "reference")),
    # reducing max length in request; adding a pattern; changing a request body to enum; deleting an enum value
    "a reference is shorter": ("#/reference maxLength was", lambda d: member(
        d, PRICE, "reference").update(maxLength=3)),
    "a reference has a pattern": ("#/reference pattern was null", lambda d: member(
        d, PRICE, "reference").update(pattern="^a")),
    "a reference is one of three": ("#/reference enum was null", lambda d: member(
        d, PRICE, "reference").update(enum=["a", "b", "c"])),
    "a unit goes": ("#/pack_unit enum was [\"g\"]", lambda d: member(d, PRICE, "pack_unit")["enum"].remove("g")),
    # changing request's body schema type from number to string
    "an amount is no number": ("#/amount type was \"number\"", lambda d: member(d, PRICE, "amount").update(
        type="string")),
    # removing the default value of an optional request parameter; modifying it
    "a page is shorter unless asked for": (
        "the query parameter limit: # default was 100, is 7", lambda d: parameter(d, "limit")["schema"].update(
        default=7)),
    # removing a media type from request body; removing request body; optional to required
    "JSON is not taken": ("a body as application/json is no longer taken", lambda d: posting(d).update(requestBody={
        "content": {"text/csv": {"schema": {"type": "string"}}}, "required": True})),
    "nothing is taken": ("a body as application/json is no longer taken", lambda d: posting(d).pop("requestBody")),
    "a read needs a body": ("the body has become required", lambda d: operation(d).update(requestBody={
        "content": {"application/json": {"schema": True}}, "required": True})),
    # deleting a parameter; new required header param; changing an existing param from optional to required
    "a parameter goes": ("the query parameter limit is gone", lambda d: operation(d)["parameters"].remove(
        parameter(d, "limit"))),
    "a header field is needed": ("the header parameter why is new and required", lambda d: operation(d)[
        "parameters"].append({"in": "header", "name": "Why", "required": True, "schema": {"type": "string"}})),
    "a parameter is needed": ("the query parameter limit has become required", lambda d: parameter(
        d, "limit").update(required=True)),
    "a page is at most three": ("the query parameter limit: # maximum was", lambda d: parameter(
        d, "limit")["schema"].update(maximum=3)),
    "a parameter is written otherwise": ("the query parameter limit: style was None", lambda d: parameter(
        d, "limit").update(style="pipeDelimited")),
    # adding a security requirement, changing a scheme (checks api-security-*)
    "what was open needs a key": ("security: {} no longer opens it", lambda d: operation(
        d, path="/health/live").update(security=[{"bearer": []}])),
    "two keys are needed": ("security: {\"bearer\": []} no longer opens it", lambda d: operation(d).update(
        security=[{"bearer": [], "another": []}])),
    "keys are sent otherwise": ("the security scheme bearer: scheme was bearer", lambda d: d["components"][
        "securitySchemes"]["bearer"].update(scheme="digest")),
    # ours: a scope is named in `x-scope`
    "a till may not read": ("the scope that it needs was costs:read, is read", lambda d: operation(d).update({
        "x-scope": "read"})),
    # ours: a server is where a client asks
    "it is served elsewhere": ("the server / is gone", lambda d: d.update(servers=[{"url": "/api"}])),
    # deprecating an operation without specifying sunset date; deleting an operation before sunset date
    "an operation ends some day": ("deprecated without a day", lambda d: announced(d)),
}
"""What breaks, and a piece of what is said of it."""

HARMLESS: Mapping[str, Change] = {
    "nothing": lambda d: None,
    # adding a required property to response; adding a media-type to response
    "a figure is new": lambda d: with_member(d, ROW, "new", {"type": "string"}, needed=True),
    "XML is answered too": lambda d: operation(d)["responses"]["200"]["content"].update({"text/xml": {}}),
    "a header field is new": lambda d: operation(d)["responses"]["200"]["headers"].update(New={"schema": True}),
    # adding an optional property to request; adding a value to an enum of a request; adding a new operation
    "a price may say more": lambda d: with_member(d, PRICE, "new", {"type": "string"}, needed=False),
    "a unit is new": lambda d: member(d, PRICE, "pack_unit")["enum"].append("gill"),
    "an operation is new": lambda d: d["paths"].update({"/v1/new": d["paths"]["/v1/dish-costs"]}),
    "a parameter is new": lambda d: operation(d)["parameters"].append(
        {"in": "query", "name": "new", "schema": {"type": "string"}}),
    # increasing max length in request; generalizing a type of a request
    "a reference is longer": lambda d: member(d, PRICE, "reference").update(maxLength=10**6),
    "a reference may be a number": lambda d: member(d, PRICE, "reference").update(type=["string", "number", "null"]),
    "a page may be longer": lambda d: parameter(d, "limit")["schema"].update(maximum=10**6),
    "what a price needed may be left out": lambda d: required(d, PRICE).clear(),
    # reducing max length in response; changing a response property to not nullable; removing a value of its enum
    "a code is shorter": lambda d: member(d, ROW, "dish").update(maxLength=10),
    "a figure is never null": lambda d: member(d, ROW, "food_cost").update(type="string"),
    "a state of a dish goes": lambda d: member(d, ROW, "status").update(enum=["complete"]),
    # ours: what only a new parameter brings
    "a row may be sparse, if that is asked for": lambda d: d["components"]["schemas"]["DishCostPage"]["properties"][
        "data"]["items"].setdefault("anyOf", [{"$ref": "#/components/schemas/DishCostAnswer"}]).append(
            {"type": "object", "x-asked-by": "some"}),
    # a problem of a status that was not told: clients know its class
    "a problem is new": lambda d: operation(d)["responses"].update({
        "451": {"$ref": "#/components/responses/NotFound"}}),
    # an alternative security requirement
    "another way in": lambda d: operation(d)["security"].append({"another": []}),
    "it is open to all": lambda d: operation(d).update(security=[]),
    # words are free
    "words": lambda d: (member(d, ROW, "food_cost").update(description="New."), operation(d).update(summary="New.")),
    "its end is announced": lambda d: announced(d, x_sunset="2030-01-01"),
}
"""What breaks nobody."""
