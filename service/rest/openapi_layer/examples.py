"""Examples of the operations: data that is shown in the API document and run as tests.

One file per operation, `<operationId>.json`, holds a list:

    [{"name": "grilled-cap", "summary": "A dish with one line",
      "request": {"path": {"code": "grilled-cap"}, "query": {}, "headers": {}, "body": {...}},
      "answer": {"status": 200, "media_type": "application/json", "body": {...}, "varies": ["/revision"]}}]

`request` and `answer.body` may be left out, and `media_type` where it is JSON; a list in the query is one parameter
with commas; a request that is a file has its `text` and `media_type` in place of `body`; `varies` lists JSON Pointers
(RFC 6901) of what differs from run to run. A body that is not JSON is text.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

Example = Mapping[str, Any]
Examples = Mapping[str, Sequence[Example]]
_JSON = "application/json"


def load_examples(folder: Path) -> Examples:
    """Every operation's examples, by operationId."""
    return {path.stem: json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("*.json"))}


def put_examples(document: Mapping[str, Any], operation: dict[str, Any], path_parameters: Sequence[Any],
                 examples: Sequence[Example]) -> None:
    """Show an operation's examples at its parameters, its body and its answers; of a refusal, the answer alone."""
    for example in examples:
        asked, answer = example.get("request", {}), example["answer"]
        if "status" not in answer:  # written, and not run yet
            continue
        told = {"summary": example["summary"]} if "summary" in example else {}
        if "body" in asked and answer["status"] < 400:
            _at(operation["requestBody"]["content"], _JSON)[example["name"]] = told | {"value": asked["body"]}
        if "text" in asked and answer["status"] < 400:
            _at(operation["requestBody"]["content"], asked["media_type"])[example["name"]] = told | {
                "value": asked["text"]}
        media_type = answer.get("media_type", _JSON)
        response = _own_response(document, operation, str(answer["status"])) if "body" in answer else {}
        if "body" in answer and media_type in response.get("content", {}):
            _at(response["content"], media_type)[example["name"]] = told | {"value": answer["body"]}
        given = {**asked.get("path", {}), **asked.get("query", {})} if answer["status"] < 400 else {}
        for parameter in (*operation.get("parameters", ()), *path_parameters):
            if parameter.get("name") in given:
                shown = parameter.setdefault("examples", {})
                shown.setdefault(example["name"], {"value": given[parameter["name"]]})


def request_of(path: str, method: str, example: Example) -> dict[str, Any]:
    """An example as the arguments of an HTTP client: method, path with its query, headers, and json or data."""
    asked = example.get("request", {})
    for name, value in asked.get("path", {}).items():
        path = path.replace("{" + name + "}", quote(str(value), safe=""))
    query = urlencode({name: _in_query(value) for name, value in asked.get("query", {}).items()})
    body = {"json": asked["body"]} if "body" in asked else {}
    if "text" in asked:
        body = {"data": asked["text"].encode(), "content_type": asked["media_type"]}
    return {"method": method.upper(), "path": path + ("?" + query if query else ""),
            "headers": dict(asked.get("headers", {}))} | body


def _in_query(value: Any) -> Any:
    if isinstance(value, bool):
        return json.dumps(value)
    return ",".join(value) if isinstance(value, list) else value


def without_what_varies(body: Any, example: Example) -> Any:
    """A body without what differs from run to run, for comparing."""
    copy = json.loads(json.dumps(body))
    for pointer in example["answer"].get("varies", ()):
        *way, last = [step.replace("~1", "/").replace("~0", "~") for step in pointer.lstrip("/").split("/")]
        here = copy
        for step in way:
            here = here[int(step) if isinstance(here, list) else step]
        here[int(last) if isinstance(here, list) else last] = None
    return copy


def _own_response(document: Mapping[str, Any], operation: dict[str, Any], status: str) -> dict[str, Any]:
    """The response of a status, the operation's own: a shared one is copied in, to show an example there alone."""
    response: dict[str, Any] = operation["responses"].get(status, {})
    if "$ref" in response:
        shared = document["components"]["responses"][response["$ref"].rpartition("/")[2]]
        response = operation["responses"][status] = json.loads(json.dumps(shared))
    return response


def _at(content: Mapping[str, Any], media_type: str) -> dict[str, Any]:
    return dict.setdefault(content[media_type], "examples", {})
