"""How a line of the log is written: one JSON object for machines, or a line for who sits at the terminal.

    {"time":"2026-03-02T10:00:00.123Z","level":"info","event":"request","request_id":"till-7:42","method":"GET",
     "route":"/v1/dish-costs/{code}","status":200,"milliseconds":3.1,"key_id":"9f86d081","process":4711}

Rules that always hold: one record, one line: what could end a line or move a cursor is escaped, whoever wrote it; a
field is never overwritten by a later one; secrets have dots in their place (kept_secrets).

Source: RFC 8259; RFC 3339 for the time; CWE-117.
"""

import json
import logging
import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

from service.watching.told_errors import told_error

Context = Callable[[], Mapping[str, Any]]
"""What is known of the request at hand: its id, the trace that it belongs to."""
_MOST_CHARACTERS = 2_000
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")


def fields_of(record: logging.LogRecord) -> Mapping[str, Any]:
    """What a record says beside its sentence: `extra={"fields": {...}}`; `event` among them names what happened."""
    fields: Mapping[str, Any] = getattr(record, "fields", {})
    return fields


class JsonLines(logging.Formatter):
    """A record as one JSON object in ASCII."""

    def __init__(self, redacted: Callable[[str], str], context: Context = dict) -> None:
        super().__init__()
        self._redacted, self._context = redacted, context

    def format(self, record: logging.LogRecord) -> str:
        fields = fields_of(record)
        line: dict[str, Any] = {"time": _time(record), "level": record.levelname.lower(),
                                "event": fields.get("event", record.name)}
        if record.msg:
            line["message"] = record.getMessage()[:_MOST_CHARACTERS]
        for told in (self._context(), fields):
            line.update((name, value) for name, value in told.items() if name not in line)
        line["process"] = record.process
        if record.exc_info and record.exc_info[1] is not None:
            line["error"] = told_error(record.exc_info[1])
        return self._redacted(json.dumps(line, separators=(",", ":"), default=str))


class TextLines(logging.Formatter):
    """A record as a line for people; the places of an exception follow, each indented."""

    def __init__(self, redacted: Callable[[str], str], context: Context = dict) -> None:
        super().__init__()
        self._redacted, self._context = redacted, context

    def format(self, record: logging.LogRecord) -> str:
        local = datetime.fromtimestamp(record.created, UTC).astimezone()
        told = [f"{local:%Y-%m-%d %H:%M:%S}", record.levelname, record.name]
        if record.msg:
            told.append(record.getMessage()[:_MOST_CHARACTERS])
        fields = {**fields_of(record), **self._context()}
        told += [f"{name}={value}" for name, value in fields.items() if value not in (None, "")]
        lines = [self._redacted(_CONTROL.sub(_escaped, " ".join(told)))]
        if record.exc_info and record.exc_info[1] is not None:
            for error in told_error(record.exc_info[1]):
                lines += [f"    {error['type']} {error.get('text', '')}".rstrip()]
                lines += [f"      {at}" for at in error["at"]]
        return "\n".join([lines[0], *(self._redacted(_CONTROL.sub(_escaped, line)) for line in lines[1:])])


def _time(record: logging.LogRecord) -> str:
    return f"{datetime.fromtimestamp(record.created, UTC):%Y-%m-%dT%H:%M:%S}.{int(record.msecs):03}Z"


def _escaped(found: re.Match[str]) -> str:
    return found[0].encode("unicode_escape").decode()
