"""Keys and scopes. Sources: RFC 6750 sections 2.1, 3 and 3.1; RFC 9110 section 11."""

import pytest
from flask import Blueprint as PlainBlueprint

from service.rest.api_keys import OPEN, UndecidedView, access_of, needs
from service.rest.openapi_layer.blueprint import Blueprint
from tests.rest.trays import a_client, a_tray, an_app, as_, the_app


def test_a_key_opens_what_its_scope_says() -> None:
    assert a_client().get("/v1/trays/a", headers=as_("reader")).status_code == 200
    assert a_client().put("/v1/trays/a", json=a_tray(), headers=as_("chef")).status_code == 200


def test_without_a_key_the_challenge_has_no_error_code() -> None:
    answer = a_client().get("/v1/trays/a")
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, 'Bearer realm="seamcost"')


@pytest.mark.parametrize("secret", ["unknown", "", " ", "a b", "é", "x" * 300, "reader\t", "Reader"])
def test_an_unknown_key_and_no_key_at_all_say_invalid_token(secret: str) -> None:
    answer = a_client().get("/v1/trays/a", headers={"Authorization": f"Bearer {secret}"})
    assert answer.status_code == 401
    assert 'error="invalid_token"' in answer.headers["WWW-Authenticate"]


@pytest.mark.parametrize("field", ["Basic cmVhZGVyOg==", "reader", "Token reader", "Bearerreader"])
def test_other_schemes_are_401_and_say_which_one_is_read(field: str) -> None:
    answer = a_client().get("/v1/trays/a", headers={"Authorization": field})
    assert answer.status_code == 401
    assert "Bearer" in answer.json["detail"]


def test_the_scheme_s_name_is_read_in_any_case() -> None:
    assert a_client().get("/v1/trays/a", headers={"Authorization": "bearer reader"}).status_code == 200


def test_a_scope_that_is_missing_is_named() -> None:
    answer = a_client().put("/v1/trays/a", json=a_tray(), headers=as_("reader"))
    assert (answer.status_code, answer.json["scope"]) == (403, "menu:write")
    assert answer.headers["WWW-Authenticate"] == (
        'Bearer realm="seamcost", error="insufficient_scope", scope="menu:write"')


@pytest.mark.parametrize("name", ["api_key", "access_token", "token", "API_KEY"])
def test_a_key_in_the_address_is_400_with_a_hint_even_beside_a_good_one(name: str) -> None:
    answer = a_client().get(f"/v1/trays/a?{name}=secret", headers=as_("reader"))
    assert (answer.status_code, answer.json["type"]) == (400, "/docs/problems/key-in-query")
    assert b"secret" not in answer.data


def test_the_key_is_asked_for_before_anything_is_read() -> None:
    for path in ("/v1/trays/Bad_Code", "/v1/trays/a?nope=1"):
        assert a_client().put(path, data=b"{", content_type="text/plain").status_code == 401


def test_a_view_that_nobody_decided_about_keeps_the_app_from_being_made() -> None:
    blueprint = Blueprint("lids", "Lids.", url_prefix="/v1/lids")

    @blueprint.get("")
    @blueprint.response(200)
    def list_lids() -> None:
        """List."""

    with pytest.raises(UndecidedView, match="list_lids"):
        an_app(blueprint)


def test_a_plain_flask_view_is_refused_as_well() -> None:
    app = an_app()
    app.register_blueprint(PlainBlueprint("extra", __name__))
    app.add_url_rule("/extra", "extra", lambda: "")
    with pytest.raises(UndecidedView, match="extra"):
        access_of(app)


def test_only_health_the_documents_and_the_way_into_the_pages_are_open() -> None:
    app = the_app()
    open_paths = {rule.rule for rule in app.url_map.iter_rules() if access_of(app)[rule.endpoint] == OPEN}
    assert open_paths == {"/health/live", "/health/ready", "/openapi.json", "/docs", "/docs/style.css",
                          "/docs/versioning", "/docs/problems/<slug>", "/session", "/session/end", "/prices",
                          "/prices/<file>", "/static/<path:name>"}


def test_a_scope_that_is_none_is_a_mistake_in_our_code() -> None:
    with pytest.raises(ValueError, match="menu:write"):
        needs("menu:rite")


def test_a_failing_authenticator_fails_closed() -> None:
    def broken(_secret: str) -> None:
        raise RuntimeError

    assert an_app(authenticate=broken).test_client().get("/v1/trays/a", headers=as_("reader")).status_code == 500


def test_unknown_and_repeated_query_parameters_are_refused_together() -> None:
    answer = a_client().get("/v1/trays?limt=5&limit=1&limit=2", headers=as_("reader"))
    assert answer.status_code == 422
    assert {(error["parameter"], error["code"]) for error in answer.json["errors"]} == {
        ("limt", "unknown-parameter"), ("limit", "repeated-parameter")}
    assert a_client().get("/v1/trays/a?x=1", headers=as_("reader")).status_code == 422
