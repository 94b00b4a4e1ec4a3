"""The identity provider's public signing keys: from its JWK set, by their `kid`, those that tokens may be signed with.

A key is left out, and the others serve, when it is not a public key of an algorithm that is allowed here, says that it
is for something else, or is too weak. A symmetric key is never one, whatever the set says.

Source: RFC 7517 (sections 4 and 5: what is not understood is ignored), RFC 7518 section 3.3 (RSA of 2048 bits or more).
"""

from base64 import urlsafe_b64decode
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from joserfc.errors import JoseError
from joserfc.jwk import ECKey, OKPKey, RSAKey

MOST_KEYS = 64
LEAST_RSA_BITS, MOST_RSA_BITS = 2_048, 8_192
_PUBLIC_MEMBERS = {"RSA": ("kty", "n", "e"), "EC": ("kty", "crv", "x", "y"), "OKP": ("kty", "crv", "x")}
_KINDS: Mapping[str, type[RSAKey] | type[ECKey] | type[OKPKey]] = {"RSA": RSAKey, "EC": ECKey, "OKP": OKPKey}
ALGORITHMS: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys(("RS256", "RS384", "RS512", "PS256", "PS384", "PS512"), ("RSA", "")),
    "ES256": ("EC", "P-256"), "ES384": ("EC", "P-384"), "ES512": ("EC", "P-521"), "Ed25519": ("OKP", "Ed25519")}
"""Algorithms by what keys they take. All are asymmetric; `EdDSA` is deprecated (RFC 9864) for what it leaves open."""


@dataclass(frozen=True, slots=True)
class SigningKey:
    """One public key, and the algorithms that it may verify."""

    members: Mapping[str, Any]
    algorithms: frozenset[str]
    key: RSAKey | ECKey | OKPKey = field(compare=False)


def signing_keys(jwk_set: Any, allowed: Collection[str]) -> Mapping[str, SigningKey]:
    """The keys of a JWK set by `kid`; one without stands under "".

    Raises:  ValueError for what is no JWK set, or names no key that could be used.
    """
    listed = jwk_set.get("keys") if isinstance(jwk_set, dict) else None
    if not isinstance(listed, list):
        raise ValueError("no JWK set")
    found: dict[str, SigningKey] = {}
    for jwk in listed[:MOST_KEYS]:
        key = _signing_key(jwk, allowed) if isinstance(jwk, dict) else None
        kid = jwk.get("kid", "") if isinstance(jwk, dict) else ""
        if key is not None and isinstance(kid, str):
            found.setdefault(kid, key)
    if not found:
        raise ValueError("no key in the JWK set that tokens may be signed with")
    return found


def _signing_key(jwk: Mapping[str, Any], allowed: Collection[str]) -> SigningKey | None:
    kty = jwk.get("kty")
    if not isinstance(kty, str) or kty not in _KINDS or not _is_for_verifying(jwk):
        return None
    said, curve = jwk.get("alg"), jwk.get("crv", "")
    algorithms = frozenset(name for name in allowed if said in (None, name) and ALGORITHMS[name] == (kty, curve))
    members = {name: jwk[name] for name in _PUBLIC_MEMBERS[kty] if name in jwk}
    if not algorithms or not all(isinstance(value, str) for value in members.values()):
        return None
    try:
        if kty == "RSA" and not LEAST_RSA_BITS <= _bits(members["n"]) <= MOST_RSA_BITS:
            return None
        return SigningKey(members, algorithms, _KINDS[kty].import_key(members))
    except (JoseError, ValueError, KeyError, TypeError):
        return None


def _bits(number: str) -> int:
    """How long a number is that is written in base64url."""
    return int.from_bytes(urlsafe_b64decode(number + "=" * (-len(number) % 4)), "big").bit_length()


def _is_for_verifying(jwk: Mapping[str, Any]) -> bool:
    operations = jwk.get("key_ops")
    return jwk.get("use") in (None, "sig") and (operations is None or (isinstance(operations, list)
                                                                       and "verify" in operations))
