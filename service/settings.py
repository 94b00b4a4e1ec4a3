"""The service's settings: read from the environment once, into one frozen object.

| variable | what it is | unless set |
| --- | --- | --- |
| `SEAMCOST_DATABASE_URL` | a SQLite file or a PostgreSQL database | `sqlite:///seamcost.db`, in the current folder |
| `SEAMCOST_HOST` | address to listen on | `127.0.0.1` |
| `SEAMCOST_PORT` | port to listen on | 8765 |
| `SEAMCOST_WORKERS` | worker processes | 2 on SQLite (1 if its build is not safe), on PostgreSQL twice the cores |
| `SEAMCOST_THREADS` | threads of each worker | 16 |
| `SEAMCOST_REQUESTS_PER_MINUTE` | what a key may ask that has no number of its own; 0: without limit | 6000 |
| `SEAMCOST_WEBHOOK_NETWORKS` | networks, with commas between, that webhooks may lead to, by http too | none |
| `SEAMCOST_TEST_MODE` | `1` lets tests move the clock | off |
| `SEAMCOST_CLOCK_FILE` | a file with an offset in seconds; honoured in test mode alone | none |
"""

from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")


class SettingWrong(ValueError):
    """A variable whose value is none that it may have; the text names it and says the mend."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What the environment says."""

    database_url: str = "sqlite:///seamcost.db"
    host: str = "127.0.0.1"
    port: int = 8765
    workers: int | None = None
    threads: int = 16
    requests_per_minute: int = 6_000
    test_mode: bool = False
    clock_file: Path | None = None
    webhook_networks: tuple[IPv4Network | IPv6Network, ...] = ()


def settings_from(environment: Mapping[str, str]) -> Settings:
    """The settings of an environment; a variable that is empty counts as not set.

    Raises:  SettingWrong.
    """
    unset = Settings()
    clock_file = environment.get("SEAMCOST_CLOCK_FILE")
    return Settings(
        database_url=environment.get("SEAMCOST_DATABASE_URL") or unset.database_url,
        host=environment.get("SEAMCOST_HOST") or unset.host,
        port=_whole(environment, "SEAMCOST_PORT", unset.port, 0, 65_535),
        workers=_whole(environment, "SEAMCOST_WORKERS", unset.workers, 1, 256),
        threads=_whole(environment, "SEAMCOST_THREADS", unset.threads, 1, 1_024),
        requests_per_minute=_whole(
            environment, "SEAMCOST_REQUESTS_PER_MINUTE", unset.requests_per_minute, 0, 999_999),
        test_mode=_switch(environment, "SEAMCOST_TEST_MODE"),
        clock_file=Path(clock_file) if clock_file else None,
        webhook_networks=_networks(environment, "SEAMCOST_WEBHOOK_NETWORKS"),
    )


def _whole(environment: Mapping[str, str], name: str, unset: T, least: int, most: int) -> int | T:
    text = environment.get(name, "").strip()
    if not text:
        return unset
    if not (text.isascii() and text.isdigit() and len(text) <= 6 and least <= int(text) <= most):
        raise SettingWrong(f"{name} is {text!r}; give a whole number from {least} to {most}.")
    return int(text)


def _networks(environment: Mapping[str, str], name: str) -> tuple[IPv4Network | IPv6Network, ...]:
    texts = [text.strip() for text in environment.get(name, "").split(",") if text.strip()]
    try:
        return tuple(map(ip_network, texts))
    except ValueError as wrong:
        raise SettingWrong(f"{name} holds a network that is none: {wrong}. Give networks as address/length, with "
                           "commas between, like 192.0.2.0/24,2001:db8::/32.") from None


def _switch(environment: Mapping[str, str], name: str) -> bool:
    text = environment.get(name, "").strip()
    if text not in ("", "0", "1"):
        raise SettingWrong(f"{name} is {text!r}; give 1 for on, or 0 or nothing for off.")
    return text == "1"
