"""Is a token good, and who is its subject? A JWT of the identity provider, by what the settings pin.

Rules that always hold: which algorithms count is the settings' word and never the token's; the key is looked up by
`kid` among the provider's own, and nothing that a token says (a URL, a key, a certificate) is followed or used; a
token is good only if all of iss, aud, sub, iat and exp are there and right; every fault of a token looks the same from
outside. A token that was verified is remembered, by its SHA-256, until it ends or its key is the provider's no longer:
polling with it costs a look-up and no signature.

Source: RFC 7519, RFC 7515 (4.1.11: `crit`), RFC 8725 (best current practices), RFC 9068 (`at+jwt`), RFC 6901.
"""

import hashlib
import json
import logging
import threading
import unicodedata
from collections import OrderedDict
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

from joserfc import jws
from joserfc.errors import JoseError
from joserfc.jwt import JWTClaimsRegistry

from service.integrations.identity.keys_at_hand import KeysAtHand
from service.integrations.identity.signing_keys import SigningKey
from service.settings import OidcSettings
from service.use_cases.token_identity import TokenIdentity, key_id_of

MOST_REMEMBERED = 1_024
LONGEST_TOKEN, LONGEST_SUBJECT, LONGEST_NAME, MOST_VALUES = 7_000, 255, 120, 256
_TYPES = (None, "jwt", "at+jwt", "application/at+jwt", "application/jwt")
_LOG = logging.getLogger("seamcost.identity")


class _NotGood(Exception):
    """What is wrong with a token, for the log: our own words alone."""


class _Remembered(NamedTuple):
    kid: str
    key: SigningKey
    identity: TokenIdentity


class Tokens:
    """Verifies the tokens of one provider in one worker; its threads share it."""

    def __init__(self, settings: OidcSettings, keys: KeysAtHand, clock: Callable[[], datetime]) -> None:
        self._settings, self._keys, self._clock = settings, keys, clock
        self._remembered: OrderedDict[bytes, _Remembered] = OrderedDict()
        self._lock = threading.Lock()

    def verified(self, token: str) -> TokenIdentity | None:
        """The token's subject; None when it is not good.

        Raises:  IdentityProviderUnavailable.
        """
        digest = hashlib.sha256(token.encode()).digest()
        known = self._remembered.get(digest)
        if known is not None:
            if known.identity.expires_at > self._clock() and self._keys.of(known.kid) is known.key:
                return known.identity
            self._forget(digest)
        try:
            found = self._verify(token)
        except _NotGood as fault:
            _LOG.info("a token was refused: %s", fault)
            return None
        self._remember(digest, found)
        return found.identity

    def _verify(self, token: str) -> _Remembered:
        if len(token) > LONGEST_TOKEN:
            raise _NotGood("too long")
        try:
            signed = jws.extract_compact(token.encode("ascii"))
            kid = _kid_of(signed.headers())
            key = self._keys.of(kid)
            if key is None:
                raise _NotGood("signed with a key that the provider does not have")
            registry = jws.JWSRegistry(algorithms=key.algorithms, strict_check_header=False)
            if not jws.validate_compact(signed, key.key, registry=registry):
                raise _NotGood("not signed with the key that it names")
            claims = json.loads(signed.payload or b"")
            self._hold_to_claims(claims)
        except (JoseError, ValueError, TypeError, RecursionError, OverflowError) as fault:
            raise _NotGood(type(fault).__name__) from None
        return _Remembered(kid, key, self._identity(claims))

    def _hold_to_claims(self, claims: Any) -> None:
        if not isinstance(claims, dict):
            raise _NotGood("no claims")
        asked, now = self._settings, int(self._clock().timestamp())
        JWTClaimsRegistry(now, asked.leeway_seconds, iss={"essential": True, "value": asked.issuer},
                          aud={"essential": True, "value": asked.audience}, sub={"essential": True},
                          iat={"essential": True}, exp={"essential": True}).validate(claims)
        if not claims["exp"] - claims["iat"] <= asked.longest_seconds:
            raise _NotGood("good for longer than is allowed here")
        if len(claims["sub"]) > LONGEST_SUBJECT or not claims["sub"].isprintable():
            raise _NotGood("a subject that is none")

    def _identity(self, claims: Mapping[str, Any]) -> TokenIdentity:
        asked, subject = self._settings, claims["sub"]
        values = _values(_claim(claims, asked.scopes_claim))
        scopes = {scope for value in values for scope in asked.scopes.get(value, ())}
        ends = datetime.fromtimestamp(claims["exp"] + asked.leeway_seconds, UTC)
        return TokenIdentity(key_id_of(asked.issuer, subject), _name(_claim(claims, asked.name_claim), subject),
                             tuple(sorted(scopes)), ends)

    def _remember(self, digest: bytes, found: _Remembered) -> None:
        with self._lock:
            self._remembered[digest] = found
            while len(self._remembered) > MOST_REMEMBERED:
                self._remembered.popitem(last=False)

    def _forget(self, digest: bytes) -> None:
        with self._lock:
            self._remembered.pop(digest, None)


def _kid_of(header: Mapping[str, Any]) -> str:
    """The `kid` of a token that says nothing which has to be understood, and that it is for nothing else."""
    kid, kind = header.get("kid", ""), header.get("typ")
    if "crit" in header or "b64" in header:
        raise _NotGood("an extension that has to be understood, and is not")
    if not (kind is None or isinstance(kind, str)) or (kind and kind.lower()) not in _TYPES:
        raise _NotGood("another kind of token")
    if not isinstance(kid, str):
        raise _NotGood("a kid that is none")
    return kid


def _claim(claims: Mapping[str, Any], name: str) -> Any:
    """A claim by its name, or by a JSON Pointer where it begins with a slash; None where it is not there."""
    if not name.startswith("/"):
        return claims.get(name)
    here: Any = claims
    for part in name[1:].split("/"):
        here = here.get(part.replace("~1", "/").replace("~0", "~")) if isinstance(here, dict) else None
    return here


def _values(claim: Any) -> list[str]:
    """A list's texts, or the words of a text."""
    values = claim.split(" ") if isinstance(claim, str) else claim if isinstance(claim, list) else []
    return [value for value in values[:MOST_VALUES] if isinstance(value, str)]


def _name(claim: Any, subject: str) -> str:
    text = unicodedata.normalize("NFC", claim if isinstance(claim, str) else subject)
    kept = "".join(character for character in text if character.isprintable()).strip()
    return kept[:LONGEST_NAME] or "token"
