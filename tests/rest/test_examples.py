"""Every example of the API document runs for real on a fresh demo kitchen, and its answer is the one that is shown.

Which members an answer may have is judged by the library jsonschema, by the served document made strict: a member that
the document does not name fails, so that nothing is served unsaid.
"""

import json
import re
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import Connection

from service.persistence.engines import Engines
from service.rest.openapi_layer.document import operations
from service.rest.openapi_layer.examples import Example, load_examples, request_of, without_what_varies
from tests.answer_validator import AnswerValidator
from tests.rest.api_document import DOCUMENT, VALIDATOR
from tests.rest.example_making import FOLDER, Answered, answers_of, demo_client, written

EXAMPLES = load_examples(FOLDER)
SERVED = {operation["operationId"]: (path, method) for path, method, operation in operations(DOCUMENT)}
EACH = [pytest.param(name, example, id=f"{name}-{example['name']}") for name in EXAMPLES for example in EXAMPLES[name]]
REFUSED_TOO = ("post_price", "keep_recipe", "keep_breakdown", "post_yield_test")


def strict(document: dict[str, Any]) -> dict[str, Any]:
    """The document with answers closed, but for those that say that they have further members."""
    schemas = {name: {"unevaluatedProperties": False} | schema if "additionalProperties" not in schema else schema
               for name, schema in document["components"]["schemas"].items()}
    return document | {"components": document["components"] | {"schemas": schemas}}


STRICT = AnswerValidator(strict(DOCUMENT))


COMMITS: Counter[tuple[str, str]] = Counter()
"""How many transactions a request committed, by method and path: the most of all that were sent there."""


@pytest.fixture(scope="module")
def answers() -> Iterator[dict[tuple[str, str], Answered]]:
    """All of them, on one fresh ledger."""
    with pytest.MonkeyPatch.context() as patch, demo_client() as client:
        _count_commits(patch, client)
        yield answers_of(client, EXAMPLES)


def _count_commits(patch: pytest.MonkeyPatch, client: FlaskClient) -> None:
    write, opened, committed = Engines.write, client.open, Counter[int]()

    @contextmanager
    def counting(engines: Engines) -> Iterator[Connection]:
        with write(engines) as connection:
            yield connection
        committed[threading.get_ident()] += 1

    def counted(**asked: Any) -> Any:
        before = committed[threading.get_ident()]
        answer = opened(**asked)
        place = (asked["method"], asked["path"])
        COMMITS[place] = max(COMMITS[place], committed[threading.get_ident()] - before)
        return answer

    patch.setattr(Engines, "write", counting)
    patch.setattr(client, "open", counted)


def test_a_request_commits_one_transaction_at_most(answers: dict[tuple[str, str], Answered]) -> None:
    """What makes it safe to ask a request again that the database undid (rest/asked_again.py)."""
    assert answers
    assert {place: number for place, number in COMMITS.items() if number > 1} == {}
    assert sum(COMMITS.values()) > 25


def test_every_operation_has_an_example_and_every_example_an_operation() -> None:
    assert sorted(EXAMPLES) == sorted(SERVED)
    for name, examples in EXAMPLES.items():
        assert any(example["answer"]["status"] < 300 for example in examples), f"{name} is only shown refused"
        names = [example["name"] for example in examples]
        assert len(set(names)) == len(names) > 0, name
        assert all(example["summary"] for example in examples), name


@pytest.mark.parametrize("name", REFUSED_TOO)
def test_what_is_often_got_wrong_is_shown_refused_too(name: str) -> None:
    assert any(example["answer"]["status"] == 422 for example in EXAMPLES[name])


@pytest.mark.parametrize(("name", "example"), EACH)
def test_an_example_answers_as_it_is_shown(
    name: str, example: Example, answers: dict[tuple[str, str], Answered]
) -> None:
    came, told = answers[name, example["name"]], example["answer"]
    assert (came.status, told.get("media_type", "application/json")) == (told["status"], came.media_type), came.body
    if came.body is None:
        assert "body" not in told
    else:
        assert without_what_varies(came.body, example) == without_what_varies(told["body"], example)


@pytest.mark.parametrize(("name", "example"), EACH)
def test_an_example_s_answer_has_no_member_that_the_document_does_not_name(name: str, example: Example) -> None:
    path, method = SERVED[name]
    told = example["answer"]
    asked = request_of(path, method, example)
    media_type, body = told.get("media_type", "application/json"), json.dumps(told.get("body"))
    STRICT.check_answer(
        method, asked["path"].partition("?")[0], told["status"], media_type,
        body.encode() if "body" in told else b"")


def test_an_accepted_body_is_as_the_document_says() -> None:
    accepted = [(name, example) for name in EXAMPLES for example in EXAMPLES[name]
                if "body" in example.get("request", {}) and example["answer"]["status"] < 300]
    assert len(accepted) > 10
    for name, example in accepted:
        path, method = SERVED[name]
        VALIDATOR.check_accepted(method, request_of(path, method, example)["path"], example["request"]["body"])


def test_files_are_as_the_maker_writes_them_and_hold_no_key_that_works() -> None:
    for path in sorted(FOLDER.glob("*.json")):
        text = path.read_text("utf-8")
        assert text == written(json.loads(text)), f"{path.name}: run `python -m tests.rest.example_making`"
        assert not re.search(r"seam_[0-9a-f]{8}_[A-Za-z0-9_-]{43}", text), path.name


def test_examples_are_shown_in_the_document() -> None:
    for name, examples in EXAMPLES.items():
        path, method = SERVED[name]
        responses = DOCUMENT["paths"][path][method]["responses"]
        for example in examples:
            told = example["answer"]
            if "body" in told:
                content = responses[str(told["status"])]["content"][told.get("media_type", "application/json")]
                assert content["examples"][example["name"]]["value"] == told["body"]
