"""The documentation as finished pages: made once from the API document and the problem types, by two templates.

They work without internet and without scripts, on a phone and on paper. Nothing here knows HTTP.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any, Protocol

from jinja2 import Environment, PackageLoader
from markupsafe import Markup, escape

from service.web.palette import with_palette

_AN_END = """Deprecation: @1803859200
Sunset: Wed, 01 Mar 2028 00:00:00 GMT
Link: </docs/versioning>; rel="deprecation"; type="text/html", </docs/versioning>; rel="sunset"; type="text/html",
      </v1/dish-costs>; rel="successor-version\""""
"""What answers carry of an operation that was deprecated on 1 March 2027; a test holds the two to be the same."""


class ProblemLike(Protocol):
    """What a page says about a problem type."""

    @property
    def slug(self) -> str: ...
    @property
    def status(self) -> int: ...
    @property
    def title(self) -> str: ...
    @property
    def meaning(self) -> str: ...
    @property
    def mend(self) -> str: ...
    @property
    def uri(self) -> str: ...


@dataclass(frozen=True, slots=True)
class FinishedPages:
    """HTML in UTF-8, and the one stylesheet."""

    index: bytes
    problems: Mapping[str, bytes]
    versioning: bytes
    stylesheet: bytes


def make_docs(document: Mapping[str, Any], kinds: Iterable[ProblemLike]) -> FinishedPages:
    """All pages of the documentation."""
    templates = Environment(loader=PackageLoader("service.web", "templates"), autoescape=True, trim_blocks=True,
                            lstrip_blocks=True)
    templates.filters |= {"as_json": _as_json, "kind": _kind, "prose": _prose}
    problems = list(kinds)
    index = templates.get_template("docs.html").render(document=document, groups=_groups(document), problems=problems)
    page = templates.get_template("problem.html")
    return FinishedPages(
        index.encode(), {each.slug: page.render(problem=each, example=_example(each)).encode() for each in problems},
        templates.get_template("versioning.html").render(example=_AN_END).encode(),
        with_palette(files("service.web").joinpath("static", "docs.css").read_bytes()))


def _groups(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The operations under their tags, each with its parameters, body and answers resolved."""
    groups = {tag["name"]: {"name": tag["name"], "description": tag.get("description", ""), "operations": []}
              for tag in document.get("tags", ())}
    for path, item in (*sorted(document["paths"].items()), *sorted(document.get("webhooks", {}).items())):
        for method in ("get", "put", "post", "patch", "delete"):
            if method in item:
                told = _operation(document, path, method, item)
                groups[item[method]["tags"][0]]["operations"].append(told)
    return list(groups.values())


def _operation(document: Mapping[str, Any], path: str, method: str, item: Mapping[str, Any]) -> dict[str, Any]:
    operation = item[method]
    parameters = [_resolved(document, each) for each in (*item.get("parameters", ()), *operation.get("parameters", ()))]
    body = next(iter(operation.get("requestBody", {}).get("content", {}).values()), None)
    answers = [_answer(document, status, told) for status, told in sorted(operation["responses"].items())]
    return {"id": operation["operationId"], "method": method.upper(), "path": path, "parameters": parameters,
            "summary": operation.get("summary", ""), "description": operation.get("description", ""),
            "body": body and {"members": _members(document, body["schema"], asked=True), "examples": _examples(body)},
            "answers": answers, "open": operation.get("security") == []}


def _answer(document: Mapping[str, Any], status: str, told: Mapping[str, Any]) -> dict[str, Any]:
    response = _resolved(document, told)
    forms = response.get("content", {})
    content = next(iter(forms.values()), {})
    problem = status.startswith(("4", "5"))
    return {"status": status, "description": response["description"], "problem": problem,
            "members": [] if problem or "schema" not in content else _members(document, content["schema"]),
            "examples": [example for form in forms.values() for example in _examples(form)]}


def _members(document: Mapping[str, Any], schema: Mapping[str, Any], asked: bool = False, depth: int = 0
             ) -> list[dict[str, Any]]:
    """The members of an object, those of the objects inside it indented below; `asked` leaves out what is ignored."""
    resolved = _resolved(document, schema)
    members = []
    for name, about in resolved.get("properties", {}).items():
        if asked and about.get("readOnly"):
            continue
        members.append({"name": name, "depth": depth, "about": about, "required": name in resolved.get("required", ())})
        inner = _inner(about)
        if inner is not None and depth < 4:
            members += _members(document, inner, asked, depth + 1)
    return members


def _inner(about: Mapping[str, Any]) -> Mapping[str, Any] | None:
    for candidate in (about, about.get("items", {}), *about.get("anyOf", ())):
        if "$ref" in candidate:
            return candidate
    return None


def _resolved(document: Mapping[str, Any], part: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in part:
        here: Any = document
        for step in part["$ref"].removeprefix("#/").split("/"):
            here = here[step]
        part = here
    return part


def _examples(content: Mapping[str, Any]) -> list[tuple[str, Any]]:
    return [(example.get("summary", name), example["value"]) for name, example in content.get("examples", {}).items()]


def _kind(about: Mapping[str, Any]) -> str:
    """A schema's type in words: `decimal text`, `list of text`, `one of grill, roast`."""
    if "enum" in about:
        return "one of " + ", ".join(str(value) for value in about["enum"] if value is not None)
    if "const" in about:
        return f'always "{about["const"]}"'
    if "$ref" in about or "anyOf" in about:
        return "object"
    kinds = about.get("type", "anything")
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds[0] == "array":
        return f"list of {_kind(about.get('items', {}))}"
    words = {"string": f"{about.get('format', '')} text".strip(), "integer": "whole number", "boolean": "true or false"}
    return " or ".join(words.get(kind, kind) for kind in kinds)


def _as_json(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, indent=2, ensure_ascii=False)


def _prose(text: str) -> Markup:
    """Plain prose with paragraphs and `code`, nothing else."""
    paragraphs = []
    for paragraph in filter(None, text.strip().split("\n\n")):
        pieces = paragraph.split("`")
        told = Markup("").join(Markup("<code>{}</code>").format(piece) if number % 2 else escape(piece)
                               for number, piece in enumerate(pieces))
        paragraphs.append(Markup("<p>{}</p>").format(told))
    return Markup("\n").join(paragraphs)


_PARAMETERS = {"unknown-parameter": "colour", "repeated-parameter": "limit", "wrong-cursor": "cursor"}
"""Problems of a query: where others point into the body, these name a parameter."""


def _example(problem: ProblemLike) -> dict[str, Any]:
    """What such a problem looks like."""
    told: dict[str, Any] = {"type": problem.uri, "title": problem.title, "status": problem.status,
                            "detail": problem.mend, "instance": "/v1/dishes/grilled-cap",
                            "request_id": "2f0c1d7e5a9b4c3e8f6a7b1c2d3e4f50"}
    if problem.status == 422:
        parameter = _PARAMETERS.get(problem.slug)
        place = {"parameter": parameter} if parameter else {"pointer": "#/lines/0/quantity"}
        told["errors"] = [{**place, "detail": problem.mend, "code": problem.slug}]
    return told
