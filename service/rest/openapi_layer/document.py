"""The finished API document: what the library collected, completed by what only the whole app knows, and its bytes.

Rules that always hold: the same code gives the same bytes on every Python version; operationIds are the views' names
and unique; every operation says its security, its problems and the request id.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from threading import Lock
from typing import Any

from flask import Flask
from flask_smorest.spec.plugins import FlaskPlugin

from service.rest.api_keys import OPEN, access_of
from service.rest.openapi_layer.components import IN_PATHS, PROBLEM_RESPONSES, RATE_LIMIT, header_ref
from service.rest.openapi_layer.deprecation import tell_of_the_end
from service.rest.openapi_layer.examples import Examples, put_examples

_METHODS = ("get", "put", "post", "delete", "patch")
_OPEN_PROBLEMS = (400, 422)
_KEYED_PROBLEMS = (400, 401, 403, 422, 429, 503)
_NO_ROOM = 507


class LateDocument:
    """A document that is made when somebody asks for it first, and once, whoever else asks meanwhile."""

    def __init__(self, make: Callable[[], dict[str, Any]]) -> None:
        self._make, self._lock = make, Lock()
        self._made: dict[str, Any] | None = None

    def __call__(self) -> dict[str, Any]:
        with self._lock:
            if self._made is None:
                self._made = self._make()
            return self._made


def document(app: Flask) -> dict[str, Any]:
    """The API document of an app made by `create_app`.

    Raises:  ValueError for two operations of one name.
    """
    return app.extensions["seamcost-document"]()


def document_bytes(app: Flask) -> bytes:
    """The document as published: sorted, indented, UTF-8, a line end at the end."""
    return json_bytes(document(app))


def json_bytes(content: Any) -> bytes:
    """Byte-stable JSON."""
    return (json.dumps(content, indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()


def finished_document(app: Flask, spec: Mapping[str, Any], examples: Examples) -> dict[str, Any]:
    """Complete what the library collected.

    Raises:  ValueError for two operations of one name.
    """
    content = json.loads(json.dumps(spec))
    access, endpoints = access_of(app), _endpoints(app)
    names: set[str] = set()
    for path, method, operation in operations(content):
        endpoint = endpoints[path, method]
        name = operation.setdefault("operationId", endpoint.rpartition(".")[2])
        if name in names:
            raise ValueError(f"two operations are named {name}; rename one of the views")
        names.add(name)
        _secure(operation, access[endpoint])
        if method != "get" and access[endpoint] != OPEN:
            _may_answer(operation, _NO_ROOM)
        tell_of_the_end(operation)
        if "{" in path and method != "put":
            _may_answer(operation, 404)
        _name_headers(operation, {"X-Request-ID": "RequestId"})
        put_examples(content, operation, content["paths"][path].get("parameters", ()), examples.get(name, ()))
    _say_what_paths_hold(content)
    _keep_tags(content)
    _keep_used_components(content)
    return content


def operations(content: Mapping[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every operation of a document with its path and method."""
    for path, item in content["paths"].items():
        for method in _METHODS:
            if method in item:
                yield path, method, item[method]


def _endpoints(app: Flask) -> dict[tuple[str, str], str]:
    return {(FlaskPlugin.flaskpath2openapi(rule.rule), method.lower()): rule.endpoint
            for rule in app.url_map.iter_rules() for method in rule.methods or ()}


def _secure(operation: dict[str, Any], scope: str) -> None:
    if scope == OPEN:
        operation["security"] = []
        for status in _OPEN_PROBLEMS:
            _may_answer(operation, status)
        return
    operation["security"] = [{"bearer": []}, {"basic": []}, {"token": []}]
    told = f"Needs a key with the scope `{scope}`."
    operation["description"] = "\n\n".join(filter(None, (operation.get("description"), told)))
    operation["x-scope"] = scope
    for status in _KEYED_PROBLEMS:
        _may_answer(operation, status)
    _name_headers(operation, RATE_LIMIT)


def _may_answer(operation: dict[str, Any], status: int) -> None:
    reference = {"$ref": f"#/components/responses/{PROBLEM_RESPONSES[status]}"}
    operation["responses"].setdefault(str(status), reference)


def _say_what_paths_hold(content: dict[str, Any]) -> None:
    for item in content["paths"].values():
        for parameter in item.get("parameters", ()):
            if parameter["name"] in IN_PATHS:
                parameter.setdefault("description", IN_PATHS[parameter["name"]])


def _name_headers(operation: dict[str, Any], headers: Mapping[str, str]) -> None:
    """Name header fields that every answer carries, on the answers that are the operation's own."""
    for response in operation["responses"].values():
        if "$ref" not in response:
            response.setdefault("headers", {}).update({name: header_ref(component) for name, component in
                                                       headers.items()})


def _keep_tags(content: dict[str, Any]) -> None:
    """Only tags that an operation carries, in the order in which the resources were given."""
    used = {tag for _, _, operation in operations(content) for tag in operation["tags"]}
    content["tags"] = [tag for tag in content.get("tags", ()) if tag["name"] in used]


def _keep_used_components(content: dict[str, Any]) -> None:
    """Drop the components that nothing refers to, and then those that only they referred to."""
    components, before = content["components"], None
    while before != (used := set(_references(content))):
        before = used
        for kind in ("schemas", "responses", "parameters", "headers"):
            components[kind] = {name: part for name, part in components.get(kind, {}).items()
                                if f"#/components/{kind}/{name}" in used}


def _references(content: Any) -> Iterator[str]:
    if isinstance(content, dict):
        for name, below in content.items():
            if name == "$ref" and isinstance(below, str):
                yield below
            elif name != "examples":
                yield from _references(below)
    elif isinstance(content, list):
        for below in content:
            yield from _references(below)
