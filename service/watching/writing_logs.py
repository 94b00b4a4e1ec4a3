"""Where log lines go and which are written: one handler, on standard error, for all that this process says.

Rules that always hold: every logger's lines go through it, gunicorn's and Python's warnings too; the level that is set
is ours and gunicorn's: libraries, which tell statements and addresses below, tell warnings alone; what nobody caught,
in any thread, is a line like every other; setting it up again changes it and adds nothing.
"""

import logging
import re
import sys
import threading
from typing import Any
from urllib.parse import unquote, urlsplit

from gunicorn.glogging import Logger as GunicornLogger

from service.settings import Settings
from service.watching.kept_secrets import redactor
from service.watching.log_lines import Context, JsonLines, TextLines
from service.watching.tracing import trace_at_hand

_LOG = logging.getLogger("seamcost")
_QUOTED = re.compile(r"[:'\"]")


def write_logs(settings: Settings, context: Context = dict) -> None:
    """Write the log of this process as the settings say from here on; the database's password is kept out of it."""
    password = urlsplit(settings.database_url).password or ""
    lines = JsonLines if settings.log_format == "json" else TextLines
    formatter = lines(redactor({password, unquote(password)}), lambda: {**context(), **trace_at_hand()})
    handler = logging.StreamHandler()
    handler.setFormatter(formatter)
    root = logging.getLogger()
    root.handlers = [*(each for each in root.handlers if not getattr(each, "ours", False)
                       and type(each) is not logging.StreamHandler), handler]
    handler.ours = True  # type: ignore[attr-defined]
    told = logging.getLevelName(level_of(settings).upper())
    root.setLevel(max(told, logging.WARNING))
    _LOG.setLevel(told)
    logging.captureWarnings(True)
    _tell_what_nobody_caught()


def level_of(settings: Settings) -> str:
    """What is logged: unless it is set people are told warnings, machines each request."""
    return settings.log_level or ("info" if settings.log_format == "json" else "warning")


def writes_json() -> bool:
    """Whether what this process says is for machines."""
    return any(isinstance(handler.formatter, JsonLines) for handler in logging.getLogger().handlers)


class ServerLogger(GunicornLogger):  # type: ignore[misc]
    """Gunicorn's logger without handlers of its own, and without what a client wrote.

    What it says of a request that it cannot read quotes the request: a header line may hold a key, an address a token.
    So does what it tells at debug of one that ended early. A client that is silent for longer than the server waits, or
    whose network is gone, is no defect: a line, and no traceback.
    """

    def setup(self, cfg: Any) -> None:
        super().setup(cfg)
        for log in (self.error_log, self.access_log):
            log.handlers, log.propagate = [], True

    def warning(self, msg: Any, *args: Any, **kwargs: Any) -> None:
        if msg.startswith("Exception"):  # with a traceback as its argument, values and all
            super().warning(msg.partition(":")[0], exc_info=True)
        else:
            super().warning(_without_quotes(msg), *args, **kwargs)

    def debug(self, msg: Any, *_args: Any, **kwargs: Any) -> None:
        super().debug(str(msg).partition("%")[0].strip(), **kwargs)

    def exception(self, msg: Any, *_args: Any, **kwargs: Any) -> None:
        if isinstance(sys.exc_info()[1], BlockingIOError | TimeoutError):
            self.info("A client was silent for too long; its connection is closed")
            return
        super().exception(str(msg).partition("%s")[0].strip() if isinstance(msg, str) else "The server broke", **kwargs)


def _without_quotes(said: str) -> str:
    """`Invalid request from ip=192.0.2.1: Invalid HTTP Header: 'X'` up to what is quoted."""
    before, found, kind = said.partition("Invalid request from ip=")
    if not found:
        return said
    address, _, reason = kind.partition(": ")
    return f"{before}A request from {address} could not be read: {_QUOTED.split(reason)[0].strip()}"


def _tell_what_nobody_caught() -> None:
    def tell(error: BaseException | None, where: str) -> None:
        if isinstance(error, KeyboardInterrupt):
            sys.__excepthook__(type(error), error, error.__traceback__)
        elif error is not None:
            _LOG.critical("Nobody caught what broke in %s", where, exc_info=error, extra={"fields": {"event": "broke"}})

    sys.excepthook = lambda _kind, error, _trace: tell(error, "the process")
    threading.excepthook = lambda told: tell(told.exc_value, "a thread")
