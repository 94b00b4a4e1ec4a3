"""A record, a line: JSON for machines, text for people; without secrets, without values. Sources: RFC 8259; CWE-117."""

import io
import json
import logging
import sys
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.settings import Settings
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.watching.kept_secrets import DOTS, redactor
from service.watching.log_lines import JsonLines, TextLines
from service.watching.told_errors import told_error
from service.watching.writing_logs import ServerLogger, write_logs

KEY = "seam_0ff1ce00_made-up-for-this-test-0123456789"


def a_record(message: str = "", fields: dict[str, Any] | None = None, error: BaseException | None = None
             ) -> logging.LogRecord:
    record = logging.LogRecord("seamcost.test", logging.WARNING, __file__, 1, message, (),
                               error and (type(error), error, error.__traceback__))
    record.fields = fields or {}
    return record


def as_json(record: logging.LogRecord, **context: Any) -> dict[str, Any]:
    line = JsonLines(redactor(), lambda: context).format(record)
    assert "\n" not in line
    told: dict[str, Any] = json.loads(line)
    return told


def caught(work: Any) -> BaseException:
    try:
        work()
    except Exception as error:
        return error
    raise AssertionError("nothing was raised")


def test_a_record_is_an_object_with_time_level_event_and_fields() -> None:
    told = as_json(a_record("late", {"event": "outbox", "waiting": 3}), request_id="till-7:42")
    assert (told["level"], told["event"], told["message"], told["waiting"], told["request_id"]) == (
        "warning", "outbox", "late", 3, "till-7:42")
    assert told["time"].endswith("Z")
    assert "error" not in told


def test_no_field_takes_the_place_of_another() -> None:
    told = as_json(a_record("late", {"level": "info", "message": "well", "request_id": "forged"}), request_id="real")
    assert (told["level"], told["message"], told["request_id"]) == ("warning", "late", "real")


@settings(deadline=None)
@given(st.text(max_size=40), st.text(max_size=40))
def test_whatever_is_written_one_record_stays_one_line(message: str, value: str) -> None:
    record = a_record(message.replace("%", ""), {"value": value})
    line = JsonLines(redactor()).format(record)
    assert len(line.splitlines()) == 1
    assert line.isascii()
    assert json.loads(line)["event"] == "seamcost.test"
    text = TextLines(redactor()).format(record)
    assert len(text.splitlines()) == 1
    assert text.isprintable() or not any(character in text for character in "\x1b\r\n\u2028\u202e")


@pytest.mark.parametrize("secret", [
    KEY, f"Authorization: Bearer {KEY}", "Basic c2VhbTpjb3N0", "whsec_bWFkZSB1cA==", "/feeds/tOkEn-of_a-link/x",
    "postgresql://cook:pa-ss:word@db/seamcost", "Bearer eyJhbGciOiJSUzI1NiJ9.eyJzdWIiOiJ4In0.c2ln"])
@pytest.mark.parametrize("lines", [JsonLines, TextLines])
def test_what_looks_like_a_secret_has_dots_in_its_place(secret: str, lines: type[JsonLines]) -> None:
    record = a_record(f"seen {secret}", {"header": secret})
    said = lines(redactor()).format(record)
    for part in ("made-up-for-this-test", "c2VhbTpjb3N0", "bWFkZSB1cA", "tOkEn-of", "pa-ss", "eyJzdWIi"):
        assert part not in said
    assert DOTS in said


def test_a_known_password_is_kept_out_in_every_form() -> None:
    redacted = redactor({"ein&\"geheimnis/1"})
    for form in ('ein&"geheimnis/1', "ein%26%22geheimnis%2F1", 'ein&\\"geheimnis/1', "ZWluJiJnZWhlaW1uaXMvMQ=="):
        assert redacted(f"<{form}>") == f"<{DOTS}>"
    assert redactor({"x"})("xylophone") == "xylophone"


def test_an_exception_is_told_without_what_it_was_about() -> None:
    def deep() -> None:
        price = {"cap": "7319.41"}
        try:
            price["7319.41 for the cap"]
        except KeyError as missing:
            raise ValueError(f"7319.41 is wrong, {missing}") from missing

    told = told_error(caught(deep))
    assert [each["type"] for each in told] == ["builtins.ValueError", "builtins.KeyError"]
    assert told[0]["at"][-1].endswith(" deep")
    assert "tests/watching/test_log_lines.py:" in told[0]["at"][-1]
    record = a_record(error=caught(deep))
    said = json.dumps(as_json(record)) + TextLines(redactor()).format(record)
    assert "7319" not in said
    assert "ValueError" in said


def test_what_a_driver_says_beside_its_text_is_told() -> None:
    class Row(psycopg.errors.UniqueViolation):
        sqlstate = "23505"

    told = told_error(caught(lambda: (_ for _ in ()).throw(Row("Key (amount)=(7319.41) already exists."))))[0]
    assert told["sqlstate"] == "23505"
    assert "7319" not in json.dumps(told)


def test_a_fault_whose_text_is_ours_is_told_whole() -> None:
    told = told_error(LedgerUnavailable("The database does not answer: locked"))[0]
    assert told["text"] == "The database does not answer: locked"
    assert told_error(FileNotFoundError(2, "No such file", "/feeds/x"))[0]["text"] == "No such file"


@pytest.fixture
def root() -> Iterator[logging.Logger]:
    """The root logger, as it was afterwards."""
    logger = logging.getLogger()
    ours = logging.getLogger("seamcost")
    kept = logger.handlers, logger.level, sys.excepthook, ours.level
    yield logger
    logger.handlers, sys.excepthook = kept[0], kept[2]
    logger.setLevel(kept[1])
    ours.setLevel(kept[3])
    logging.captureWarnings(False)


@pytest.mark.parametrize(("said", "told"), [
    (f"Invalid request from ip=192.0.2.1: Invalid HTTP Header: 'Authorization Bearer {KEY}'", "Invalid HTTP Header"),
    ("Invalid request from ip=192.0.2.1: Invalid HTTP request line: 'GET /feeds/tok3n-x HTTP/9'", "request line")])
def test_the_server_does_not_quote_what_a_client_wrote(root: logging.Logger, monkeypatch: pytest.MonkeyPatch,
                                                       said: str, told: str) -> None:
    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    write_logs(Settings(log_format="json"))
    from gunicorn.config import Config

    ServerLogger(Config()).warning(said)
    line = json.loads(written.getvalue())
    assert told in line["message"]
    assert "192.0.2.1" in line["message"]
    assert "made-up" not in written.getvalue()
    assert "tok3n" not in written.getvalue()


@pytest.fixture
def server(root: logging.Logger, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[ServerLogger, io.StringIO]]:
    """The server's logger at its most talkative, and what it writes."""
    from gunicorn.config import Config

    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    write_logs(Settings(log_format="json", log_level="debug"))
    told = Config()
    told.set("loglevel", "debug")
    yield ServerLogger(told), written
    logging.getLogger("gunicorn.error").setLevel(logging.NOTSET)


def test_what_came_of_a_request_that_ended_early_is_not_told_even_at_debug(
    server: tuple[ServerLogger, io.StringIO]
) -> None:
    from gunicorn.http.errors import NoMoreData

    logger, written = server
    logger.debug("Ignored premature client disconnection. %s", NoMoreData(b"GET /x HTTP/1.1\r\nCookie: sealed-key-9"))
    assert json.loads(written.getvalue())["message"] == "Ignored premature client disconnection."


def test_a_client_that_falls_silent_is_a_line_and_no_defect(server: tuple[ServerLogger, io.StringIO]) -> None:
    """As gunicorn 27 tells it, from within `except OSError`; another fault of a socket keeps its traceback."""
    logger, written = server
    for error in (BlockingIOError(11, "Resource temporarily unavailable"), OSError(5, "Input/output error")):
        try:
            raise error
        except OSError:
            logger.exception("Socket error processing request.")
    silent, broken = map(json.loads, written.getvalue().splitlines())
    assert (silent["level"], "error" in silent) == ("info", False)
    assert (broken["level"], broken["error"][0]["text"]) == ("error", "Input/output error")


def test_libraries_tell_warnings_alone_whatever_is_asked_for(root: logging.Logger, monkeypatch: pytest.MonkeyPatch
                                                             ) -> None:
    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    write_logs(Settings(log_format="json", log_level="debug"))
    for name in ("psycopg", "urllib3.connectionpool", "a.library.of.tomorrow"):
        logging.getLogger(name).info("SELECT '7319.41'")
    logging.getLogger("seamcost.test").debug("ours")
    assert [json.loads(line)["message"] for line in written.getvalue().splitlines()] == ["ours"]


def test_setting_it_up_again_adds_nothing(root: logging.Logger, monkeypatch: pytest.MonkeyPatch) -> None:
    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    for log_format in ("text", "json", "json"):
        write_logs(Settings(log_format=log_format))
    logging.getLogger("seamcost.test").error("once")
    assert len(written.getvalue().splitlines()) == 1


def test_people_are_told_warnings_and_machines_each_request(root: logging.Logger) -> None:
    for log_format, level, expected in (("text", None, logging.WARNING), ("json", None, logging.INFO),
                                        ("text", "debug", logging.DEBUG)):
        write_logs(Settings(log_format=log_format, log_level=level))
        assert logging.getLogger("seamcost.request").getEffectiveLevel() == expected
