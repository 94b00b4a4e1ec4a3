"""An identity provider for tests: a real HTTP server on the loopback with keys of its own, that signs tokens.

    with a_provider() as provider:
        provider.token(scope="till")            # signed with its newest key
        provider.rotate()                       # a new key; the old ones stay until `provider.withdraw(kid)`
        provider.receiver.will(answers(500))    # from now on it fails

Tokens are made by a library of another hand (PyJWT) than the one that the service reads them with.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from typing import Any

import jwt
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from jwt.algorithms import ECAlgorithm, OKPAlgorithm, RSAAlgorithm

from service.settings import OidcSettings
from tests.receivers import Answering, Receiver, a_receiver

AUDIENCE = "https://seamcost.example/api"
NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)
SCOPES = {"till": ("costs:read",), "finance": ("read", "prices:write"), "head": ("admin",)}


@cache
def rsa_key(number: int = 0, bits: int = 2_048) -> rsa.RSAPrivateKey:
    """A key, made once a run for each number."""
    return rsa.generate_private_key(65_537, bits)


def public_jwk(private: Any, **members: Any) -> dict[str, Any]:
    """The public half as a JWK."""
    writers = {rsa.RSAPrivateKey: RSAAlgorithm, ec.EllipticCurvePrivateKey: ECAlgorithm,
               ed25519.Ed25519PrivateKey: OKPAlgorithm}
    writer = next(each for kind, each in writers.items() if isinstance(private, kind))
    return {**writer.to_jwk(private.public_key(), as_dict=True), **members}


class Provider:
    """One provider: `issuer` is its URL; `keys` are its private ones by `kid`, the newest last."""

    def __init__(self, receiver: Receiver) -> None:
        self.receiver = receiver
        self.issuer = receiver.url.removesuffix("/hook")
        self.keys: dict[str, Any] = {"key-0": rsa_key()}
        self.extra_jwks: list[Any] = []
        self.discovery: dict[str, Any] = {"issuer": self.issuer, "jwks_uri": f"{self.issuer}/keys"}
        self.settings = OidcSettings(self.issuer, AUDIENCE, SCOPES)
        self.back()

    def back(self) -> None:
        """Answers again."""
        self.receiver.will(self._answer)

    def settings_with(self, **changes: Any) -> OidcSettings:
        return replace(self.settings, **changes)

    def rotate(self) -> str:
        """A new key; its kid."""
        kid = f"key-{len(self.keys)}"
        self.keys[kid] = rsa_key(len(self.keys))
        return kid

    def claims(self, now: datetime = NOW, **changes: Any) -> dict[str, Any]:
        """Claims that are good at `now`; a change of None leaves one out."""
        seconds = int(now.timestamp())
        claims = {"iss": self.issuer, "aud": AUDIENCE, "sub": "ann", "iat": seconds, "exp": seconds + 600,
                  "scope": "till"} | changes
        return {name: value for name, value in claims.items() if value is not None}

    def token(self, now: datetime = NOW, header: Mapping[str, Any] | None = None, algorithm: str = "RS256",
              kid: str | None = None, key: Any = None, **changes: Any) -> str:
        """A token, good at `now` unless changed."""
        kid = kid or list(self.keys)[-1]
        return jwt.encode(self.claims(now, **changes), key or self.keys[kid], algorithm=algorithm,
                          headers={"kid": kid, **(header or {})})

    def read(self) -> int:
        """How often its keys were read."""
        return sum(request.path == "/keys" for request in self.receiver.requests)

    def _answer(self, answering: Answering) -> None:
        jwks = [public_jwk(key, kid=kid, use="sig") for kid, key in self.keys.items()]
        content = {"/keys": {"keys": [*self.extra_jwks, *jwks]}, "/.well-known/openid-configuration": self.discovery}
        body = json.dumps(content.get(answering.path, {})).encode()
        answering.whole(200, {"Content-Type": "application/json"}, body)


@contextmanager
def a_provider() -> Iterator[Provider]:
    with a_receiver() as receiver:
        yield Provider(receiver)
