"""One test for each correction of the OpenAPI layer; the numbers are those that the layer's modules name.

Two do not apply: the database's classes are not turned into schemas here (5), and nothing is uploaded yet, so that
there is no `formData` (12) and no `format: binary` (13): a schema for either is refused. Held elsewhere: exact reading
of decimals (2: test_exact_fields), header fields of errors (7: test_problems), conditions and tags (8, 9: also
test_conditional; their order, 10: the use cases), bodies (16, 17: test_reading), `instance` (27: test_problems).

Sources: OpenAPI 3.1.0; JSON Schema 2020-12; RFC 9110; the judge of a document is openapi-spec-validator.
"""

import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import marshmallow as ma
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from service.rest.api_keys import needs
from service.rest.fields.texts import Text
from service.rest.fields.times import Day
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.components import PROBLEM_RESPONSES
from service.rest.openapi_layer.document import document, document_bytes, operations
from service.rest.openapi_layer.schemas import Query, Request
from tests.rest.trays import a_client, a_tray, an_app, as_, the_app, trays

DOCUMENT = document(the_app())
SCHEMAS = DOCUMENT["components"]["schemas"]
BY_NAME = {operation["operationId"]: operation for _, _, operation in operations(DOCUMENT)}


def holds(schema: str, value: Any) -> bool:
    """Whether a value is valid by a schema of the document."""
    return bool(Draft202012Validator(
        {"$ref": f"#/components/schemas/{schema}", "components": DOCUMENT["components"]}).is_valid(value))


def a_blueprint_with(**decorators: Any) -> Blueprint:
    blueprint = Blueprint("lids", "Lids.", url_prefix="/v1/lids")

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(**decorators)
    @blueprint.response(200)
    def list_lids(_asked: Any) -> None:
        """List."""

    return blueprint


def test_the_document_is_valid_openapi_3_1() -> None:
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []
    assert DOCUMENT["openapi"] == "3.1.0"


def test_1_decimals_are_text_and_numbers_only_in_requests() -> None:
    asked, answered = SCHEMAS["TrayRequest"]["properties"]["price"], SCHEMAS["TrayAnswer"]["properties"]["price"]
    assert (asked["type"], asked["format"]) == (["string", "number", "null"], "decimal")
    assert (answered["type"], answered["format"]) == (["string", "null"], "decimal")


@pytest.mark.parametrize("price", ["14.20", "0", 14.2, 0, None])
def test_1_and_2_what_the_document_allows_is_read(price: Any) -> None:
    assert holds("TrayRequest", a_tray(price=price))
    assert a_client().put("/v1/trays/a", json=a_tray(price=price), headers=as_("chef")).status_code == 200


@pytest.mark.parametrize("price", ["1e4", "-1", "1_0", " 1", "٣", "1.1234567", "1" * 13, -1, True, [], ""])
def test_1_and_2_what_the_document_forbids_is_refused(price: Any) -> None:
    assert not holds("TrayRequest", a_tray(price=price))
    assert a_client().put("/v1/trays/a", json=a_tray(price=price), headers=as_("chef")).status_code == 422


def test_3_an_enumeration_has_a_type() -> None:
    assert SCHEMAS["TrayAnswer"]["properties"]["shape"] == {"type": "string", "enum": ["deep", "flat"]}


def test_4_a_constant_is_a_required_const() -> None:
    assert SCHEMAS["TrayRequest"]["properties"]["kind"] == {"type": "string", "const": "tray"}
    assert "kind" in SCHEMAS["TrayRequest"]["required"]
    assert not holds("TrayRequest", a_tray(kind="lid"))


def test_6_problems_are_documented_as_they_are_sent() -> None:
    for response in DOCUMENT["components"]["responses"].values():
        if response["description"] != "Not Modified":
            assert response["content"] == {
                "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    sent = a_client().put("/v1/trays/a", json={}, headers=as_("chef"))
    assert sent.content_type == "application/problem+json"
    assert holds("Problem", sent.json)


def test_8_no_tag_is_a_hash_of_the_body_and_23_no_page_has_a_number() -> None:
    blueprint = Blueprint("lids", "Lids.", url_prefix="/v1/lids")
    for stock in (blueprint.etag, blueprint.paginate, blueprint.check_etag):
        with pytest.raises(TypeError, match="use"):
            stock(lambda: None)


def test_9_a_304_is_documented_where_a_read_has_a_tag() -> None:
    assert BY_NAME["read_tray"]["responses"]["304"] == {"$ref": "#/components/responses/NotModified"}
    assert "ETag" in BY_NAME["read_tray"]["responses"]["200"]["headers"]


def test_11_what_is_no_error_is_not_turned_into_one() -> None:
    answer = a_client().get("/v1/trays/a", headers=as_("reader", If_None_Match='"214"'))
    assert (answer.status_code, answer.data) == (304, b"")


@pytest.mark.parametrize("location", ["form", "files", "cookies"])
def test_12_and_13_forms_and_files_are_refused_when_the_app_is_made(location: str) -> None:
    with pytest.raises(ValueError, match=location):
        a_blueprint_with(schema=Query, location=location)


def test_14_an_unknown_query_parameter_is_refused() -> None:
    answer = a_client().get("/v1/trays?limt=5", headers=as_("reader"))
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "limt")


def test_15_a_null_default_in_a_query_is_refused_and_absence_is_not_documented_as_null() -> None:
    class Asked(Query):
        as_of = Day(load_default=None)

    with pytest.raises(TypeError, match="as_of"):
        a_blueprint_with(schema=Asked, location="query")
    for _, _, operation in operations(DOCUMENT):
        for parameter in operation.get("parameters", ()):
            assert "null" not in parameter.get("schema", {}).get("type", "")


@pytest.mark.parametrize("stock", [ma.fields.Float(), ma.fields.Decimal(), ma.fields.Integer(), ma.fields.Boolean(),
                                   ma.fields.Date(), ma.fields.DateTime(), ma.fields.String(), ma.fields.Raw()])
def test_2_and_17_fields_that_read_more_than_one_form_are_refused(stock: ma.fields.Field[Any]) -> None:
    schema = Request.from_dict({"inner": ma.fields.List(ma.fields.Nested(Request.from_dict({"amount": stock})))})
    with pytest.raises(TypeError, match="amount"):
        a_blueprint_with(schema=schema)


def test_18_the_problems_of_each_operation_are_those_it_can_answer_with() -> None:
    documented = {name: {int(status) for status in operation["responses"] if int(status) >= 400}
                  for name, operation in BY_NAME.items()}
    assert documented == {
        "check_live": {400, 422}, "check_ready": {400, 422, 503},
        "list_trays": {400, 401, 403, 422, 429, 503},
        "read_tray": {400, 401, 403, 404, 422, 429, 503},
        "keep_tray": {400, 401, 403, 412, 413, 415, 422, 428, 429, 503, 507},
        "label_tray": {400, 401, 403, 404, 409, 413, 415, 422, 429, 503, 507}}
    assert not [name for name, operation in BY_NAME.items() if "default" in operation["responses"]]


def test_19_answers_may_grow_and_requests_are_closed() -> None:
    assert SCHEMAS["TrayRequest"]["additionalProperties"] is False
    assert SCHEMAS["LineRequest"]["additionalProperties"] is False
    assert "additionalProperties" not in SCHEMAS["TrayAnswer"]


def test_19_what_a_put_ignores_is_documented_as_read_only() -> None:
    assert SCHEMAS["TrayRequest"]["properties"]["revision"]["readOnly"] is True
    assert holds("TrayRequest", a_tray(code="a", revision=214))


def test_20_every_member_of_an_answer_is_always_there() -> None:
    assert SCHEMAS["TrayAnswer"]["required"] == sorted(SCHEMAS["TrayAnswer"]["properties"])
    assert holds("TrayAnswer", a_client().get("/v1/trays/a", headers=as_("reader")).json)


def test_21_names_are_ours_and_descriptions_those_of_rfc_9110() -> None:
    responses = DOCUMENT["components"]["responses"]
    assert responses["UnprocessableContent"]["description"] == "Unprocessable Content"
    assert responses["ContentTooLarge"]["description"] == "Content Too Large"
    assert set(responses) <= {*PROBLEM_RESPONSES.values(), "NotModified"}


def test_22_no_component_is_left_over() -> None:
    text = json.dumps(DOCUMENT)
    unused = [name for kind in ("schemas", "responses", "parameters", "headers")
              for name in DOCUMENT["components"][kind] if f'"#/components/{kind}/{name}"' not in text]
    assert unused == []


def test_24_the_pages_load_nothing_from_elsewhere() -> None:
    page = a_client().get("/docs")
    assert b"<script" not in page.data
    assert b"://" not in page.data
    assert page.headers["Content-Security-Policy"].startswith("default-src 'none'; style-src 'self'")


@pytest.mark.parametrize("number", ["9" * 16, "9" * 400, "-1", "1.0", "٣"])
def test_25_whole_numbers_in_paths_are_bounded(number: str) -> None:
    path = f"/v1/trays/a/labels/{number}"
    assert a_client().post(path, json={}, headers=as_("chef")).status_code == 404
    parameters = DOCUMENT["paths"]["/v1/trays/{code}/labels/{number}"]["parameters"]
    assert {"type": "integer", "minimum": 0, "maximum": 10**15 - 1} in [each["schema"] for each in parameters]


def test_26_a_malformed_idempotency_key_is_400_and_not_422() -> None:
    headers, line = as_("chef") | {"Idempotency-Key": "a b"}, {"cut": "a", "weight_kg": "1"}
    assert a_client().post("/v1/trays/a/labels/1", json=line, headers=headers).status_code == 400


def test_operation_ids_are_the_views_names_and_unique() -> None:
    assert len(BY_NAME) == len(list(operations(DOCUMENT)))
    with pytest.raises(ValueError, match="list_trays"):
        clash = Blueprint("lids", "Lids.", url_prefix="/v1/lids")

        @clash.get("")
        @needs("read")
        @clash.response(200)
        def list_trays() -> None:
            """List."""

        document(an_app(trays(), clash))


def test_all_who_ask_for_the_document_at_once_have_the_same_one() -> None:
    app = an_app(trays())
    with ThreadPoolExecutor(8) as pool:
        given = list(pool.map(lambda _: document(app), range(8)))
    assert given[0]["paths"]
    assert all(each is given[0] for each in given)


def test_every_operation_says_its_key_and_scope() -> None:
    assert [set(scheme) for scheme in BY_NAME["keep_tray"]["security"]] == [{"bearer"}, {"basic"}, {"token"}]
    assert "`menu:write`" in BY_NAME["keep_tray"]["description"]
    assert BY_NAME["keep_tray"]["description"].startswith("A tray equal to the one in force")
    assert BY_NAME["check_live"]["security"] == []


def test_every_operation_has_a_summary_and_a_tag_that_is_explained() -> None:
    explained = {tag["name"] for tag in DOCUMENT["tags"] if tag["description"]}
    for name, operation in BY_NAME.items():
        assert operation["summary"], name
        assert set(operation["tags"]) <= explained, name


def test_examples_are_shown_where_they_belong() -> None:
    examples = {"keep_tray": [{
        "name": "caps", "summary": "A tray of caps", "request": {"path": {"code": "a"}, "body": a_tray()},
        "answer": {"status": 200, "body": {"code": "a"}, "varies": ["/revision"]}}]}
    content = document(an_app(examples=examples))
    item = content["paths"]["/v1/trays/{code}"]
    shown = {"caps": {"summary": "A tray of caps", "value": a_tray()}}
    assert item["put"]["requestBody"]["content"]["application/json"]["examples"] == shown
    assert item["put"]["responses"]["200"]["content"]["application/json"]["examples"]["caps"]["value"] == {"code": "a"}
    assert item["parameters"][0]["examples"] == {"caps": {"value": "a"}}
    assert list(OpenAPIV31SpecValidator(content).iter_errors()) == []


def test_the_document_s_bytes_are_sorted_and_the_same_in_another_process() -> None:
    here = document_bytes(the_app())
    assert json.loads(here) == DOCUMENT
    assert here == (json.dumps(DOCUMENT, indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()
    program = ("import sys; from tests.rest.trays import the_app; "
               "from service.rest.openapi_layer.document import document_bytes; "
               "sys.stdout.buffer.write(document_bytes(the_app()))")
    there = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True,
                           env={"PYTHONHASHSEED": "7"})
    assert there.stdout == here


def test_a_field_s_text_has_no_bounds_in_answers() -> None:
    assert "maxLength" not in SCHEMAS["Problem"]["properties"]["detail"]
    assert Text(max=3).facts() == {"maxLength": 3}
