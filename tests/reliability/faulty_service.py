"""`seamcost`, with faults that are switched on while a file is there, and broken on purpose where it is told to.

    python -m tests.reliability.faulty_service serve ...

While the file that QUIET_LOGS_BREAK names is there, a snapshot cannot be read and a message cannot be sent: both raise
with secrets and prices in their texts, as a careless line would. SABOTAGE breaks what keeps logs quiet:

    loud_errors       an exception's text is logged
    keys_in_the_log   the Authorization field is logged with each request
    plain_lines       lines are not JSON, and what ends a line in a message does
    quoted_requests   gunicorn quotes what it cannot read
    whole_addresses   the request's address is logged, with its query
"""

import logging
import os
from pathlib import Path
from typing import Any

from flask import request
from gunicorn.glogging import Logger

from service import wiring
from service.cli.commands import main
from service.use_cases.snapshots import Snapshots
from service.watching import told_errors, writing_logs
from service.watching.request_log import RequestLog

SABOTAGES = ("loud_errors", "keys_in_the_log", "plain_lines", "quoted_requests", "whole_addresses")


def breaks() -> bool:
    return Path(os.environ["QUIET_LOGS_BREAK"]).exists()


def careless() -> str:
    """What an exception's text could hold: all that the run holds dear."""
    return Path(os.environ["QUIET_LOGS_BREAK"]).read_text()


def switch_faults_in() -> None:
    kept, at = Snapshots.kept, Snapshots.at

    def broken_at(self: Snapshots, position: Any) -> Any:
        if breaks():
            raise KeyError(f"no price at {position}: {careless()}")
        return at(self, position)

    def broken_kept(self: Snapshots, position: Any) -> Any:
        return None if breaks() else kept(self, position)

    make = wiring.sender

    def broken_sender(*arguments: Any, **more: Any) -> Any:
        send = make(*arguments, **more)

        def broken(url: str, fields: Any, body: bytes) -> Any:
            if breaks():
                raise ValueError(f"{url} {dict(fields)} {body!r} {careless()}")
            return send(url, fields, body)

        return broken

    Snapshots.at, Snapshots.kept = broken_at, broken_kept  # type: ignore[method-assign]
    wiring.sender = broken_sender


def sabotage(how: str) -> None:
    if not how:
        return
    writing_logs.redactor = lambda *_: str  # type: ignore[assignment]
    answered, told = RequestLog.answered, told_errors._told
    if how == "loud_errors":
        told_errors._told = lambda error: told(error) | {"text": str(error)}
    if how in ("keys_in_the_log", "whole_addresses"):
        what = "HTTP_AUTHORIZATION" if how == "keys_in_the_log" else "RAW_URI"

        def loud(self: RequestLog, *arguments: Any) -> None:
            logging.getLogger("seamcost.request").info("%s", request.environ.get(what))
            answered(self, *arguments)

        RequestLog.answered = loud  # type: ignore[method-assign]
    if how == "plain_lines":
        as_json = writing_logs.JsonLines.format

        def plain(self: Any, record: logging.LogRecord) -> str:
            ours = record.name in ("seamcost.request", "seamcost.rest")
            return record.getMessage() or "a line" if ours else as_json(self, record)

        writing_logs.JsonLines.format = plain  # type: ignore[method-assign]
    if how == "quoted_requests":
        writing_logs.ServerLogger.warning = Logger.warning  # type: ignore[method-assign]


if __name__ == "__main__":
    switch_faults_in()
    sabotage(os.environ.get("SABOTAGE", ""))
    main(prog_name="seamcost")
