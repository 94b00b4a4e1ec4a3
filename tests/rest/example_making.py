"""Makes the answers of the examples: each request runs against a fresh demo kitchen, its answer is written beside it.

    python -m tests.rest.example_making

Requests, names and summaries in `openapi/examples/<operationId>.json` are written by hand; statuses, media types and
bodies by this. All run on one ledger, at one instant: first the drafts, which take no revision, then what reads, what
becomes of the drafts, what else writes, and what reads that; in the order of the operations' names and of each file.
What an example's `varies` points at keeps the value that it has in the file.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from flask.testing import FlaskClient

from service import wiring
from service.cli.demo_kitchen import demo_requests
from service.persistence.engines import Engines, open_engines
from service.persistence.feed_links import SqlFeedLinkWork
from service.persistence.ledger import SqlLedger
from service.persistence.migrating import migrate
from service.rest.openapi_layer.document import operations
from service.rest.openapi_layer.examples import Example, Examples, load_examples, request_of
from service.settings import Settings
from service.use_cases.feed_links import LIVES
from service.use_cases.feed_links_port import FeedLink
from service.use_cases.keys import hash_of, key_document
from service.use_cases.ports import AccessKey, Asker, Entry
from tests.rest.api_document import DOCUMENT
from tests.rest.example_webhooks import make_webhook

FOLDER = Path(__file__).parents[2] / "openapi" / "examples"
INSTANT = datetime(2026, 11, 25, 10, tzinfo=UTC)
REQUEST_ID = "2f0c1d7e5a9b4c3e8f6a7b1c2d3e4f50"
KEYS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "seam_0ff1ce00_made-up-for-the-examples": ("Head chef", ("admin",)),
    "seam_7111aaaa_made-up-for-the-examples": ("Bar till", ("costs:read",))}
"""Keys of this ledger alone, by their text: whose, and its scopes. The first asks unless an example names one."""

FEED, FEED_TOKEN = "5eedf00d", "made-up-for-the-examples-of-this-document-0"
"""The id and the token of a feed link of this ledger alone."""

_IN_TURN = ("post_price_proposal", "get", "post_price_proposal_look", "post_price_proposal_acceptance",
            "post_price_proposal_rejection")
_LAST = ("keep_sales", "post_sales", "list_sales_days", "read_sales", "read_theoretical_food_cost",
         "read_menu_engineering", "read_balance",
         "post_webhook", "change_webhook", "post_webhook_ping", "post_webhook_replay", "post_webhook_delivery_replay",
         "post_webhook_secret", "delete_webhook", "post_margin_alert_acknowledgement")
"""What reads that which other examples recorded, and those: the demo has no sales; and webhooks and acknowledgements,
whose revisions are nobody else's."""
_NOT_IN_THE_LEDGER = ("created_at", "last_used_at")


@dataclass(frozen=True, slots=True)
class Answered:
    """What came: its status, its media type without parameters, and its body (None: there is none to show)."""

    status: int
    media_type: str
    body: Any

    def as_told(self) -> dict[str, Any]:
        """As an example's `answer`."""
        media_type = {} if self.media_type == "application/json" else {"media_type": self.media_type}
        return {"status": self.status} | media_type | ({} if self.body is None else {"body": self.body})


@contextmanager
def demo_client() -> Iterator[FlaskClient]:
    """A client of the service on a fresh demo kitchen, where it is always ten in the morning of 25 November 2026."""
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/demo.db"
        migrate(url)
        with client_on(url) as client:
            fill_with_the_demo(client)
            yield client


@contextmanager
def client_on(database_url: str) -> Iterator[FlaskClient]:
    """A client of the service on a migrated database, at that instant."""
    engines = open_engines(database_url)
    try:
        ledger = SqlLedger(engines, lambda: INSTANT)
        yield wiring.app_on(ledger, Settings(database_url=database_url), lambda _url: None).test_client()
    finally:
        engines.dispose()


def fill_with_the_demo(client: FlaskClient) -> None:
    """The demo kitchen, and what the examples ask for beside it, into an empty ledger."""
    ledger = client.application.extensions["seamcost"].positions.ledger
    make_keys(ledger)
    _make_feed(ledger._engines)
    make_webhook(ledger, ledger._engines)
    _load(client)
    _walk_to_the_end(client)


def answers_of(client: FlaskClient, examples: Examples) -> dict[tuple[str, str], Answered]:
    """The true answer of every example, by operationId and name."""
    return {(name, example["name"]): answered(client, path, method, example)
            for name, path, method, example in in_turn(examples)}


def in_turn(examples: Examples) -> Iterator[tuple[str, str, str, Example]]:
    """The examples in the order in which they run, each with its operationId, path and method."""
    served = {operation["operationId"]: (path, method) for path, method, operation
              in operations(DOCUMENT)}
    for name in sorted(examples, key=lambda name: (_turn(name, served[name][1]), name)):
        for example in examples[name]:
            yield name, *served[name], example


def _turn(name: str, method: str) -> int:
    """When an operation's examples run."""
    if name in _IN_TURN:
        return _IN_TURN.index(name)
    if name in _LAST:
        return len(_IN_TURN) + 1 + _LAST.index(name)
    return _IN_TURN.index("get") if method == "get" or name.startswith("read_") else len(_IN_TURN)


def answered(client: FlaskClient, path: str, method: str, example: Example) -> Answered:
    """Run one example."""
    answer = client.open(**asked_of(path, method, example))
    is_json = answer.mimetype.endswith("json")
    is_shown = answer.data and (is_json or answer.mimetype.startswith("text/"))
    body = None if not is_shown else json.loads(answer.data) if is_json else answer.text
    return Answered(answer.status_code, answer.mimetype if answer.data else "application/json", body)


def asked_of(path: str, method: str, example: Example) -> dict[str, Any]:
    """An example as the arguments of the client, asked with the key that it names or the first."""
    asked = request_of(path, method, example)
    asked["headers"] = {"Authorization": f"Bearer {next(iter(KEYS))}", "X-Request-ID": REQUEST_ID} | asked["headers"]
    return asked


def written(examples: list[Example]) -> str:
    """A file of examples."""
    return json.dumps(examples, indent=2, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the answer of every example into its file."""
    examples = load_examples(FOLDER)
    with demo_client() as client:
        answers = answers_of(client, examples)
    for name, told in examples.items():
        renewed = [{**example, "answer": _renewed(example, answers[name, example["name"]])} for example in told]
        (FOLDER / f"{name}.json").write_text(written(renewed), encoding="utf-8")


def _renewed(example: Example, came: Answered) -> dict[str, Any]:
    """The answer that came; what varies is as it stands in the file, if it stands there."""
    before, told = example.get("answer", {}), came.as_told()
    varies = before.get("varies", [])
    if not varies:
        return told
    if "body" in before:
        for pointer in varies:
            _put(told["body"], pointer, before["body"])
    return told | {"varies": varies}


def _put(body: Any, pointer: str, source: Any) -> None:
    *way, last = [int(step) if step.isdigit() else step for step in pointer.lstrip("/").split("/")]
    for step in way:
        body, source = body[step], source[step]
    body[last] = source[last]


def make_keys(ledger: SqlLedger) -> None:
    """Keys with ids and texts that are always the same, in the ledger."""
    for text, (name, scopes) in KEYS.items():
        key = AccessKey(text.split("_")[1], name, scopes, INSTANT, None, None, None)
        with ledger.write(Asker("cli", "demo", REQUEST_ID), moves_figures=False) as work:
            entry = {name: value for name, value in key_document(key).items() if name not in _NOT_IN_THE_LEDGER}
            work.next_mark(Entry("create_key", "key", key.id, entry))
            work.add_key(key, hash_of(text))


def _make_feed(engines: Engines) -> None:
    """A feed link, under the revision of the last key, so that all other examples keep theirs."""
    link = FeedLink(FEED, "Menu sheet", ("dish-costs",), ("dish", "name", "food_cost", "food_cost_percent", "status"),
                    "comma", "point", False, "Head chef", INSTANT, INSTANT + LIVES)
    with engines.write() as connection:
        work = SqlFeedLinkWork(connection)
        work.add(link, hash_of(FEED_TOKEN))
        work.store(len(KEYS))


def _load(client: FlaskClient) -> None:
    for asked in demo_requests(INSTANT.date()):
        answer = client.open(asked.path, method=asked.method, json=asked.body, headers={
            "Authorization": f"Bearer {next(iter(KEYS))}", "X-Request-ID": REQUEST_ID})
        if answer.status_code not in (200, 201):
            raise RuntimeError(f"the demo's {asked.method} {asked.path} was refused: {answer.text}")


def _walk_to_the_end(client: FlaskClient) -> None:
    """Look at margin alerts until they are up to date: how far one look gets depends on the machine."""
    headers = {"Authorization": f"Bearer {next(iter(KEYS))}"}
    while not client.get("/v1/margin-alerts", headers=headers).json["up_to_date"]:
        pass


if __name__ == "__main__":
    main()
