"""What in an API document breaks a client that was written against an earlier one, each as a sentence.

Rules that always hold: a request that was good stays good and means the same; an answer stays within what was promised
of it, and may say more. So requests may only widen and answers only narrow, but for new members; words may join a list
whose description says "More may come".

Source: RFC 9745 and RFC 8594 for what is announced; the list of breaking changes that the project oasdiff publishes
(docs/BREAKING-CHANGES-EXAMPLES.md there), with which each rule agrees that both have.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from tests.versioning.schema_fit import Fit, Misfit, resolved

Document = Mapping[str, Any]
METHODS = ("get", "put", "post", "delete", "patch", "options", "head", "trace")
_HOW_SENT = ("style", "explode", "allowReserved", "allowEmptyValue")


@dataclass(frozen=True)
class Both:
    """The two documents; what was asked held against what is, and what is told against what was."""

    old: Document
    new: Document
    asked: Fit
    told: Fit


def breaks(old: Document, new: Document, today: date) -> list[str]:
    """Everything in `new` that breaks a client of `old`. An operation may go once its announced end has passed."""
    both = Both(old, new, asked=Fit(old, new, defaults_count=True), told=Fit(new, old, words_may_come=True))
    return [*_servers(both), *_schemes(both), *_operations(both, "paths", today),
            *_operations(both, "webhooks", today)]


def _servers(both: Both) -> Iterator[str]:
    there = [server["url"] for server in both.new.get("servers", ())]
    for server in both.old.get("servers", ()):
        if server["url"] not in there:
            yield f"the server {server['url']} is gone"


def _schemes(both: Both) -> Iterator[str]:
    there = both.new.get("components", {}).get("securitySchemes", {})
    for name, scheme in both.old.get("components", {}).get("securitySchemes", {}).items():
        for about in sorted(set(scheme) - {"description"}):
            if there.get(name, {}).get(about) != scheme[about]:
                yield f"the security scheme {name}: {about} was {scheme[about]}, is {there.get(name, {}).get(about)}"


def _operations(both: Both, kind: str, today: date) -> Iterator[str]:
    for path, item in both.old.get(kind, {}).items():
        for method in METHODS:
            if method not in item:
                continue
            name, later = f"{method.upper()} {path}", both.new.get(kind, {}).get(path, {})
            if method not in later:
                if not _has_ended(item[method], today):
                    yield f"{name} is gone"
                continue
            told = _webhook if kind == "webhooks" else _operation
            yield from (f"{name}: {what}" for what in told(
                _whole(both.old, item, method), _whole(both.new, later, method), both))


def _has_ended(operation: Mapping[str, Any], today: date) -> bool:
    return bool(operation.get("deprecated")) and operation.get("x-sunset", "9999") <= today.isoformat()


def _whole(document: Document, item: Mapping[str, Any], method: str) -> dict[str, Any]:
    """An operation with its path's parameters, and with the security that holds without one of its own."""
    operation = item[method]
    parameters = [resolved(each, document) for each in (*item.get("parameters", ()), *operation.get("parameters", ()))]
    security = operation.get("security", document.get("security", []))
    return {**operation, "security": security, "parameters": {
        (each["in"], each["name"].lower() if each["in"] == "header" else each["name"]): each for each in parameters}}


def _operation(before: Mapping[str, Any], after: Mapping[str, Any], both: Both) -> Iterator[str]:
    if before.get("operationId") != after.get("operationId"):
        yield f"operationId was {before.get('operationId')}, is {after.get('operationId')}"
    yield from _access(before, after)
    yield from _end(before, after)
    yield from _parameters(before["parameters"], after["parameters"], both)
    yield from _body(before.get("requestBody"), after.get("requestBody"), both)
    yield from _answers(before["responses"], after["responses"], both)


def _webhook(before: Mapping[str, Any], after: Mapping[str, Any], both: Both) -> Iterator[str]:
    """What the service sends is to its receiver what an answer is to a client."""
    headers = [{name: told for (_, name), told in each["parameters"].items()} for each in (before, after)]
    yield from _headers(headers[0], headers[1], both)
    sent, now = resolved(before.get("requestBody", {}), both.old), resolved(after.get("requestBody", {}), both.new)
    yield from _content_told(sent.get("content", {}), now.get("content", {}), both)
    for status in sorted(set(before["responses"]) - set(after["responses"])):
        yield f"the answer {status} is no longer understood"


def _access(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    ways = [set(way) for way in after["security"]] or [set()]
    for way in before["security"] or [{}]:
        if not any(each <= set(way) for each in ways):
            yield f"security: {json.dumps(way)} no longer opens it"
    if after.get("x-scope") not in (None, before.get("x-scope")):
        yield f"the scope that it needs was {before.get('x-scope')}, is {after['x-scope']}"


def _end(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
    if "x-sunset" in before and after.get("x-sunset", "9999") < before["x-sunset"]:
        yield f"its end was announced for {before['x-sunset']}, is now {after['x-sunset']}"
    if after.get("deprecated") and "x-sunset" not in after:
        yield "it is deprecated without a day on which it ends"


def _parameters(before: Mapping[tuple[str, str], Any], after: Mapping[tuple[str, str], Any], both: Both
                ) -> Iterator[str]:
    for key, told in after.items():
        if key not in before and told.get("required"):
            yield f"the {key[0]} parameter {key[1]} is new and required"
    for key, told in before.items():
        what = f"the {key[0]} parameter {key[1]}"
        if key not in after:
            yield f"{what} is gone"
            continue
        if after[key].get("required") and not told.get("required"):
            yield f"{what} has become required"
        for about in _HOW_SENT:
            if told.get(about) != after[key].get(about):
                yield f"{what}: {about} was {told.get(about)}, is {after[key].get(about)}"
        yield from _asked(told.get("schema", True), after[key].get("schema", True), both, what)


def _body(before: Any, after: Any, both: Both) -> Iterator[str]:
    before, after = resolved(before, both.old), resolved(after, both.new)
    if after and after.get("required") and not (before or {}).get("required"):
        yield "the body has become required"
    for media_type, told in (before or {}).get("content", {}).items():
        there = (after or {}).get("content", {})
        if media_type not in there:
            yield f"a body as {media_type} is no longer taken"
        else:
            yield from _asked(told.get("schema", True), there[media_type].get("schema", True), both,
                              f"the body as {media_type}")


def _answers(before: Mapping[str, Any], after: Mapping[str, Any], both: Both) -> Iterator[str]:
    for status in sorted(set(after) - set(before)):
        if not status.startswith(("4", "5")):
            yield f"the answer {status} is new, and no problem"
    for status, told in before.items():
        if status not in after:
            yield f"the answer {status} is gone"
            continue
        told, now = resolved(told, both.old), resolved(after[status], both.new)
        for what in (*_headers(told.get("headers", {}), now.get("headers", {}), both),
                     *_content_told(told.get("content", {}), now.get("content", {}), both)):
            yield f"the answer {status}: {what}"


def _headers(before: Mapping[str, Any], after: Mapping[str, Any], both: Both) -> Iterator[str]:
    there = {name.lower(): resolved(told, both.new) for name, told in after.items()}
    for name, about in before.items():
        told, now = resolved(about, both.old), there.get(name.lower())
        if now is None:
            yield f"the header field {name} is gone"
            continue
        if told.get("required") and not now.get("required"):
            yield f"the header field {name} may be missing"
        yield from _told(told.get("schema", True), now.get("schema", True), both, f"the header field {name}")


def _content_told(before: Mapping[str, Any], after: Mapping[str, Any], both: Both) -> Iterator[str]:
    for media_type, told in before.items():
        if media_type not in after:
            yield f"{media_type} is gone"
        else:
            yield from _told(told.get("schema", True), after[media_type].get("schema", True), both, media_type)


def _asked(before: Any, after: Any, both: Both, what: str) -> Iterator[str]:
    """A request's schema may only widen: whatever was taken is taken still."""
    for misfit in both.asked.misfits(before, after):
        yield _sentence(what, misfit, misfit.given, misfit.asked)


def _told(before: Any, after: Any, both: Both, what: str) -> Iterator[str]:
    """An answer's schema may only narrow, but for new members: whatever is said was to be expected."""
    for misfit in both.told.misfits(after, before):
        yield _sentence(what, misfit, misfit.asked, misfit.given)


def _sentence(what: str, misfit: Misfit, before: Any, after: Any) -> str:
    return f"{what}: {misfit.place} {misfit.keyword} was {json.dumps(before)[:200]}, is {json.dumps(after)[:200]}"
