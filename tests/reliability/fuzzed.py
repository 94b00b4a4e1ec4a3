"""Fuzzing of the API over a real server: no request, however made, gets an answer of 5xx or one that is not documented.

What is held for every answer: its status, media type and body are what the API document says of that operation; it is
no 5xx; a request with no key, or a wrong one, gets nothing that needs a key; and for one refused write in eight, that
it took no revision. In the end the ledger's chain must hold. A fuzzer that only ever meets 404 and 422 proves nothing:
how many operations have answered 2xx is counted, and that each has is part of the verdict, but for a run that its time
ended before chance could come by each.

Source: RFC 9110 (statuses), RFC 9457; OpenAPI 3.1 by the library jsonschema.
"""

import gzip
import http.client
import json
import random
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote, urlsplit

from service import operating
from service.cli.demo_kitchen import demo_requests
from service.persistence.engines import open_engines
from service.rest.openapi_layer.examples import load_examples
from service.use_cases.keys import SCOPES
from tests.answer_validator import AnswerValidator
from tests.reliability.fuzz_requests import Request, Requests
from tests.reliability.programme import Programme, Run, Verdict
from tests.rest.example_making import FOLDER
from tests.rest.example_webhooks import FIRST_REVISION, WEBHOOK, make_webhook
from tests.stories.running_service import WEDNESDAY, RunningService, a_key, running_service

KITCHEN_ANEW = 3_000
"""After so many requests the demo kitchen is recorded anew: what was changed and retired by then leaves little."""
SLOW_SECONDS = 1.0
EACH_REACHED_BY = 5_000
"""So many requests have had every operation answered 2xx, or all that were asked for."""
STORED_BESIDE_THE_CHAIN = f"revision {FIRST_REVISION}, webhook {WEBHOOK}: "
"""How what `verify` says of the examples' webhook begins: no entry made it, whatever requests do to it later."""
MOST_FAULTS = 40
LONGEST_TARGET = 4_000
"""Above some such length the HTTP server answers 414 by itself."""

_WRITES = ("PUT", "POST", "DELETE")
_HEAD_LOOKED_AT = 8


@dataclass
class Seen:
    """What came back so far."""

    statuses: Counter[int] = field(default_factory=Counter)
    reached: set[str] = field(default_factory=set)
    slow: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    cases: int = 0


class Asking:
    """One connection, over which requests go out as they are, with nothing mended on the way."""

    def __init__(self, service: RunningService, keys: Mapping[str, str]) -> None:
        self._service, self._keys = service, keys
        self._host = urlsplit(service.address).netloc
        self._connection = http.client.HTTPConnection(self._host, timeout=60)

    def ask(self, request: Request) -> tuple[int, Mapping[str, str], bytes]:
        """The answer; a connection that was closed between requests is opened again."""
        headers = {name: _latin(value) for name, value in request.headers.items()}
        if key := self._keys.get(request.as_whom):
            headers["Authorization"] = key
        for again in (True, False):
            try:
                self._connection.request(request.method, request.target, request.body, headers)
                answer = self._connection.getresponse()
                fields, body = dict(answer.getheaders()), answer.read()
                packed = body and fields.get("Content-Encoding") == "gzip"
                return answer.status, fields, gzip.decompress(body) if packed else body
            except (http.client.RemoteDisconnected, ConnectionError, http.client.CannotSendRequest):
                self._connection.close()
                if not again:
                    raise
        raise AssertionError("unreachable")

    def close(self) -> None:
        """End the connection."""
        self._connection.close()


def _latin(value: str) -> str:
    return value.encode("latin-1", "replace").decode("latin-1")


def fuzzed(run: Run) -> Verdict:
    """Send so many requests and say what was wrong with any answer."""
    chance, seen = random.Random(run.seed), Seen()
    with demo_service(run) as (service, keys), closing(Asking(service, keys)) as asking:
        requests = Requests(service.validator.document, load_examples(FOLDER), chance, list(keys),
                            frozenset(key.split("_")[1] for key in keys.values() if "_" in key))
        for request in _every(requests, run, service):
            _one(asking, requests, request, service, seen)
            if len(seen.faults) >= MOST_FAULTS:
                break
        judged = seen.cases >= min(run.cases, EACH_REACHED_BY)
        unreached = sorted(requests.operations.keys() - seen.reached) if judged else []
        broken = [each for each in operating.verify(service.settings, {})
                  if not each.startswith(STORED_BESIDE_THE_CHAIN)]
    faults = [*seen.faults, *(f"{name} was never answered 2xx" for name in unreached),
              *(f"the ledger does not hold: {each}" for each in broken[:3])]
    return Verdict(seen.cases, tuple(faults), {
        "operations answered 2xx": f"{len(seen.reached)} of {len(requests.operations)}",
        "5xx": sum(count for status, count in seen.statuses.items() if status >= 500),
        "statuses": " ".join(f"{status}:{count}" for status, count in sorted(seen.statuses.items())),
        f"over {SLOW_SECONDS:.0f} s": dict(seen.slow.most_common(6))})


def _every(requests: Requests, run: Run, service: RunningService) -> Iterator[Request]:
    done = 0
    for round_of_examples in range(2):
        for request in requests.whole():
            if round_of_examples == 0 and request.operation.startswith(("retire", "revoke", "delete")):
                continue
            done += 1
            yield request
    load_demo(service, anew=True)
    while done < run.cases and run.in_time:
        done += 1
        if done % KITCHEN_ANEW == 0:
            load_demo(service, anew=True)
        yield requests.any()


def _one(asking: Asking, requests: Requests, request: Request, service: RunningService, seen: Seen) -> None:
    looks = request.method in _WRITES and seen.cases % _HEAD_LOOKED_AT == 0
    head = service.admin.head_revision() if looks else 0
    begun = time.monotonic()
    try:
        status, headers, body = asking.ask(request)
    except (OSError, http.client.HTTPException) as fault:
        seen.faults.append(f"no answer ({type(fault).__name__}: {fault}): {request.told()}")
        return
    if time.monotonic() - begun > SLOW_SECONDS:
        seen.slow[request.operation] += 1
    seen.cases += 1
    seen.statuses[status] += 1
    seen.faults += wrong_with(request, status, headers, body, service.validator)
    if looks and status >= 400 and service.admin.head_revision() != head:
        seen.faults.append(f"refused with {status}, and took a revision: {request.told()}")
    if 200 <= status < 300 and request.method not in ("HEAD", "OPTIONS"):
        seen.reached.add(request.operation)
    if len(body) < 500_000:
        requests.known.learn(request, status, headers, _read(body))


def wrong_with(request: Request, status: int, headers: Mapping[str, str], body: bytes, validator: AnswerValidator
               ) -> Iterator[str]:
    """What is wrong with an answer, each as a sentence that ends with the request.

    A server reads paths decoded (PEP 3333, PATH_INFO): one with a slash within a code is another path, of nothing.
    """
    path = request.target.partition("?")[0]
    if status == 404 and validator.operation(request.method, unquote(path)) is None:
        path = unquote(path)
    if status >= 500:
        yield f"{status} {body[:300]!r}: {request.told()}"
        return
    if request.method == "OPTIONS" or (status == 414 and len(request.target) > LONGEST_TARGET):
        return
    if request.as_whom in ("nobody", "stranger") and status < 400 and path.startswith("/v1"):
        yield f"{status} without a key: {request.told()}"
    try:
        validator.check_answer(request.method, path, status, headers.get("Content-Type", ""), body)
    except AssertionError as wrong:
        yield f"{wrong}: {request.told()}"
    except ValueError as wrong:
        yield f"the body is no JSON ({wrong}): {request.told()}"


def _read(body: bytes) -> Any:
    try:
        return json.loads(body)
    except ValueError:
        return None


@contextmanager
def demo_service(run: Run) -> Iterator[tuple[RunningService, Mapping[str, str]]]:
    """A server on the demo kitchen, and what its keys say under Authorization: an admin's, one for each lesser scope,
    none, and some that are no keys."""
    with running_service(run.database_url, run.folder, sabotage=run.sabotage, environment={
            "SEAMCOST_WEBHOOK_NETWORKS": "192.0.2.0/24"}) as service:
        load_demo(service)
        with operating.opened_ledger(service.settings) as ledger:
            engines = open_engines(service.settings.database_url)
            make_webhook(ledger, engines)
            engines.dispose()
        keys = {"admin": f"Bearer {service.admin.key}", "nobody": "", "stranger": "Bearer seam_00000000_" + "A" * 43}
        keys |= {scope: f"Bearer {a_key(service.settings, scope)}" for scope in SCOPES if scope != "admin"}
        while not service.admin.read("/v1/margin-alerts")["up_to_date"]:
            pass
        yield service, keys


def load_demo(service: RunningService, anew: bool = False) -> None:
    """Record the demo kitchen; `anew`, over what has become of it."""
    for asked in demo_requests(WEDNESDAY):
        headers = {"if_match": "*"} if anew and asked.method == "PUT" else {}
        answer = service.admin.ask(asked.method, asked.path, asked.body, **headers)
        if (not anew and answer.status_code >= 300) or answer.status_code >= 500:
            raise RuntimeError(f"the demo's {asked.method} {asked.path} was refused: {answer.text}")


PROGRAMME = Programme(
    name="fuzzed", row="T03", promise="No request gets an answer of 5xx, or one that is not documented",
    unit="requests", short=450, long=20_000, run=fuzzed, sabotages=("refusals_surprise",))
