"""The committed API document is the one that the code gives, on any Python, and it says what a stranger needs to know.

Validity is judged by openapi-spec-validator, which knows OpenAPI 3.1 and JSON Schema 2020-12.
"""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from service import wiring
from service.rest.openapi_layer.document import operations
from service.use_cases.keys import SCOPES

TOP = Path(__file__).resolve().parents[2]
COMMITTED = (TOP / "openapi" / "openapi.json").read_bytes()
DOCUMENT: dict[str, Any] = json.loads(COMMITTED)
OPERATIONS = {operation["operationId"]: operation for _, _, operation in operations(DOCUMENT)}
PRINT_IT = "import sys; from service import wiring; sys.stdout.buffer.write(wiring.openapi_document())"
NEEDED = "import flask_smorest, sqlalchemy, alembic, jinja2, sys; print(sys.version_info[:2])"


def other_pythons() -> list[str]:
    """Interpreters of other versions that have what the service needs; where there are none, this one alone judges."""
    found = []
    for minor in range(11, 16):
        python = shutil.which(f"python3.{minor}")
        if python is not None and sys.version_info[1] != minor:
            done = subprocess.run([python, "-c", NEEDED], capture_output=True, check=False)
            found += [python] if done.returncode == 0 else []
    return found


def test_the_committed_document_is_current() -> None:
    assert wiring.openapi_document() == COMMITTED, "run `seamcost openapi --output openapi/openapi.json`"


@pytest.mark.parametrize("seed", ["0", "20261125"])
def test_the_bytes_are_the_same_in_other_processes_and_pythons(seed: str) -> None:
    for python in (sys.executable, *other_pythons()):
        done = subprocess.run([python, "-c", PRINT_IT], capture_output=True, check=True, cwd=TOP,
                              env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(TOP)})
        assert done.stdout == COMMITTED, python


def test_it_is_a_valid_openapi_document() -> None:
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []


def test_every_member_says_what_it_is() -> None:
    silent = [f"{name}.{member}" for name, schema in DOCUMENT["components"]["schemas"].items()
              for member, about in schema["properties"].items() if not about.get("description")]
    silent += [name for name, schema in DOCUMENT["components"]["schemas"].items() if not schema.get("description")]
    assert silent == []


def test_every_parameter_and_header_field_says_what_it_is() -> None:
    shared = DOCUMENT["components"]["parameters"] | DOCUMENT["components"]["headers"]
    silent = [name for name, about in shared.items() if not about.get("description")]
    for path, method, operation in operations(DOCUMENT):
        parameters = (*DOCUMENT["paths"][path].get("parameters", ()), *operation.get("parameters", ()))
        silent += [f"{method} {path} {each['name']}" for each in parameters
                   if "$ref" not in each and not (each.get("description") and each["schema"].get("type"))]
    assert silent == []


def test_every_operation_has_a_summary_its_scope_and_one_tag() -> None:
    tags = [tag["name"] for tag in DOCUMENT["tags"]]
    for name, operation in OPERATIONS.items():
        assert re.fullmatch(r"[A-Z][^\n]{8,110}\.", operation["summary"]), name
        assert [tag in tags for tag in operation["tags"]] == [True], name
        assert operation["description"].strip(), name
        if operation["security"]:
            assert operation["x-scope"] in SCOPES, name
            assert f"`{operation['x-scope']}`" in operation["description"], name
    unlocked = {name for name, operation in OPERATIONS.items() if not operation["security"]}
    assert unlocked == {"check_live", "check_ready", "read_feed_table", "read_feed_value"}


def test_tags_come_in_the_order_in_which_a_kitchen_is_set_up() -> None:
    tags = [tag["name"] for tag in DOCUMENT["tags"]]
    wanted = ["settings", "suppliers", "ingredients", "prices", "breakdowns", "yield-tests", "recipes", "dishes",
              "dish-costs", "changes", "keys", "health"]
    assert [tag for tag in tags if tag in wanted] == wanted


def test_amounts_are_decimal_text_in_answers_and_never_a_number() -> None:
    schemas = DOCUMENT["components"]["schemas"]
    decimals = [(name, member, about) for name, schema in schemas.items()
                for member, about in schema["properties"].items() if about.get("format") == "decimal"]
    assert len(decimals) > 100
    for name, member, about in decimals:
        kinds = about["type"] if isinstance(about["type"], list) else [about["type"]]
        assert ("number" in kinds) == name.endswith("Request"), f"{name}.{member}"


PUT_ONCE = ("keep_sales",)
"""PUTs without If-Match, where a late repeat would undo a correction."""
SENT_AGAIN = ("post_webhook_ping", "post_webhook_delivery_replay", "post_webhook_replay")
"""POSTs that record nothing: receivers tell repeats of a message by its id."""


def test_lists_say_how_they_go_on_and_what_records_once_says_so() -> None:
    for name, operation in OPERATIONS.items():
        schema = (operation["responses"].get("200", {}).get("content", {}).get("application/json", {})
                  .get("schema", {}).get("$ref", ""))
        assert ("Link" in operation["responses"].get("200", {}).get("headers", {})) == schema.endswith("Page"), name
        once = {"$ref": "#/components/parameters/IdempotencyKey"} in operation.get("parameters", ())
        assert once == ((name.startswith("post_") and name not in SENT_AGAIN) or name in PUT_ONCE), name
        if once:
            answers = [operation["responses"][status] for status in ("200", "201") if status in operation["responses"]]
            assert all("Idempotency-Replayed" in answer["headers"] for answer in answers), name
