"""Posting a message to a webhook, once: the one place from which the service calls somebody else's address.

Rules that always hold:
- The address that was checked is the address that is called: the name is looked up once, all of its addresses are held
  to the rules, and the connection goes to one of them by number.
- No redirect is followed, no proxy is taken from the environment, no cookie or password is sent.
- All of it, from the look-up to the last byte, ends by one deadline on the clock, however slowly the other side drips.
- Of the answer at most so many bytes are read, and thrown away but for the status and Retry-After.

The request is written here, in a dozen lines, and `http.client` of the standard library reads the answer: on a
connection that we made ourselves there is nothing left that could look a name up, use a proxy or follow a redirect. A
library that does these things would have to be talked out of each.

Source: OWASP, Server-Side Request Forgery Prevention; CWE-918, CWE-367; Standard Webhooks 1.0.0 (15 to 30 s a call).
"""

import re
import ssl
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from http.client import HTTPException, HTTPResponse

from service.domain.errors import WrongValue
from service.integrations.webhooks.addresses import Networks, may_be_called, may_be_right
from service.integrations.webhooks.answers import outcome_of
from service.integrations.webhooks.deadline import Deadline
from service.integrations.webhooks.lines import AnotherPeer, Line, connected_to_one_of, spoken_to
from service.integrations.webhooks.looking_up import LookedUpInVain, LookUp, looked_up
from service.integrations.webhooks.target_urls import Target, target_of
from service.use_cases.webhook_sending import Came, Outcome, Send

OUR_FIELDS = {"Content-Type": "application/json", "User-Agent": "seamcost-webhooks", "Accept-Encoding": "identity",
              "Connection": "close"}
TAKEN = {"host", "content-length", "transfer-encoding", *(name.lower() for name in OUR_FIELDS)}
FIELD_NAME = re.compile(r"[A-Za-z0-9-]+")
FIELD_TEXT = re.compile(r"[!-~]+(?: [!-~]+)*")
"""Nothing that could end a header field and begin another."""


@dataclass(frozen=True, slots=True)
class CallLimits:
    """How long a call may take, in all and to look up and connect, and how much of an answer is read."""

    look_up_seconds: float = 5
    connect_seconds: float = 5
    call_seconds: float = 20
    most_bytes: int = 64 * 1024


LIMITS = CallLimits()


def in_utc() -> datetime:
    return datetime.now(UTC)


def sender(networks: Networks, look_up: LookUp = looked_up, limits: CallLimits = LIMITS,
           now: Callable[[], datetime] = in_utc) -> Send:
    """Post to public addresses, and to those of these networks. Certificates are held to the system's own issuers.

    Raises:  from what it gives, ValueError for header fields that are none, before anything is sent.
    """
    tls = ssl.create_default_context()

    def send(url: str, fields: Mapping[str, str], body: bytes) -> Outcome:
        _hold_to_their_form(fields)
        deadline = Deadline(limits.call_seconds)
        try:
            target = target_of(url)
            if not may_be_right(target, networks):
                return Outcome(Came.TARGET_REFUSED)
            addresses = look_up(target.host, target.port, deadline.left(limits.look_up_seconds))
            if not may_be_called(target, addresses, networks):
                return Outcome(Came.TARGET_REFUSED)
            with closing(connected_to_one_of(addresses, target.port, deadline, limits.connect_seconds)) as connection:
                safe = spoken_to(connection, target.host, tls, deadline) if target.secure else connection
                with closing(Line(safe, deadline, limits.most_bytes)) as line:
                    line.sendall(_request(target, fields, body))
                    return _told(line, now)
        except (WrongValue, AnotherPeer):
            return Outcome(Came.TARGET_REFUSED)
        except (LookedUpInVain, OSError, HTTPException, ValueError) as failure:
            return Outcome(_came_of(failure))

    return send


def _hold_to_their_form(fields: Mapping[str, str]) -> None:
    for name, text in fields.items():
        if not (FIELD_NAME.fullmatch(name) and FIELD_TEXT.fullmatch(text)) or name.lower() in TAKEN:
            raise ValueError(f"{name!r} with {text!r} is no header field that can be sent with a message.")


def _request(target: Target, fields: Mapping[str, str], body: bytes) -> bytes:
    """The request as it goes out. All of its head is ASCII and has no line end but ours: that was checked."""
    head = {"Host": target.host_field, "Content-Length": str(len(body)), **OUR_FIELDS, **fields}
    lines = [f"POST {target.path} HTTP/1.1", *(f"{name}: {text}" for name, text in head.items()), "", ""]
    return "\r\n".join(lines).encode("ascii") + body


def _told(line: Line, now: Callable[[], datetime]) -> Outcome:
    """What the answer says. Once its head has come it counts, whatever becomes of its body."""
    answer = _answer(line)
    outcome = outcome_of(answer.status, answer.getheader("Retry-After"), now())
    with suppress(OSError, HTTPException, ValueError):
        while answer.read(8_192):
            pass
    return outcome


def _answer(line: Line) -> HTTPResponse:
    """The answer itself, after any that only say that it is coming (1xx; RFC 9110 section 15.2)."""
    while True:
        answer = HTTPResponse(line, method="POST")
        answer.begin()
        if answer.status >= 200:
            return answer


def _came_of(failure: Exception) -> Came:
    late = isinstance(failure, TimeoutError) or (isinstance(failure, LookedUpInVain) and not failure.in_time)
    return Came.TIMED_OUT if late else Came.NOT_REACHED
