"""Which tokens are good: by pinned algorithms, keys, issuer, audience and times, and nothing that a token says itself.

Sources: RFC 7519; RFC 7515 (4.1: header parameters, 4.1.11 `crit`); RFC 8725 sections 2 (attacks) and 3 (practices),
from which most of the refusals come; RFC 9068 section 2.1 (`at+jwt`). Tokens are made by PyJWT or by hand, never by
the library that reads them.
"""

import base64
import hashlib
import hmac
import json
import logging
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, padding

from service.integrations.identity.checking import token_check
from service.settings import OidcSettings
from service.use_cases.token_identity import VerifyToken
from tests.conftest import SettableClock
from tests.identity_provider import AUDIENCE, NOW, Provider, a_provider, public_jwk, rsa_key


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    with a_provider() as running:
        yield running


def a_check(provider: Provider, **changes: Any) -> VerifyToken:
    return checked_by(provider.settings_with(**changes), SettableClock(NOW))


def checked_by(settings: OidcSettings, clock: SettableClock) -> VerifyToken:
    check = token_check(settings, clock)
    assert check is not None
    return check


@pytest.fixture(scope="module")
def check(provider: Provider) -> VerifyToken:
    return a_check(provider)


def part(content: Any) -> str:
    raw = content if isinstance(content, bytes) else json.dumps(content).encode()
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def signed_by_hand(provider: Provider, header: Any, claims: Any) -> str:
    """Whatever header and claims, with a signature that is right (RS256)."""
    told = f"{part(header)}.{part(claims)}"
    return f"{told}.{part(rsa_key().sign(told.encode(), padding.PKCS1v15(), hashes.SHA256()))}"


def test_a_good_token_tells_its_subject_and_what_its_claims_open(provider: Provider, check: VerifyToken) -> None:
    found = check(provider.token(scope="openid till unheard-of"))
    assert found is not None
    assert (found.scopes, found.name) == (("costs:read",), "ann")
    assert found.expires_at == NOW + timedelta(seconds=600 + 30)


def test_by_hand_a_token_is_as_good(provider: Provider, check: VerifyToken) -> None:
    """What the tests below change is what makes them fail."""
    assert check(signed_by_hand(provider, {"alg": "RS256", "kid": "key-0"}, provider.claims())) is not None


def test_what_no_setting_opens_opens_nothing(provider: Provider, check: VerifyToken) -> None:
    for scope in ("admin", "costs:read", "openid profile", "", None, 7, {"till": 1}, [["till"]]):
        found = check(provider.token(scope=scope))
        assert found is not None
        assert found.scopes == (), scope


def test_scopes_may_be_a_list_and_stand_deeper(provider: Provider) -> None:
    check = a_check(provider, scopes_claim="/realm/a~1b")
    found = check(provider.token(realm={"a/b": ["finance", "till", 3]}, scope="head"))
    assert found is not None
    assert found.scopes == ("costs:read", "prices:write", "read")
    nothing = check(provider.token(realm="finance"))
    assert nothing is not None
    assert nothing.scopes == ()


WRONG_CLAIMS: dict[str, dict[str, Any]] = {
    "ended": {"iat": NOW.timestamp() - 700, "exp": NOW.timestamp() - 31},
    "ended just now": {"exp": NOW.timestamp() - 30},
    "not yet": {"nbf": NOW.timestamp() + 31}, "issued ahead": {"iat": NOW.timestamp() + 31},
    "good for too long": {"exp": NOW.timestamp() + 3_601}, "from long ago": {"iat": NOW.timestamp() - 3_600},
    "no end": {"exp": None}, "no beginning": {"iat": None}, "no subject": {"sub": None}, "no audience": {"aud": None},
    "no issuer": {"iss": None}, "an end that is text": {"exp": "2000000000"}, "an end that is true": {"exp": True},
    "no number": {"exp": float("nan")}, "an end without end": {"exp": float("inf")},
    "a huge end": {"exp": 10**300}, "a huge beginning": {"iat": -(10**300)},
    "another audience": {"aud": "https://other.example"}, "other audiences": {"aud": ["a", "b"]},
    "nearly ours": {"aud": AUDIENCE + "/"}, "an audience within": {"aud": [[AUDIENCE]]}, "none in a list": {"aud": []},
    "an audience as an object": {"aud": {AUDIENCE: 1}},
    "another issuer": {"iss": "https://other.example"}, "an issuer in a list": {"iss": ["x"]},
    "a subject that is a number": {"sub": 7}, "an empty subject": {"sub": ""},
    "a long subject": {"sub": "a" * 256}, "a subject of two lines": {"sub": "ann\nroot"},
}


TOLD = re.compile(r"a token was refused: (?:(?!none$)[a-z][a-z ,]+|[A-Z][A-Za-z]+Error)")


@pytest.mark.parametrize("changes", WRONG_CLAIMS.values(), ids=WRONG_CLAIMS.keys())
def test_a_token_with_wrong_claims_is_refused(
    provider: Provider, check: VerifyToken, changes: dict[str, Any], caplog: pytest.LogCaptureFixture
) -> None:
    claims = {name: value for name, value in (provider.claims() | changes).items() if value is not None}
    with caplog.at_level(logging.INFO, "seamcost.identity"):
        assert check(signed_by_hand(provider, {"alg": "RS256", "kid": "key-0"}, claims)) is None
    assert TOLD.fullmatch("".join(caplog.messages))


def test_an_issuer_is_compared_to_the_letter(provider: Provider, check: VerifyToken) -> None:
    assert check(provider.token(iss=provider.issuer + "/")) is None


@pytest.mark.parametrize("changes", [
    {"aud": [AUDIENCE, "https://other.example"]}, {"exp": NOW.timestamp() - 29, "iat": NOW.timestamp() - 600},
    {"nbf": NOW.timestamp() + 30}, {"exp": NOW.timestamp() + 599.5}, {"typ": "anything"},
    {"exp": NOW.timestamp() + 3_600}, {"sub": "a" * 255}])
def test_what_is_just_right_is_good(provider: Provider, check: VerifyToken, changes: dict[str, Any]) -> None:
    assert check(provider.token(**changes)) is not None


@pytest.mark.parametrize("header", [{"unheard-of": "x"}, {"x5t": "YQ", "cty": "JWT"}, {"typ": "AT+jwt"}])
def test_what_a_header_says_besides_is_left_alone(
        provider: Provider, check: VerifyToken, header: dict[str, str]) -> None:
    """RFC 7515 section 4: what is not understood is ignored, unless `crit` says that it must not be."""
    assert check(signed_by_hand(provider, {"alg": "RS256", "kid": "key-0"} | header, provider.claims())) is not None


def test_a_token_has_7000_characters_at_most(provider: Provider, check: VerifyToken) -> None:
    by_length = {len(token): token for name in ("a", "aa", "aaa") for more in range(4_700, 4_960)
                 if 6_995 < len(token := f"{part({'alg': 'RS256', 'kid': 'key-0', name: 1})}."
                                         f"{part(provider.claims(more='m' * more))}.{'s' * 342}") < 7_005}
    for length, good in ((7_000, True), (7_001, False)):
        told = by_length[length].rpartition(".")[0]
        token = f"{told}.{part(rsa_key().sign(told.encode(), padding.PKCS1v15(), hashes.SHA256()))}"
        assert len(token) == length
        assert (check(token) is not None) == good


def test_a_pointer_to_a_claim_is_read_as_rfc_6901_says(provider: Provider) -> None:
    """Its section 4: `~1` is read before `~0`, so that `~01` is `~1`; what leads nowhere is no claim."""
    for pointer, claims in (("/a~0b", {"a~b": "till"}), ("/a~01", {"a~1": "till"}),
                            ("/a/b/c", {"a": {"b": {"c": "till"}}}), ("scope", {"scope": "till"}),
                            ("a/b", {"a/b": "till"})):
        found = a_check(provider, scopes_claim=pointer)(provider.token(**{"scope": None} | claims))
        assert found is not None
        assert found.scopes == ("costs:read",), pointer
    for pointer in ("/scope/x", "/x/scope", "/", "/scop"):
        found = a_check(provider, scopes_claim=pointer)(provider.token())
        assert found is not None
        assert found.scopes == (), pointer


def test_scopes_are_parted_by_spaces_alone_and_only_so_many_are_read(provider: Provider, check: VerifyToken) -> None:
    """RFC 6749 section 3.3: a scope is letters between single spaces; no other blank parts two."""
    for scope, opened in (("till\tfinance", ()), ("till\nfinance", ()), ("head  till", ("admin", "costs:read")),
                          ("x " * 255 + "till", ("costs:read",)), ("x " * 256 + "till", ())):
        found = check(provider.token(scope=scope))
        assert found is not None
        assert found.scopes == opened


def public_pem() -> bytes:
    return rsa_key().public_key().public_bytes(serialization.Encoding.PEM,
                                               serialization.PublicFormat.SubjectPublicKeyInfo)


def hs256(header: dict[str, Any], claims: dict[str, Any], secret: bytes) -> str:
    told = f"{part(header)}.{part(claims)}"
    return f"{told}.{part(hmac.digest(secret, told.encode(), hashlib.sha256))}"


def of_another_key(provider: Provider) -> str:
    return provider.token(key=rsa_key(99))


ATTACKS: dict[str, Callable[[Provider], str]] = {
    "none": lambda p: f"{part({'alg': 'none', 'kid': 'key-0'})}.{part(p.claims())}.",
    "None": lambda p: f"{part({'alg': 'nOnE', 'kid': 'key-0'})}.{part(p.claims())}.",
    "none with a signature": lambda p: f"{part({'alg': 'none'})}.{p.token().partition('.')[2]}",
    "no signature": lambda p: p.token().rpartition(".")[0] + ".",
    "no algorithm": lambda p: signed_by_hand(p, {"kid": "key-0"}, p.claims()),
    "an algorithm that is a list": lambda p: signed_by_hand(p, {"alg": ["RS256"], "kid": "key-0"}, p.claims()),
    "HS256 with the public key": lambda p: hs256({"alg": "HS256", "kid": "key-0"}, p.claims(), public_pem()),
    "HS256 with the JWK": lambda p: hs256({"alg": "HS256", "kid": "key-0"}, p.claims(),
                                          json.dumps(public_jwk(rsa_key())).encode()),
    "HS256 with nothing": lambda p: hs256({"alg": "HS256", "kid": "key-0"}, p.claims(), b""),
    "an algorithm not pinned": lambda p: p.token(algorithm="RS512"),
    "PSS where PKCS is pinned": lambda p: p.token(algorithm="PS256"),
    "another key": of_another_key,
    "a kid that is a path": lambda p: p.token(key=rsa_key(99), header={"kid": "../../../../dev/null"}),
    "a kid that is a URL": lambda p: p.token(key=rsa_key(99), header={"kid": f"{p.issuer}/keys"}),
    "a kid with SQL": lambda p: p.token(key=rsa_key(99), header={"kid": "x' UNION SELECT 'secret"}),
    "a kid that is a number": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": 0}, p.claims()),
    "a kid that is null": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": None}, p.claims()),
    "no kid": lambda p: signed_by_hand(p, {"alg": "RS256"}, p.claims()),
    "its own key": lambda p: p.token(key=rsa_key(99), header={"jwk": public_jwk(rsa_key(99))}),
    "its own key's URL": lambda p: p.token(key=rsa_key(99), header={"jku": f"{p.issuer}/trap", "kid": "mine"}),
    "its own certificate's URL": lambda p: p.token(key=rsa_key(99), header={"x5u": f"{p.issuer}/trap"}),
    "its own certificate": lambda p: p.token(key=rsa_key(99), header={"x5c": ["MIIB"]}),
    "an extension": lambda p: signed_by_hand(
        p, {"alg": "RS256", "kid": "key-0", "crit": ["exp"], "exp": 1}, p.claims()),
    "no extension, critical": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0", "crit": []}, p.claims()),
    "an unencoded payload": lambda p: signed_by_hand(
        p, {"alg": "RS256", "kid": "key-0", "b64": False, "crit": ["b64"]}, p.claims()),
    "an unencoded payload, unsaid": lambda p: signed_by_hand(
        p, {"alg": "RS256", "kid": "key-0", "b64": False}, p.claims()),
    "an ID of another kind": lambda p: p.token(header={"typ": "logout+jwt"}),
    "a proof": lambda p: p.token(header={"typ": "dpop+jwt"}),
    "claims that are a list": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0"}, [p.claims()]),
    "claims that are no JSON": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0"}, b"{"),
    "claims that are no UTF-8": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0"}, b'{"sub": "\xff"}'),
    "a deep claim": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0"}, b"[" * 4_000),
    "a deep header": lambda p: f"{part(b'[' * 4_000)}.{part(p.claims())}.c2ln",
    "a long number": lambda p: signed_by_hand(p, {"alg": "RS256", "kid": "key-0"}, b'{"exp": ' + b"9" * 4_500 + b"}"),
    "a huge token": lambda p: p.token(more="a" * 6_000),
    "an encrypted one": lambda p: ".".join(["eyJhbGciOiJkaXIifQ"] + ["YQ"] * 4),
    "two parts": lambda p: p.token().rpartition(".")[0], "four parts": lambda p: p.token() + ".YQ",
    "nothing in its parts": lambda p: "..",
    "padding": lambda p: p.token() + "=", "another ending": lambda p: p.token()[:-1] + chr(ord(p.token()[-1]) ^ 1),
    "claims of another": lambda p: ".".join([p.token().split(".")[0], part(p.claims(scope="head")),
                                             p.token().split(".")[2]]),
}


@pytest.mark.parametrize("attack", ATTACKS.values(), ids=ATTACKS.keys())
def test_an_attack_opens_nothing_and_leads_nowhere(
    provider: Provider, check: VerifyToken, attack: Callable[[Provider], str], caplog: pytest.LogCaptureFixture
) -> None:
    check(provider.token())
    asked = len(provider.receiver.requests)
    token = attack(provider)
    with caplog.at_level(logging.INFO, "seamcost.identity"):
        assert check(token) is None
    assert not [request.path for request in provider.receiver.requests[asked:] if request.path != "/keys"
                and not request.path.startswith("/.well-known")]
    told = "".join(record.getMessage() for record in caplog.records)
    assert TOLD.fullmatch(told), "why, in our own words or by the kind of fault"
    assert all(piece not in told for piece in token.split(".") if len(piece) > 3), "a log repeats nothing of it"


def test_a_key_that_is_for_something_else_verifies_nothing() -> None:
    """RFC 7517 sections 4.2 to 4.4; a symmetric key in the set is no key of ours."""
    with a_provider() as provider:
        provider.extra_jwks = [
            public_jwk(rsa_key(5), kid="enc", use="enc"), public_jwk(rsa_key(5), kid="ops", key_ops=["encrypt"]),
            public_jwk(rsa_key(5), kid="other", alg="RS512"), public_jwk(rsa_key(6, 1_024), kid="weak"),
            {"kty": "oct", "k": part(b"k" * 32), "kid": "oct", "alg": "HS256"},
            {"kty": "RSA", "n": "AQ", "kid": "torn"}, {"kty": ["RSA"]}, "no key", {"kid": 7, **public_jwk(rsa_key(5))}]
        check = a_check(provider)
        for kid, key in (("enc", 5), ("ops", 5), ("other", 5)):
            assert check(provider.token(kid=kid, key=rsa_key(key))) is None, kid
        with pytest.warns(match="below the minimum"):
            weak = provider.token(kid="weak", key=rsa_key(6, 1_024))
        assert check(weak) is None
        assert check(hs256({"alg": "HS256", "kid": "oct"}, provider.claims(), b"k" * 32)) is None
        assert check(provider.token()) is not None


@pytest.mark.parametrize(("algorithm", "made"), [
    ("ES256", lambda: ec.generate_private_key(ec.SECP256R1())),
    ("ES384", lambda: ec.generate_private_key(ec.SECP384R1())),
    ("ES512", lambda: ec.generate_private_key(ec.SECP521R1())), ("PS256", rsa_key), ("RS384", rsa_key)])
def test_other_algorithms_may_be_pinned_in_its_place(algorithm: str, made: Callable[[], Any]) -> None:
    with a_provider() as provider:
        provider.keys = {"key-0": made()}
        assert a_check(provider, algorithms=(algorithm,))(provider.token(algorithm=algorithm)) is not None


def test_a_curve_belongs_to_its_algorithm() -> None:
    with a_provider() as provider:
        provider.keys = {"key-0": ec.generate_private_key(ec.SECP384R1()), "key-1": rsa_key()}
        check = a_check(provider, algorithms=("ES256", "RS256"))
        token = f"{part({'alg': 'ES256', 'kid': 'key-0'})}.{part(provider.claims())}"
        signature = provider.keys["key-0"].sign(token.encode(), ec.ECDSA(hashes.SHA256()))
        assert check(f"{token}.{part(signature)}") is None
        assert check(provider.token(kid="key-1")) is not None


def test_ed25519_by_its_own_name() -> None:
    """RFC 9864: `Ed25519` says the curve; `EdDSA`, which does not, is not taken."""
    with a_provider() as provider:
        private = ed25519.Ed25519PrivateKey.generate()
        provider.keys = {"key-0": private}
        check = a_check(provider, algorithms=("Ed25519",))
        for name, good in (("Ed25519", True), ("EdDSA", False)):
            told = f"{part({'alg': name, 'kid': 'key-0'})}.{part(provider.claims())}"
            assert (check(f"{told}.{part(private.sign(told.encode()))}") is not None) == good


def test_without_a_kid_the_only_key_that_has_none_is_meant(provider: Provider) -> None:
    with a_provider() as other:
        other.keys = {}
        other.extra_jwks = [public_jwk(rsa_key())]
        claims = other.claims()
        assert a_check(other)(signed_by_hand(other, {"alg": "RS256"}, claims)) is not None


def test_a_token_that_was_verified_ends_all_the_same(provider: Provider) -> None:
    clock = SettableClock(NOW)
    check, token = checked_by(provider.settings, clock), provider.token()
    assert check(token) is check(token) is not None
    clock.move(seconds=600 + 29)
    assert check(token) is not None
    clock.move(seconds=1)
    assert check(token) is None


def test_only_so_many_are_remembered(provider: Provider, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.integrations.identity.tokens.MOST_REMEMBERED", 2)
    check = a_check(provider)
    tokens = [provider.token(sub=f"till {number}") for number in range(4)]
    first = [check(token) for token in tokens]
    again = [check(token) for token in tokens[::-1]]
    assert first == again[::-1]
    assert [one is other for one, other in zip(first, again[::-1], strict=True)] == [False, False, True, True]


def test_a_subject_has_one_id_that_does_not_show_it(provider: Provider, check: VerifyToken) -> None:
    ids = []
    for sub in ("ann", "ann", "bob"):
        found = check(provider.token(sub=sub, jti=str(len(ids))))
        assert found is not None
        ids.append(found.key_id)
    assert ids[0] == ids[1] != ids[2]
    assert ids[0] == "oidc:" + hashlib.sha256(f"{provider.issuer}\nann".encode()).hexdigest()[:24]


@pytest.mark.parametrize(("claim", "name"), [
    ("Ann Moor", "Ann Moor"), ("A\x1b[31mnn\u202e", "A[31mnn"), ("x" * 300, "x" * 120), ("\n", "token"), (7, "ann"),
    (None, "ann")])
def test_a_name_is_text_of_one_line(provider: Provider, claim: Any, name: str) -> None:
    found = a_check(provider, name_claim="preferred")(provider.token(preferred=claim))
    assert found is not None
    assert found.name == name


def test_without_a_provider_there_is_no_check() -> None:
    assert token_check(None, SettableClock(NOW)) is None
