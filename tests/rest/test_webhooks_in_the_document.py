"""The API document's `webhooks`: an entry for each event, with its message and the fields that it is verified by.

Source: OpenAPI 3.1.0, "OpenAPI Object"; the names of the fields are those of Standard Webhooks 1.0.0, and the library
standardwebhooks signs with the same.
"""

from datetime import UTC, datetime
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from standardwebhooks import Webhook

from service.domain.webhook import Event
from service.rest.openapi_layer.document import operations
from service.rest.problem_table import PROBLEMS
from service.web.docs_pages import make_docs
from tests.rest.api_document import DOCUMENT

WEBHOOKS = DOCUMENT["webhooks"]
FIELDS = [DOCUMENT["components"]["parameters"][each["$ref"].rpartition("/")[2]]
          for each in WEBHOOKS["ping"]["post"]["parameters"]]


def schema_of(event: str) -> dict[str, Any]:
    told: dict[str, Any] = WEBHOOKS[event]["post"]["requestBody"]["content"]["application/json"]["schema"]
    return told | {"components": DOCUMENT["components"]}


def test_every_event_has_its_entry_and_no_other() -> None:
    assert set(WEBHOOKS) == {event.value for event in Event}
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []
    ids = {item["post"]["operationId"] for item in WEBHOOKS.values()}
    assert len(ids) == len(WEBHOOKS)
    assert ids.isdisjoint(operation["operationId"] for _, _, operation in operations(DOCUMENT))


@pytest.mark.parametrize("event", [event.value for event in Event])
def test_a_message_is_of_its_own_event_alone(event: str) -> None:
    told = {"type": event, "timestamp": "2026-11-25T10:00:00Z", "data": {}}
    at_type = [fault for fault in Draft202012Validator(schema_of(event)).iter_errors(told) if "type" in fault.path]
    assert at_type == []
    other = Draft202012Validator(schema_of(event)).iter_errors(told | {"type": "something.else"})
    assert any(list(fault.path) == ["type"] for fault in other)
    assert not Draft202012Validator(schema_of(event)).is_valid({})


def test_the_fields_are_those_that_a_receiver_verifies_by() -> None:
    assert [(each["in"], each["required"]) for each in FIELDS] == [("header", True)] * 3
    names = {each["name"] for each in FIELDS}
    at, receiver = datetime.now(UTC), Webhook("whsec_" + "bWFkZS11cC1mb3ItdGVzdHMtYWxvbmUtMzItYnl0ZXM=")
    fields = {"webhook-id": "msg-1", "webhook-timestamp": str(int(at.timestamp())),
              "webhook-signature": receiver.sign("msg-1", at, "{}")}
    assert names == set(fields)
    assert receiver.verify("{}", fields) == {}
    for name in names:
        with pytest.raises(Exception, match=r"(?i)missing|required"):
            receiver.verify("{}", {other: value for other, value in fields.items() if other != name})


def test_the_answers_say_what_ends_it() -> None:
    for item in WEBHOOKS.values():
        assert {"2XX", "410"} <= set(item["post"]["responses"])
        assert item["post"]["security"] == []


def test_the_pages_show_them() -> None:
    page = make_docs(DOCUMENT, PROBLEMS.values()).index.decode()
    for event, item in WEBHOOKS.items():
        assert f'<article id="{item["post"]["operationId"]}">' in page
        assert f"<code>{event}</code>" in page
