"""Which keys of a set tokens may be signed with, member by member.

Sources: RFC 7517 sections 4.2 (`use`), 4.3 (`key_ops`), 4.5 (`kid`) and 5 (what is not understood is ignored); RFC 7518
sections 3.3 (RSA of 2048 bits or more), 3.4 (curves) and 6; RFC 8725 section 3.5 (weak keys). Whole sets of the
standards: test_published_tokens.py.
"""

from base64 import urlsafe_b64encode
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, ed25519

from service.integrations.identity.signing_keys import ALGORITHMS, signing_keys
from tests.identity_provider import public_jwk, rsa_key

ALL = tuple(ALGORITHMS)
CURVES = {"P-256": ec.SECP256R1(), "P-384": ec.SECP384R1(), "P-521": ec.SECP521R1()}


def rsa(bits: int = 2_048, **members: Any) -> dict[str, Any]:
    """A public RSA key whose modulus has so many bits; nobody has its private half."""
    number = (1 << bits) - 1
    return {"kty": "RSA", "e": "AQAB", "kid": "k", "n": urlsafe_b64encode(
        number.to_bytes((bits + 7) // 8, "big")).rstrip(b"=").decode()} | members


def found(*keys: Any, allowed: tuple[str, ...] = ALL) -> dict[str, frozenset[str]]:
    """By `kid` what each key may verify, beside one that is good."""
    told = signing_keys({"keys": [*keys, rsa(kid="good")]}, allowed)
    return {kid: key.algorithms for kid, key in told.items() if kid != "good"}


def test_a_key_verifies_what_its_kind_can_of_what_is_allowed() -> None:
    assert found(rsa()) == {"k": {"RS256", "RS384", "RS512", "PS256", "PS384", "PS512"}}
    assert found(rsa(), allowed=("PS256", "ES256", "RS256")) == {"k": {"PS256", "RS256"}}
    assert found(rsa(alg="PS256")) == {"k": {"PS256"}}
    for curve, algorithm in (("P-256", "ES256"), ("P-384", "ES384"), ("P-521", "ES512")):
        jwk = public_jwk(ec.generate_private_key(CURVES[curve]), kid="k")
        assert found(jwk) == {"k": {algorithm}}
    edwards = public_jwk(ed25519.Ed25519PrivateKey.generate(), kid="k")
    assert found(edwards) == {"k": {"Ed25519"}}
    assert found(edwards, allowed=("RS256",)) == {}


@pytest.mark.parametrize(("bits", "good"), [
    (1_024, False), (2_047, False), (2_048, True), (2_096, True), (3_072, True), (8_192, True), (8_193, False)])
def test_an_rsa_key_has_2048_to_8192_bits(bits: int, good: bool) -> None:
    assert (found(rsa(bits)) != {}) == good


@pytest.mark.parametrize("members", [
    {"use": "enc"}, {"use": "SIG"}, {"use": ["sig"]}, {"key_ops": ["sign"]}, {"key_ops": []}, {"key_ops": "verify"},
    {"key_ops": {"verify": 1}}, {"alg": "HS256"}, {"alg": "none"}, {"alg": "RSA-OAEP"}, {"alg": "ES256"},
    {"alg": ["RS256"]}, {"kty": "rsa"}, {"kty": "oct"}, {"kty": None}, {"kty": ["RSA"]}, {"n": 7}, {"n": None},
    {"n": "!"}, {"n": ""}, {"e": 65_537}, {"e": ""}, {"kid": 7}, {"kid": None}, {"crv": "P-256"}])
def test_a_key_that_is_for_something_else_or_torn_is_left_out_and_the_others_serve(members: dict[str, Any]) -> None:
    assert found(rsa(**members)) == {}


@pytest.mark.parametrize("missing", ["n", "e", "kty"])
def test_so_is_one_that_lacks_a_member(missing: str) -> None:
    assert found({name: value for name, value in rsa().items() if name != missing}) == {}
    elliptic = public_jwk(ec.generate_private_key(CURVES["P-256"]), kid="k")
    for name in ("x", "y", "crv"):
        assert found({each: value for each, value in elliptic.items() if each != name}) == {}


@pytest.mark.parametrize("members", [
    {"use": "sig"}, {"key_ops": ["verify"]}, {"key_ops": ["encrypt", "verify"]}, {"use": None}, {"alg": None},
    {"x5u": "https://elsewhere.example/"}, {"unheard-of": {"of": 1}}])
def test_what_is_not_understood_is_ignored(members: dict[str, Any]) -> None:
    assert [*found(rsa(**members))] == ["k"]


@pytest.mark.parametrize("listed", ["no key", 7, None, [], {}])
def test_what_is_no_key_is_left_out(listed: Any) -> None:
    assert found(listed) == {}


def test_of_two_with_one_kid_the_first_is_the_key_and_one_without_has_none() -> None:
    first, second = public_jwk(rsa_key(), kid="k"), rsa(kid="k", alg="PS256")
    assert found(first, second) == found(first)
    nameless = {name: value for name, value in rsa().items() if name != "kid"}
    assert [*found(nameless, rsa(kid="XXXX"))] == ["", "XXXX"]


def test_of_so_many_keys_only_64_are_read() -> None:
    keys = [rsa(kid=str(number)) for number in range(65)]
    assert [*signing_keys({"keys": keys}, ALL)] == [str(number) for number in range(64)]


def test_nothing_but_the_public_members_is_kept() -> None:
    """A private key that stands in a set by mistake is public now; it is not taken along."""
    private = {"d": "AQAB", "p": "AQAB", "q": "AQAB", "k": "AQAB"}
    key = signing_keys({"keys": [public_jwk(rsa_key(), kid="k") | private]}, ALL)["k"]
    assert set(key.members) == {"kty", "n", "e"}
    assert not key.key.is_private


@pytest.mark.parametrize(("jwk_set", "words"), [
    ([], "no JWK set"), ({"keys": "x"}, "no JWK set"), ({}, "no JWK set"), (None, "no JWK set"),
    ({"keys": [rsa(1_024)]}, "no key in the JWK set that tokens may be signed with")])
def test_a_set_that_is_none_or_has_none_is_told(jwk_set: Any, words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}$"):
        signing_keys(jwk_set, ALL)
