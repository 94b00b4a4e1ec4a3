"""Holds every answer to the served API document: status, media type and body must be what it says of that operation.

A status or media type that the document does not name is a failure: clients are generated from it. Paths and methods
that it does not have must be answered with a problem document. What was accepted is held to the document too, so that
it never promises less than the service takes.

Source: OpenAPI 3.1 (its schemas are JSON Schema 2020-12); the judge is the library jsonschema, which shares no code
with the service.
"""

import json
import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012

DOCUMENT = "urn:api-document"
PROBLEM = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
METHODS = ("get", "put", "post", "delete", "patch")


class AnswerValidator:
    """The judge over one API document."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self.document = document
        resource = Resource.from_contents(document, default_specification=DRAFT202012)
        self._registry = Registry().with_resource(DOCUMENT, resource)
        self._validator = cache(self._made_validator)
        self._paths = [(path, re.compile(re.sub(r"\\{[^}]+\\}", "[^/]+", re.escape(path))))
                       for path in sorted(document["paths"], key=lambda path: path.count("{"))]

    def operation(self, method: str, path: str) -> tuple[str, dict[str, Any]] | None:
        """The operation that serves a path, with its template; None when the document has none."""
        name = "get" if method.upper() == "HEAD" else method.lower()
        for template, pattern in self._paths:
            if pattern.fullmatch(path) and name in self.document["paths"][template]:
                return template, self.document["paths"][template][name]
        return None

    def check_answer(self, method: str, path: str, status: int, content_type: str, body: bytes) -> None:
        """Fail unless the document describes this answer."""
        found = self.operation(method, path)
        content = PROBLEM if found is None else self._content_of(found[1], status, f"{method} {found[0]}")
        if found is None:
            assert status in (401, 403, 404, 405, 422), f"{method} {path} is not in the document, yet answers {status}"
        if method.upper() == "HEAD" or status in (204, 304):
            assert body == b"", f"{method} {path} {status} has a body"
            return
        media_type = content_type.partition(";")[0]
        assert media_type in content, f"{method} {path} {status} answers {media_type}; documented: {sorted(content)}"
        if media_type.endswith("json"):
            self._hold(content[media_type]["schema"], json.loads(body), f"{method} {path} {status}")

    def check_accepted(self, method: str, path: str, sent: Any) -> None:
        """Fail unless the document says that a body, which was accepted, may be sent."""
        found = self.operation(method, path)
        assert found is not None, f"{method} {path} was accepted and is not in the document"
        content = found[1]["requestBody"]["content"]
        self._hold(content["application/json"]["schema"], sent, f"{method} {path}: what was accepted")

    def check_told(self, body: Any) -> None:
        """Fail unless the document describes the message that a webhook was sent."""
        entry = self.document["webhooks"][body["type"]]["post"]
        self._hold(entry["requestBody"]["content"]["application/json"]["schema"], body, f"message {body['type']}")

    def _content_of(self, operation: Mapping[str, Any], status: int, what: str) -> Mapping[str, Any]:
        assert str(status) in operation["responses"], f"{what} answers {status}, which is not documented"
        response = operation["responses"][str(status)]
        if "$ref" in response:
            response = self.document["components"]["responses"][response["$ref"].rpartition("/")[2]]
        content: Mapping[str, Any] = response.get("content", {})
        return content

    def _hold(self, schema: Mapping[str, Any], value: Any, what: str) -> None:
        faults = [f"{fault.json_path}: {fault.message[:300]}"
                  for fault in self._validator(json.dumps(schema)).iter_errors(value)]
        assert not faults, f"{what} is not as documented: {faults[:5]}"

    def _made_validator(self, schema: str) -> Draft202012Validator:
        absolute = json.loads(schema.replace('"#/', f'"{DOCUMENT}#/'))
        return Draft202012Validator(absolute, registry=self._registry, format_checker=FormatChecker())
