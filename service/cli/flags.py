"""Flags of the same names as the settings. A flag wins over the environment, the environment over what is built in."""

import os
from collections.abc import Callable
from typing import Any, TypeVar

import click

from service.settings import LOG_FORMATS, Settings, settings_from

Command = TypeVar("Command", bound=Callable[..., Any])
_UNSET = Settings()


def database_flag(command: Command) -> Command:
    """`--database`, for every command that opens the ledger."""
    return click.option(
        "--database", metavar="URL",
        help="The database; a password is better kept in the environment. "
             f"{_said('SEAMCOST_DATABASE_URL', _UNSET.database_url)}")(command)


def listening_flags(command: Command) -> Command:
    """`--host`, `--port`, `--workers`, `--threads`, `--max-requests` and `--drain-seconds`, for what listens."""
    flags = (
        click.option("--host", metavar="ADDRESS",
                     help=f"Address to listen on. {_said('SEAMCOST_HOST', _UNSET.host)}"),
        click.option("--port", type=click.IntRange(0, 65_535), metavar="PORT",
                     help=f"Port to listen on, 0 for any free one. {_said('SEAMCOST_PORT', _UNSET.port)}"),
        click.option("--workers", type=click.IntRange(1, 256), metavar="N",
                     help=f"Worker processes. {_said('SEAMCOST_WORKERS', 'what suits the database')}"),
        click.option("--threads", type=click.IntRange(1, 1_024), metavar="N",
                     help=f"Threads of each worker. {_said('SEAMCOST_THREADS', _UNSET.threads)}"),
        click.option("--max-requests", type=click.IntRange(0, 9_999_999), metavar="N",
                     help="After so many a worker is replaced, 0 for never. "
                          f"{_said('SEAMCOST_MAX_REQUESTS', _UNSET.max_requests)}"),
        click.option("--drain-seconds", type=click.IntRange(0, 600), metavar="SECONDS",
                     help="On SIGTERM, say not ready for so long and serve on, then stop. "
                          f"{_said('SEAMCOST_DRAIN_SECONDS', _UNSET.drain_seconds)}"),
    )
    for flag in reversed(flags):
        command = flag(command)
    return command


def log_flag(command: Command) -> Command:
    """`--log-format`, for what keeps running."""
    return click.option(
        "--log-format", type=click.Choice(LOG_FORMATS),
        help="The log on standard error: for people, or a JSON object a line. "
             f"{_said('SEAMCOST_LOG_FORMAT', _UNSET.log_format)}")(command)


def settings_of(database: str | None = None, **flags: int | str | None) -> Settings:
    """The settings of this call: the flags that are given, named as the settings are, over the environment.

    Raises:  SettingWrong.
    """
    given = {f"SEAMCOST_{name.upper()}": str(value) for name, value in flags.items() if value is not None}
    if database is not None:
        given |= {"SEAMCOST_DATABASE_URL": database, "SEAMCOST_DATABASE_URL_FILE": ""}
    return settings_from({**os.environ, **given})


def keep_files_private() -> None:
    """Files made from here on are for their owner alone: a database and a backup hold prices and the hashes of keys."""
    os.umask(0o077)


def _said(variable: str, unset: object) -> str:
    return f"[{variable}; unless set: {unset}]"
