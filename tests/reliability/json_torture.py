"""JSON torture: every text that has broken a reader is answered over the wire as a problem or as it should be.

A text is sent as the body of PUT /v1/suppliers/{code}, over a real server, and read by a judge that shares no code with
the service (json_judge.py). What must hold: no answer of 5xx; what the judge refuses is refused as malformed; what the
judge reads, within the documented bounds and without U+0000, is never called malformed; what is recorded is what the
judge read; after each refusal nothing has been recorded; and no answer to one text is larger than 64 KiB. How long the
slowest took is told, and not asserted. With SEAMCOST_THROUGH_PROXY=1 the texts go through the proxy that is shipped.

Source: RFC 8259, RFC 7493.
"""

import json
import time
import unicodedata
from collections import Counter
from pathlib import Path
from typing import Any

import requests

from service.rest.reading import BODY_LIMIT, DEEPEST, LONGEST_NAME, MOST_MEMBERS, MOST_VALUES
from tests.reliability.bad_clients import through_proxy
from tests.reliability.json_cases import json_texts
from tests.reliability.json_judge import NotJson, judged
from tests.reliability.programme import Programme, Run, Verdict
from tests.stories.running_service import RunningService, running_service

SUITE = "SEAMCOST_JSON_SUITE"
"""Names a file with more: a JSON list of {"name", "input"}, each input as text."""

LARGEST_ANSWER = 65_536


def json_torture(run: Run) -> Verdict:
    """Send the texts, and say which were answered wrongly."""
    faults: list[str] = []
    statuses: Counter[str] = Counter()
    slowest, done = (0.0, ""), 0
    with (running_service(run.database_url, run.folder, sabotage=run.sabotage) as service,
          through_proxy(service.address, run.folder) as place):
        texts = [*json_texts(), *_suite()]
        for name, text in texts[::max(1, len(texts) // max(run.cases, 1))]:
            if not run.in_time:
                break
            done += 1
            begun = time.monotonic()
            try:
                answer = _sent(service, place, f"t{done}", text)
            except requests.RequestException as fault:
                faults.append(f"{name}: no answer ({fault})")
                continue
            slowest = max(slowest, (time.monotonic() - begun, name))
            wrong = wrong_with(name, text, answer, service, f"t{done}")
            statuses[f"{answer.status_code} {_kind(answer)}".strip()] += 1
            faults += wrong
    return Verdict(done, tuple(faults), {"answers": dict(statuses), "slowest": f"{slowest[0]:.2f} s ({slowest[1]})",
                                         "5xx": sum(count for kind, count in statuses.items() if kind[0] == "5")})


def wrong_with(name: str, text: bytes, answer: requests.Response, service: RunningService, code: str) -> list[str]:
    """What is wrong with an answer to a text."""
    told = f"{name}: {answer.status_code} {answer.text[:200]}"
    kept = service.admin.get(f"/v1/suppliers/{code}")
    if answer.status_code >= 500:
        return [f"5xx: {told}"]
    if len(answer.content) > LARGEST_ANSWER:
        return [f"{len(answer.content)} bytes of answer: {told}"]
    if answer.status_code >= 400 and kept.status_code != 404:
        return [f"refused, and recorded: {told}"]
    if len(text) > BODY_LIMIT:
        return [] if answer.status_code == 413 else [f"above the limit: {told}"]
    try:
        value, depth = judged(text)
    except NotJson as why:
        return [] if _kind(answer) == "malformed-json" else [f"no JSON ({why}), and read: {told}"]
    if depth > DEEPEST or _out_of_bounds(value):
        return [] if _kind(answer) == "malformed-json" else [f"deeper or larger than is read, or with NUL: {told}"]
    if _kind(answer) == "malformed-json":
        return [f"JSON, and called malformed: {told}"]
    if answer.status_code < 300 and kept.json()["name"] != unicodedata.normalize("NFC", value["name"]).strip():
        return [f"recorded otherwise: {told}"]
    return []


def _sent(service: RunningService, place: str, code: str, text: bytes) -> requests.Response:
    return requests.put(f"{place}/v1/suppliers/{code}", data=text, timeout=60, headers={
        "Authorization": f"Bearer {service.admin.key}", "Content-Type": "application/json"})


def _kind(answer: requests.Response) -> str:
    if not answer.headers.get("Content-Type", "").startswith("application/problem+json"):
        return ""
    return str(answer.json()["type"]).rpartition("/")[2]


def _out_of_bounds(value: Any) -> bool:
    """Whether a value holds U+0000, or more than the service says that it reads of anything."""
    waiting, seen = [value], 0
    while waiting:
        here = waiting.pop()
        if isinstance(here, dict | list):
            seen += len(here)
            names = list(here) if isinstance(here, dict) else []
            if seen > MOST_VALUES or len(names) > MOST_MEMBERS or any(
                    "\x00" in name or len(name) > LONGEST_NAME for name in names):
                return True
            waiting.extend(here.values() if isinstance(here, dict) else here)
        elif isinstance(here, str) and "\x00" in here:
            return True
    return False


def _suite() -> list[tuple[str, bytes]]:
    import os

    named = os.environ.get(SUITE)
    if not named:
        return []
    return [(f"suite {each['name']}", each["input"].encode()) for each in json.loads(Path(named).read_text())]


PROGRAMME = Programme(
    name="json_torture", row="T03", promise="JSON is read as the standard says, or refused as a problem",
    unit="texts", short=60, long=2_000, run=json_torture,
    sabotages=("last_of_two_names", "any_character", "any_depth"))
