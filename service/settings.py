"""The service's settings: read from the environment once, into one frozen object.

| variable | what it is | unless set |
| --- | --- | --- |
| `SEAMCOST_DATABASE_URL` | a SQLite file or a PostgreSQL database | `sqlite:///seamcost.db`, in the current folder |
| `SEAMCOST_DATABASE_URL_FILE` | a file that holds that URL, instead | none |
| `SEAMCOST_DATABASE_PASSWORD_FILE` | a file with the password alone, for a PostgreSQL URL with a user and none | none |
| `SEAMCOST_MIGRATE` | `0` has `serve` leave the database as it is, where `seamcost migrate` ran before it | on |
| `SEAMCOST_HOST` | address to listen on | `127.0.0.1` |
| `SEAMCOST_PORT` | port to listen on | 8765 |
| `SEAMCOST_WORKERS` | worker processes | 2 on SQLite (1 if its build is not safe), on PostgreSQL twice its cores |
| `SEAMCOST_THREADS` | threads of each worker | 16 |
| `SEAMCOST_DATABASE_CONNECTIONS` | connections to PostgreSQL that a worker may hold | 8 |
| `SEAMCOST_MAX_REQUESTS` | after so many a worker is replaced by a new one; 0: never | 1000000 |
| `SEAMCOST_DRAIN_SECONDS` | on SIGTERM: how long to say not ready and serve on, before stopping | 0 |
| `SEAMCOST_REQUESTS_PER_MINUTE` | what a key may ask that has no number of its own; 0: without limit | 6000 |
| `SEAMCOST_WEBHOOK_NETWORKS` | networks, with commas between, that webhooks may lead to, by http too | none |
| `SEAMCOST_OIDC_ISSUER` | the identity provider whose tokens are taken beside keys: its URL, as in `iss` | none |
| `SEAMCOST_OIDC_AUDIENCE` | what stands in `aud` of tokens that are for this service | must be set with an issuer |
| `SEAMCOST_OIDC_SCOPES` | what values of the claim open: `till=costs:read; finance=read prices:write` | as above |
| `SEAMCOST_OIDC_SCOPES_CLAIM` | the claim: its name, or a JSON Pointer such as `/realm_access/roles` | `scope` |
| `SEAMCOST_OIDC_NAME_CLAIM` | the claim that the ledger names who wrote by | `sub` |
| `SEAMCOST_OIDC_ALGORITHMS` | how tokens may be signed: RS, PS or ES with 256, 384 or 512, Ed25519 | `RS256` |
| `SEAMCOST_OIDC_JWKS_URL` | where the provider's keys are | as its discovery document says, on the issuer's host |
| `SEAMCOST_OIDC_LEEWAY_SECONDS` | by how much clocks may differ, 0 to 300 | 30 |
| `SEAMCOST_OIDC_LONGEST_SECONDS` | for how long a token may be good, 60 to 86400 | 3600 |
| `SEAMCOST_LOG_FORMAT` | `text`, for people, or `json`: one object a line | `text` |
| `SEAMCOST_LOG_LEVEL` | `debug`, `info` (each request), `warning` or `error` | `info` as JSON, else `warning` |
| `SEAMCOST_METRICS_PORT` | port on which Prometheus reads `/metrics`, and nothing else is served | none: no metrics |
| `SEAMCOST_METRICS_HOST` | address to listen on there; one that outsiders do not reach | `127.0.0.1` |
| `SEAMCOST_TEST_MODE` | `1` lets tests move the clock | off |
| `SEAMCOST_CLOCK_FILE` | a file with an offset in seconds; honoured in test mode alone | none |

A secret in a file is read once, is never printed, and is one line; the line's end does not count.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path
from typing import TypeVar
from urllib.parse import urlsplit

from service.secret_files import SecretWrong, database_url_of
from service.use_cases.keys import SCOPES

T = TypeVar("T")
LOG_FORMATS = ("text", "json")
LOG_LEVELS = ("debug", "info", "warning", "error")


class SettingWrong(ValueError):
    """A variable whose value is none that it may have; the text names it and says the mend."""


OIDC_ALGORITHMS = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "Ed25519")
"""Asymmetric ones alone: with a shared secret, whoever can check a token can make one."""


@dataclass(frozen=True, slots=True)
class OidcSettings:
    """The identity provider whose tokens are taken, and what they must say.

    Shape:   `scopes` has, by the claim's value, what it opens; what is not in it opens nothing.
    """

    issuer: str
    audience: str
    scopes: Mapping[str, tuple[str, ...]] = field(hash=False)
    scopes_claim: str = "scope"
    name_claim: str = "sub"
    algorithms: tuple[str, ...] = ("RS256",)
    jwks_url: str | None = None
    leeway_seconds: int = 30
    longest_seconds: int = 3_600


@dataclass(frozen=True, slots=True)
class Settings:
    """What the environment says."""

    database_url: str = "sqlite:///seamcost.db"
    host: str = "127.0.0.1"
    port: int = 8765
    workers: int | None = None
    threads: int = 16
    max_requests: int = 1_000_000
    migrate: bool = True
    drain_seconds: int = 0
    requests_per_minute: int = 6_000
    test_mode: bool = False
    clock_file: Path | None = None
    webhook_networks: tuple[IPv4Network | IPv6Network, ...] = ()
    oidc: OidcSettings | None = None
    database_connections: int = 8
    log_format: str = "text"
    log_level: str | None = None
    metrics_host: str = "127.0.0.1"
    metrics_port: int | None = None


def settings_from(environment: Mapping[str, str]) -> Settings:
    """The settings of an environment; a variable that is empty counts as not set.

    Raises:  SettingWrong.
    """
    unset = Settings()
    clock_file = environment.get("SEAMCOST_CLOCK_FILE")
    return Settings(
        database_url=_database_url(environment, unset.database_url),
        host=environment.get("SEAMCOST_HOST") or unset.host,
        port=_whole(environment, "SEAMCOST_PORT", unset.port, 0, 65_535),
        workers=_whole(environment, "SEAMCOST_WORKERS", unset.workers, 1, 256),
        threads=_whole(environment, "SEAMCOST_THREADS", unset.threads, 1, 1_024),
        database_connections=_whole(
            environment, "SEAMCOST_DATABASE_CONNECTIONS", unset.database_connections, 4, 512),
        max_requests=_whole(environment, "SEAMCOST_MAX_REQUESTS", unset.max_requests, 0, 9_999_999),
        migrate=_switch(environment, "SEAMCOST_MIGRATE", unset.migrate),
        drain_seconds=_whole(environment, "SEAMCOST_DRAIN_SECONDS", unset.drain_seconds, 0, 600),
        requests_per_minute=_whole(
            environment, "SEAMCOST_REQUESTS_PER_MINUTE", unset.requests_per_minute, 0, 999_999),
        test_mode=_switch(environment, "SEAMCOST_TEST_MODE"),
        clock_file=Path(clock_file) if clock_file else None,
        webhook_networks=_networks(environment, "SEAMCOST_WEBHOOK_NETWORKS"),
        oidc=_oidc(environment),
        log_format=_one_of(environment, "SEAMCOST_LOG_FORMAT", LOG_FORMATS) or unset.log_format,
        log_level=_one_of(environment, "SEAMCOST_LOG_LEVEL", LOG_LEVELS),
        metrics_host=environment.get("SEAMCOST_METRICS_HOST") or unset.metrics_host,
        metrics_port=_whole(environment, "SEAMCOST_METRICS_PORT", unset.metrics_port, 1, 65_535),
    )


def _oidc(environment: Mapping[str, str]) -> OidcSettings | None:
    issuer = _provider_url(environment, "SEAMCOST_OIDC_ISSUER")
    if issuer is None:
        return None
    audience, scopes = environment.get("SEAMCOST_OIDC_AUDIENCE"), environment.get("SEAMCOST_OIDC_SCOPES")
    if not audience or not scopes:
        raise SettingWrong("With SEAMCOST_OIDC_ISSUER, SEAMCOST_OIDC_AUDIENCE and SEAMCOST_OIDC_SCOPES must be set: "
                           "without them tokens for other services, or for nothing, would have to be let in.")
    unset = OidcSettings(issuer, audience, _opened_by_values(scopes))
    return replace(
        unset,
        scopes_claim=environment.get("SEAMCOST_OIDC_SCOPES_CLAIM") or unset.scopes_claim,
        name_claim=environment.get("SEAMCOST_OIDC_NAME_CLAIM") or unset.name_claim,
        algorithms=_algorithms(environment.get("SEAMCOST_OIDC_ALGORITHMS"), unset.algorithms),
        jwks_url=_provider_url(environment, "SEAMCOST_OIDC_JWKS_URL"),
        leeway_seconds=_whole(environment, "SEAMCOST_OIDC_LEEWAY_SECONDS", unset.leeway_seconds, 0, 300),
        longest_seconds=_whole(environment, "SEAMCOST_OIDC_LONGEST_SECONDS", unset.longest_seconds, 60, 86_400))


def _provider_url(environment: Mapping[str, str], name: str) -> str | None:
    """A URL by https; by http only on this very host, as a provider beside the service or in a test is."""
    text = environment.get(name, "").strip()
    if not text:
        return None
    try:
        parts = urlsplit(text)
        here = parts.hostname in ("127.0.0.1", "::1", "localhost")
        right = parts.scheme == "https" or (parts.scheme == "http" and here)
        plain = bool(parts.hostname) and not (parts.username or parts.password or parts.query or parts.fragment)
    except ValueError:
        right = plain = False
    if not (right and plain):
        raise SettingWrong(f"{name} is {text!r}; give an https URL without user name, query and fragment.")
    return text


def _opened_by_values(text: str) -> Mapping[str, tuple[str, ...]]:
    """What each value of the claim opens: `till=costs:read; finance=read prices:write`."""
    opened: dict[str, tuple[str, ...]] = {}
    for part in filter(None, map(str.strip, text.split(";"))):
        value, _, scopes = part.partition("=")
        named = tuple(scopes.split())
        if not value.strip() or not named or not set(named) <= set(SCOPES) or value.strip() in opened:
            raise SettingWrong(f"SEAMCOST_OIDC_SCOPES has {part!r}; give each value of the claim once, with the scopes "
                               f"that it opens: value=scope scope; value=scope. The scopes are {', '.join(SCOPES)}.")
        opened[value.strip()] = named
    return opened


def _algorithms(text: str | None, unset: tuple[str, ...]) -> tuple[str, ...]:
    if not text:
        return unset
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if not names or not set(names) <= set(OIDC_ALGORITHMS):
        raise SettingWrong(f"SEAMCOST_OIDC_ALGORITHMS is {text!r}; give some of {', '.join(OIDC_ALGORITHMS)}.")
    return names


def _database_url(environment: Mapping[str, str], unset: str) -> str:
    try:
        return database_url_of(environment) or unset
    except SecretWrong as wrong:
        raise SettingWrong(str(wrong)) from None


def _whole(environment: Mapping[str, str], name: str, unset: T, least: int, most: int) -> int | T:
    text = environment.get(name, "").strip()
    if not text:
        return unset
    if not (text.isascii() and text.isdigit() and len(text) <= 7 and least <= int(text) <= most):
        raise SettingWrong(f"{name} is {text!r}; give a whole number from {least} to {most}.")
    return int(text)


def _one_of(environment: Mapping[str, str], name: str, words: tuple[str, ...]) -> str | None:
    text = environment.get(name, "").strip().lower()
    if text and text not in words:
        raise SettingWrong(f"{name} is {text!r}; give {', '.join(words[:-1])} or {words[-1]}.")
    return text or None


def _networks(environment: Mapping[str, str], name: str) -> tuple[IPv4Network | IPv6Network, ...]:
    texts = [text.strip() for text in environment.get(name, "").split(",") if text.strip()]
    try:
        return tuple(map(ip_network, texts))
    except ValueError as wrong:
        raise SettingWrong(f"{name} holds a network that is none: {wrong}. Give networks as address/length, with "
                           "commas between, like 192.0.2.0/24,2001:db8::/32.") from None


def _switch(environment: Mapping[str, str], name: str, unset: bool = False) -> bool:
    text = environment.get(name, "").strip()
    if text not in ("", "0", "1"):
        raise SettingWrong(f"{name} is {text!r}; give 1 for on, 0 for off, or nothing for {'on' if unset else 'off'}.")
    return text == "1" if text else unset
