"""Tokens of an identity provider beside keys, through the whole application on a ledger: what they open and leave."""

import base64
import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service import wiring
from service.persistence.clock import system_clock
from service.settings import Settings
from service.use_cases.token_identity import key_id_of
from tests.identity_provider import Provider, a_provider
from tests.receivers import answers
from tests.rest.small_kitchen import GOOD

LEG = {"supplier": "mill", "amount": "8.10", "pack_quantity": "1", "pack_unit": "kg"}


@contextmanager
def served(path: Path, **settings: Any) -> Iterator[FlaskClient]:
    told = Settings(database_url=f"sqlite:///{path}", **settings)
    app = wiring.web_app(told)
    yield app.test_client()
    wiring_parts = app.extensions[wiring.PARTS]
    wiring_parts.positions.ledger._engines.dispose()


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    with a_provider() as running:
        yield running


@pytest.fixture(scope="module")
def path(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    copied = tmp_path_factory.mktemp("tokens") / "ledger.db"
    copied.write_bytes(sqlite_template.read_bytes())
    return copied


@pytest.fixture(scope="module")
def client(path: Path, provider: Provider) -> Iterator[FlaskClient]:
    """The application with a provider, and a kitchen that the head recorded with a token."""
    with served(path, oidc=provider.settings, requests_per_minute=5_000) as asked:
        for where, body in GOOD.items():
            method = "POST" if where.endswith(("/prices", "/yield-tests")) else "PUT"
            answer = asked.open(where, method=method, json=body, headers=with_token(provider, "head"))
            assert answer.status_code in (200, 201), answer.text
        yield asked


def with_token(provider: Provider, scope: Any = "till", sub: str = "ann", **more: str) -> dict[str, str]:
    token = provider.token(system_clock(), scope=scope, sub=sub)
    return {"Authorization": f"Bearer {token}"} | {name.replace("_", "-"): value for name, value in more.items()}


def test_a_token_opens_what_its_claims_are_mapped_to(client: FlaskClient, provider: Provider) -> None:
    assert client.get("/v1/dish-costs", headers=with_token(provider)).status_code == 200
    refused = client.get("/v1/dishes", headers=with_token(provider))
    assert (refused.status_code, refused.json["scope"]) == (403, "read")
    assert client.get("/v1/dishes", headers=with_token(provider, "finance")).status_code == 200


def test_what_is_mapped_to_nothing_is_known_and_opens_nothing(client: FlaskClient, provider: Provider) -> None:
    for scope in ("admin", "unheard-of", None):
        assert client.get("/v1/dish-costs", headers=with_token(provider, scope)).status_code == 403


def test_a_wrong_token_is_401_in_the_same_words_whatever_is_wrong(client: FlaskClient, provider: Provider) -> None:
    good = with_token(provider)["Authorization"]
    ended = f"Bearer {provider.token(system_clock(), exp=1_000_000_000, iat=999_999_999)}"
    other = f"Bearer {provider.token(system_clock(), aud='other')}"
    wrong = [client.get("/v1/dish-costs", headers={"Authorization": each})
             for each in (good[:-4] + "AAAA", ended, other, "Bearer a.b.c")]
    assert {answer.status_code for answer in wrong} == {401}
    assert len({(answer.json["type"], answer.json["detail"], answer.headers["WWW-Authenticate"])
                for answer in wrong}) == 1
    assert 'error="invalid_token"' in wrong[0].headers["WWW-Authenticate"]


def test_a_token_is_read_as_a_bearer_s_alone(client: FlaskClient, provider: Provider) -> None:
    """Not by Basic, and no session is made of one: a cookie would outlive it."""
    token = provider.token(system_clock(), sub="a", scope="till")
    basic = base64.b64encode(f"x:{token}".encode()).decode()
    assert client.get("/v1/dish-costs", headers={"Authorization": f"Basic {basic}"}).status_code in (400, 401)
    assert client.post("/session", json={"key": token}).status_code == 401
    assert client.get(f"/v1/dish-costs?access_token={token}").status_code == 400


def test_the_ledger_says_who_by_an_id_that_shows_no_subject(client: FlaskClient, provider: Provider) -> None:
    made = client.post("/v1/ingredients/leg/prices", json=LEG, headers=with_token(provider, "finance", sub="ben"))
    assert made.status_code == 201, made.text
    last = client.get("/v1/changes?limit=1000", headers=with_token(provider, "finance")).json["data"][-1]
    assert (last["key_id"], last["who"]) == (key_id_of(provider.issuer, "ben"), "ben")
    assert last["key_id"].startswith("oidc:")


def test_an_idempotency_key_is_the_subject_s_own(client: FlaskClient, provider: Provider) -> None:
    def posted(sub: str, amount: str) -> Any:
        return client.post("/v1/ingredients/leg/prices", json=LEG | {"amount": amount},
                           headers=with_token(provider, "finance", sub, Idempotency_Key="k1"))

    first = posted("ann", "9.10")
    assert posted("ann", "9.10").json == first.json, "another token of the same subject repeats it"
    assert posted("ann", "9.20").status_code == 422, "the same key for another request"
    assert posted("bob", "9.20").status_code == 201, "bob's k1 is another"


def test_a_cursor_is_bound_to_the_subject(client: FlaskClient, provider: Provider) -> None:
    page = client.get("/v1/ingredients?limit=1", headers=with_token(provider, "finance")).json
    path = f"/v1/ingredients?limit=1&cursor={page['next_cursor']}"
    assert client.get(path, headers=with_token(provider, "finance")).status_code == 200
    assert client.get(path, headers=with_token(provider, "finance", sub="bob")).status_code == 422


def test_the_allowance_is_the_subject_s_whatever_tokens_it_has(path: Path, provider: Provider) -> None:
    with served(path, oidc=provider.settings, requests_per_minute=3) as limited:
        asked = [limited.get("/v1/dish-costs", headers=with_token(provider, sub="greedy")).status_code
                 for _ in range(5)]
        assert (asked.count(200), asked.count(429)) in ((3, 2), (4, 1)), "at most a minute's end is in between"
        assert limited.get("/v1/dish-costs", headers=with_token(provider, sub="modest")).status_code == 200


def test_a_subject_makes_a_key_and_it_outlives_the_token(client: FlaskClient, provider: Provider) -> None:
    made = client.post("/v1/keys", json={"name": "till 7", "scopes": ["costs:read"]},
                       headers=with_token(provider, "head"))
    assert made.status_code == 201
    assert client.get("/v1/dish-costs", headers={"Authorization": f"Bearer {made.json['key']}"}).status_code == 200


def test_a_wait_goes_on_for_a_token_that_is_still_good(client: FlaskClient, provider: Provider) -> None:
    head = client.get("/v1/dish-costs", headers=with_token(provider)).json
    after = client.get(f"/v1/dish-costs/changes?from_revision={head['revision']}&from_date={head['as_of']}",
                       headers=with_token(provider)).json["next_cursor"]
    answer = client.get(f"/v1/dish-costs/changes?after={after}&wait=1", headers=with_token(provider))
    assert (answer.status_code, answer.json["data"]) == (200, [])


def test_a_provider_out_of_reach_is_503_and_keys_go_on(path: Path, provider: Provider) -> None:
    with a_provider() as broken:
        broken.receiver.will(answers(500))
        with served(path, oidc=dataclasses.replace(broken.settings)) as asked:
            refused = asked.get("/v1/dish-costs", headers=with_token(broken))
            assert (refused.status_code, refused.json["type"]) == (503, "/docs/problems/unavailable")
            assert int(refused.headers["Retry-After"]) > 0
            assert asked.get("/v1/dish-costs", headers={"Authorization": "Bearer seam_0_x"}).status_code == 401
            assert asked.get("/health/ready").status_code == 200


def test_without_a_provider_a_token_is_refused_and_nobody_is_asked(path: Path, provider: Provider) -> None:
    asked = len(provider.receiver.requests)
    with served(path) as plain:
        assert plain.get("/v1/dish-costs", headers=with_token(provider)).status_code == 401
    assert len(provider.receiver.requests) == asked
