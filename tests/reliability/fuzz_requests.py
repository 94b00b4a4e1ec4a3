"""Makes requests that are nearly right: an example of the API document, on what the ledger holds, one place changed.

A request made from the document's schemas alone mostly meets 404 and 422 and never what lies behind: here each begins
as one that has worked (an example, with codes, ids, tags, cursors and values that earlier answers have shown), and is
then left alone, or changed in its path, its query, its header fields, its body or the bytes of it. What answers teach
goes back in, so that a price that was posted is withdrawn, a proposal looked at and a cursor followed.
"""

import json
import random
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from urllib.parse import quote, urlencode

from service.rest.openapi_layer.document import operations
from service.rest.openapi_layer.examples import Examples
from tests.reliability.fuzz_values import RAW, TEXTS, any_value, as_json, bytes_changed, changed, text_changed

JSON = "application/json"
_PARAMETER = re.compile(r"{([a-z_]+)}")
_ROWS = ("data", "rows", "deliveries", "urls", "lines")
_CALLED = ("dish", "cut", "recipe", "ingredient", "supplier", "list")
_MOST_KEPT = 40
_LONGEST = 1_200
_IN_TURN = ("post_price_proposal", "post_price_proposal_look", "post_price_proposal_acceptance", "post_feed",
            "post_webhook")
_MEDIA_TYPES = (JSON, "text/csv", "text/plain", "application/xml", "text/tab-separated-values", "multipart/form-data",
                "application/json; charset=utf-16", "application/octet-stream", "", "*/*", "application/json;", "ä")
_FIELDS: Mapping[str, tuple[str, ...]] = {
    "If-Match": ("*", '"1"', '"0"', 'W/"1"', '""', '"a", "b"', "1", "", '"' + "9" * 400 + '"', "\u00fe"),
    "If-None-Match": ("*", '"1"', "", "W/", '"', '"x",' * 100),
    "Accept": ("text/csv", "text/html", "*/*", "image/png", "text/csv;q=x", ";", "application/json;q=0",
        "text/*;q=0.1"),
    "Accept-Encoding": ("gzip", "identity;q=0", "br", "*;q=0", "gzip;q=9"),
    "Content-Encoding": ("gzip", "identity", "deflate"), "Range": ("bytes=0-1", "bytes=5-1", "x"),
    "Idempotency-Key": ("a", '"a"', "", "a" * 300, "\u00fe", "k-1", "k-2"), "X-Request-ID": ("a" * 300, "", "x y",
        "a;b"),
    "Accept-Language": ("de", "x" * 100), "Prefer": ("wait=1",), "Origin": ("null",),
    "Host": ("", "a b", "localhost:99999"), "X-HTTP-Method-Override": ("DELETE",), "Cookie": ("seamcost=x", "=;=", "a"),
    "Sec-Fetch-Site": ("cross-site",), "Date": ("now",), "If-Modified-Since": ("now",), "X-Forwarded-For": ("'",)}


@dataclass(frozen=True)
class Request:
    """One request as it goes out. `whole`: left as it should work; `as_whom`: which of the keys asks."""

    operation: str
    template: str
    method: str
    target: str
    headers: Mapping[str, str]
    body: bytes | None
    as_whom: str
    whole: bool
    path: Mapping[str, str] = field(default_factory=dict)

    def told(self) -> str:
        """The request in a line, for a report of what it broke."""
        body = "" if self.body is None else f" {self.body[:600]!r}"
        return f"{self.method} {self.target} as {self.as_whom} {dict(self.headers)}{body}"


class Known:
    """What earlier answers have shown: codes and ids by path, values by name, tags and cursors."""

    def __init__(self, examples: Examples, chance: random.Random, spared: frozenset[str]) -> None:
        self._chance, self._spared = chance, spared
        self.paths: dict[str, list[dict[str, str]]] = defaultdict(list)
        self.values: dict[str, list[Any]] = defaultdict(list)
        self.tags: dict[str, str] = {}
        self.cursors: dict[str, str] = {}
        for told in examples.values():
            for example in told:
                self._keep_values(example.get("request", {}).get("body"))
                self._keep_values(example.get("request", {}).get("query", {}))
                self._keep_values(example.get("request", {}).get("path", {}))

    def value(self, name: str) -> Any:
        """A value that has stood under this name, or one that no name has."""
        kept = self.values.get(name)
        return self._chance.choice(kept) if kept and self._chance.random() < 0.8 else any_value(self._chance)

    def path(self, template: str) -> dict[str, str]:
        """What a path of this form has had for its parameters: those it needs, from the longest known way to it."""
        needed = _PARAMETER.findall(template)
        way = template
        while needed and way:
            way = way[:way.rindex("}") + 1] if "}" in way else ""
            kept = [path for path in self.paths.get(way, ()) if path.keys() >= set(needed)]
            if kept:
                return dict(kept[-1] if self._chance.random() < 0.3 else self._chance.choice(kept))
            way = way[:way.rindex("{")].rstrip("/") if way else ""
        return {}

    def learn(self, request: Request, status: int, headers: Mapping[str, str], answer: Any) -> None:
        """Keep what an answer shows."""
        if "ETag" in headers:
            self.tags[request.target.partition("?")[0]] = headers["ETag"]
        if status >= 300 or not isinstance(answer, dict):
            return
        if isinstance(answer.get("next_cursor"), str):
            self.cursors[request.template] = answer["next_cursor"]
        lists = [answer[name] for name in _ROWS if isinstance(answer.get(name), list)]
        for row in [answer, *(row for rows in lists for row in rows[:60] if isinstance(row, dict))]:
            self._learn_row(request, row)
        self._keep_values(answer)

    def _learn_row(self, request: Request, row: Mapping[str, Any]) -> None:
        for text in re.findall(r'/feeds/([A-Za-z0-9_-]+)/([a-z-]+)\.csv', json.dumps(row)):
            for table, kind in (("dish-costs", "dishes"), ("cut-costs", "cuts"), ("recipe-costs", "recipes")):
                if text[1] == table:
                    self._keep_path("/feeds/{token}/{table}", {"token": text[0], "table": table})
                    self._keep_path("/feeds/{token}/{kind}/{code}/{figure}", {
                        "token": text[0], "kind": kind, "figure": "food_cost" if kind == "dishes" else "cost_per_kg",
                        "code": str(next(iter(self.values.get(table.partition("-")[0], ["grilled-cap"]))))})
        for template in _BELOW.get(request.template, ()):
            name = _PARAMETER.findall(template)[-1]
            found = next((row[each] for each in (name, "id", "code", *_CALLED) if row.get(each)), None)
            if found is not None and not isinstance(found, dict | list) and str(found) not in self._spared:
                self._keep_path(template, dict(request.path) | {name: str(found)})

    def _keep_path(self, template: str, path: dict[str, str]) -> None:
        kept = self.paths[template]
        if path not in kept:
            kept.append(path)
        if len(kept) > _MOST_KEPT:
            kept.pop(self._chance.randrange(len(kept)))

    def _keep_values(self, value: Any, depth: int = 0) -> None:
        if isinstance(value, list):
            for each in value[:10]:
                self._keep_values(each, depth + 1)
        if not isinstance(value, dict) or depth > 8:
            return
        for name, each in value.items():
            kept = self.values[name]
            if each not in kept:
                kept.append(each)
            if len(kept) > _MOST_KEPT:
                kept.pop(self._chance.randrange(len(kept)))
            self._keep_values(each, depth + 1)


_BELOW: dict[str, list[str]] = defaultdict(list)
"""By the path that lists or makes: the forms of paths that lead to one of what it lists."""


class Requests:
    """Requests without end, the same for the same seed and answers. `spared` are ids that no path gets: of the keys
    that ask."""

    def __init__(self, document: Mapping[str, Any], examples: Examples, chance: random.Random,
                 keys: Sequence[str], spared: frozenset[str] = frozenset()) -> None:
        self._chance, self._examples, self._keys = chance, examples, keys
        self.operations = {operation["operationId"]: (path, method, operation)
                           for path, method, operation in operations(document)}
        self.known = Known(examples, chance, spared)
        self._left: list[str] = []
        for path, _, _ in self.operations.values():
            for whole in _ways_to(path):
                above = whole[:whole.rindex("{")].rstrip("/")
                if whole not in _BELOW[above]:
                    _BELOW[above].append(whole)
                for costs in ("dish-costs", "cut-costs", "recipe-costs"):
                    if whole == f"/v1/{costs}/{{code}}" and whole not in _BELOW[f"/v1/{costs}"]:
                        _BELOW[f"/v1/{costs}"].append(whole)

    def whole(self) -> Iterator[Request]:
        """Each example as it is: what has to work, and teaches the rest."""
        names = sorted(self._examples, key=lambda name: (
            name.startswith(("retire", "revoke", "delete")), not name.startswith("keep"),
            _IN_TURN.index(name) if name in _IN_TURN else len(_IN_TURN), name))
        for name in names:
            for example in self._examples[name]:
                if example["answer"].get("status", 500) < 300:
                    yield self._made(name, example, whole=True)

    def any(self) -> Request:
        """The next request: every operation has its turn."""
        if not self._left:
            self._left = list(self.operations)
            self._chance.shuffle(self._left)
        name = self._left.pop()
        return self._made(name, self._chance.choice(self._examples[name]), whole=self._chance.random() < 0.3)

    def _made(self, name: str, example: Mapping[str, Any], whole: bool) -> Request:
        path, method, operation = self.operations[name]
        asked = example.get("request", {})
        media_type, body = _body_of(asked)
        headers = {"Content-Type": media_type} if media_type else {}
        parameters = {each: str(value) for each, value in asked.get("path", {}).items()}
        known = self.known.path(path)
        if known and (set(_PARAMETER.findall(path)) - {"code"} or not whole or self._chance.random() < 0.3):
            parameters |= known
        query = dict(asked.get("query", {}))
        if any(each.get("$ref", "").endswith("/IfMatch") for each in operation.get("parameters", ())):
            headers |= self._tag(_filled(path, parameters), example["answer"]["status"])
        request = Request(name, path, method.upper(), "", headers | asked.get("headers", {}), body, "admin", whole,
                          parameters)
        if not whole:
            request, query = self._spoiled(request, query, operation)
        if isinstance(query.get("wait"), int | str):
            query["wait"] = "0"
        target = _filled(path, request.path) + ("?" + _query(query) if query else "")
        return replace(request, target=target)

    def _tag(self, target: str, status: int) -> dict[str, str]:
        """Which version is meant: what makes something new names none, as a rule; the rest whatever is there."""
        if self._chance.random() < (0.9 if status == 201 else 0.05):
            return {}
        return {"If-Match": "*" if self._chance.random() < 0.8 else self.known.tags.get(target, '"1"')}

    def _spoiled(self, request: Request, query: dict[str, Any], operation: Mapping[str, Any]
                 ) -> tuple[Request, dict[str, Any]]:
        for _ in range(self._chance.choice((1, 1, 1, 2, 3))):
            act = self._chance.randrange(12)
            if act < 5 and request.body is not None:
                request = replace(request, body=self._spoiled_body(request))
            elif act == 5 and request.path:
                at = self._chance.choice(list(request.path))
                request = replace(request, path=dict(request.path) | {at: self._path_text(request.path[at])})
            elif act in (6, 7) or (act < 5 and operation.get("parameters")):
                query = self._spoiled_query(query, operation)
            elif act == 8:
                name = self._chance.choice(list(_FIELDS))
                request = replace(request, headers=dict(request.headers) | {name: self._chance.choice(_FIELDS[name])})
            elif act == 9:
                request = replace(request, as_whom=self._chance.choice(self._keys))
            elif act == 10 and request.body is not None:
                request = replace(request, headers=dict(request.headers) | {
                    "Content-Type": self._chance.choice(_MEDIA_TYPES)})
            elif act == 11 and self._chance.random() < 0.2:
                request = replace(request, method=self._chance.choice(("HEAD", "OPTIONS", "PATCH", "PUT", "POST",
                    "GET")))
        return request, query

    def _spoiled_body(self, request: Request) -> bytes:
        body = request.body or b""
        if request.headers.get("Content-Type") != JSON or self._chance.random() < 0.15:
            return bytes_changed(body, self._chance)
        try:
            value = json.loads(body)
        except ValueError:
            return bytes_changed(body, self._chance)
        return as_json(changed(value, self._chance, self.known.value))

    def _spoiled_query(self, query: dict[str, Any], operation: Mapping[str, Any]) -> dict[str, Any]:
        names = [each["name"] for each in operation.get("parameters", ()) if each.get("in") == "query"]
        name = self._chance.choice([*names, *names, *names, "verbose", "", "limit", "api_key"])
        if name in ("cursor", "after") and self._chance.random() < 0.6 and self.known.cursors:
            value: Any = self._chance.choice(list(self.known.cursors.values()))
            value = value if self._chance.random() < 0.7 else text_changed(value, self._chance)
        elif name == "limit" and self._chance.random() < 0.6:
            value = self._chance.choice((1, 2, 3, 1000, 1001, 0))
        elif name == "known_at" and self._chance.random() < 0.6:
            value = self._chance.randrange(1, 400)
        else:
            value = self.known.value(name)
        text = value.removeprefix(RAW) if isinstance(value, str) else json.dumps(value) if value is not None else ""
        text = text[:_LONGEST]
        return query | {name: [text, text] if self._chance.random() < 0.05 else text}

    def _path_text(self, text: str) -> str:
        return self._chance.choice((self._chance.choice(TEXTS), text_changed(text, self._chance),
            text.upper()))[:_LONGEST]


def _ways_to(path: str) -> Iterator[str]:
    """The path cut behind each of its parameters."""
    for found in _PARAMETER.finditer(path):
        yield path[:found.end()]


def _body_of(asked: Mapping[str, Any]) -> tuple[str, bytes | None]:
    if "body" in asked:
        body = json.dumps(asked["body"])
        return JSON, body.replace("hooks.head-office.example", "192.0.2.1").encode()
    return (asked["media_type"], asked["text"].encode()) if "text" in asked else ("", None)


def _filled(path: str, parameters: Mapping[str, str]) -> str:
    for name in _PARAMETER.findall(path):
        path = path.replace("{" + name + "}", _quoted(parameters.get(name, "1")) or "%20")
    return path


def _quoted(text: str) -> str:
    return quote(text.encode("utf-8", "surrogatepass"), safe="")


def _query(query: Mapping[str, Any]) -> str:
    pairs = []
    for name, value in query.items():
        for each in value if isinstance(value, list) and value[:1] == value[1:] else [value]:
            text = json.dumps(each) if isinstance(each, bool) else ",".join(map(str, each)) if isinstance(
                each, list) else str(each)
            pairs.append((name.encode("utf-8", "surrogatepass"), text.encode("utf-8", "surrogatepass")))
    return urlencode(pairs)
