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
    """`--host`, `--port`, `--workers` and `--threads`, for what listens."""
    flags = (
        click.option("--host", metavar="ADDRESS",
                     help=f"Address to listen on. {_said('SEAMCOST_HOST', _UNSET.host)}"),
        click.option("--port", type=click.IntRange(0, 65_535), metavar="PORT",
                     help=f"Port to listen on, 0 for any free one. {_said('SEAMCOST_PORT', _UNSET.port)}"),
        click.option("--workers", type=click.IntRange(1, 256), metavar="N",
                     help=f"Worker processes. {_said('SEAMCOST_WORKERS', 'what suits the database')}"),
        click.option("--threads", type=click.IntRange(1, 1_024), metavar="N",
                     help=f"Threads of each worker. {_said('SEAMCOST_THREADS', _UNSET.threads)}"),
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


def settings_of(
    database: str | None = None, host: str | None = None, port: int | None = None, workers: int | None = None,
    threads: int | None = None, log_format: str | None = None,
) -> Settings:
    """The settings of this call: the flags that are given, over the environment.

    Raises:  SettingWrong.
    """
    flags = {"DATABASE_URL": database, "HOST": host, "PORT": port, "WORKERS": workers, "THREADS": threads,
             "LOG_FORMAT": log_format}
    given = {f"SEAMCOST_{name}": str(value) for name, value in flags.items() if value is not None}
    return settings_from({**os.environ, **given})


def keep_files_private() -> None:
    """Files made from here on are for their owner alone: a database and a backup hold prices and the hashes of keys."""
    os.umask(0o077)


def _said(variable: str, unset: object) -> str:
    return f"[{variable}; unless set: {unset}]"
