"""Nothing that a request may hold is without a bound: every text, list, number and parameter of the API document, and
the document is what the service holds requests to. Where each limit is, and what else is bounded: DEVELOPERS.md.

Sources: OWASP API Security Top 10 2023, API4 (unrestricted resource consumption); CWE-770.
"""

from collections.abc import Iterator
from typing import Any

import pytest

from service.rest.reading import BODY_LIMIT, DEEPEST
from tests.rest.api_document import DOCUMENT
from tests.rest.small_kitchen import GOOD, Kitchen
from tests.rest.test_fields import WRITES, body_of, references

SPELLED_OUT = {"enum", "const", "format", "$ref", "anyOf", "oneOf"}
"""What bounds a text by itself: words to choose from, or a form (a date, a decimal) that is read to the letter."""
TOKENS = {"token", "table", "kind", "figure"}
"""Parts of a feed link's path: compared with what there is, and bounded by the server's line."""


def unbounded(schema: dict[str, Any]) -> Iterator[str]:
    """What a schema leaves open."""
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds if isinstance(kinds, list) else []
    if "array" in kinds and "maxItems" not in schema:
        yield f"a list: {schema}"
    if "string" in kinds and not {"maxLength", "pattern", *SPELLED_OUT} & schema.keys():
        yield f"a text: {schema}"
    if "integer" in kinds and not {"maximum", "enum", "const"} & schema.keys():
        yield f"a number: {schema}"


@pytest.mark.parametrize(("method", "path"), WRITES)
def test_every_text_list_and_number_of_a_body_has_its_most(method: str, path: str) -> None:
    assert [open_one for schema in references(body_of(method, path)) if not schema.get("readOnly")
            for open_one in unbounded(schema)] == []


def test_every_parameter_has_its_most() -> None:
    found = []
    for path, item in DOCUMENT["paths"].items():
        for operation in [each for each in item.values() if isinstance(each, dict)]:
            for parameter in [*operation.get("parameters", ()), *item.get("parameters", ())]:
                if "$ref" not in parameter and parameter["name"] not in TOKENS:
                    found += [(path, parameter["name"], each) for each in unbounded(parameter["schema"])]
    assert found == []


@pytest.mark.parametrize("schema", [{"type": "string"}, {"type": ["array", "null"]}, {"type": "integer"}])
def test_what_is_open_is_found(schema: dict[str, Any]) -> None:
    assert list(unbounded(schema)) != []


@pytest.mark.parametrize("path", [path for path in GOOD if path.startswith("/v1/")])
def test_a_body_above_the_limit_is_413_at_every_door(kitchen: Kitchen, path: str) -> None:
    method = "POST" if path.endswith(("/prices", "/yield-tests")) else "PUT"
    assert kitchen.send(method, path, b" " * (BODY_LIMIT + 1)).status_code == 413
    assert kitchen.send(method, path, b"[" * (DEEPEST + 1) + b"]" * (DEEPEST + 1)).status_code == 400
