"""Pages by cursor: opaque, signed, and pinned to one revision and one date, so that writers never shift a list.

A cursor is bound to the key, the route and the filters it was given for; any other use, and any change of a character,
is refused. `limit` is 1 to 1000, 100 unless given.

Source: RFC 8288 for the Link field; RFC 2104 (HMAC) with SHA-256.
"""

import hmac
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote, urlencode

from flask import request

from service.domain.history import Mark
from service.rest.api_keys import caller
from service.rest.fields.exact_field import ExactField, shown
from service.rest.fields.numbers import Whole
from service.rest.http_faults import WrongCursor
from service.rest.openapi_layer.schemas import Query

LIMIT, MOST = 100, 1000
_LONGEST = 2048
_SIGNATURE = 16
_OWN = ("cursor", "after", "limit", "wait", "from_revision", "from_date")
"""Where to begin and how long a page is: a cursor holds on to none of it."""


class CursorText(ExactField):
    """A cursor as text; what it says is read by `Cursors`."""

    def read(self, value: Any) -> str:
        """The text, its length held."""
        if not isinstance(value, str) or not 1 <= len(value) <= _LONGEST:
            raise self.refusal("wrong-cursor", "Give the `next_cursor` of the page before, as it came.")
        return value

    def facts(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": _LONGEST, "pattern": "^[A-Za-z0-9_-]+$"}


class PageQuery(Query):
    """What every paged list takes; a list's own filters are added by a subclass."""

    limit = Whole(min=1, max=MOST, load_default=LIMIT, metadata={"description": "How many at most."})
    cursor = CursorText(metadata={"description": "`next_cursor` of the page before."})


@dataclass(frozen=True, slots=True)
class Cursor:
    """Where a list goes on: pinned to a revision and a date, after `position` (JSON: text, a number, or a list)."""

    revision: int
    as_of: date
    position: Any


class Cursors:
    """Cursors signed with one secret, which all workers share. `secret` is asked for at the first use."""

    def __init__(self, secret: Callable[[], bytes]) -> None:
        self._ask = secret
        self._secret: bytes | None = None

    def place(self, query: Mapping[str, Any]) -> Cursor | None:
        """Where the request's list goes on; None at its beginning.

        Raises:  WrongCursor.
        """
        text = query.get("cursor")
        return None if text is None else self.read(text, *_bound_to())

    def after(self, query: Mapping[str, Any]) -> Cursor | None:
        """Where the request's feed goes on; None at its beginning.

        Raises:  WrongCursor.
        """
        text = query.get("after")
        return None if text is None else self.read(text, *_bound_to(), parameter="after")

    def goes_on_after(self, query: Mapping[str, Any]) -> Mark:
        """The mark after which the request's feed goes on; before the first at its beginning.

        Raises:  WrongCursor.
        """
        cursor = self.after(query) or Cursor(0, date.min, 0)
        return Mark(cursor.revision, cursor.position)

    def go_on_from(self, mark: Mark, as_of: date) -> str:
        """The cursor that goes on with a feed after a mark. It never expires."""
        return self.go_on_with(Cursor(mark.revision, as_of, mark.entry))

    def go_on_with(self, cursor: Cursor) -> str:
        """A cursor of the request's own feed or list, as text."""
        return self.write(cursor, *_bound_to())

    def page(
        self, data: Sequence[Any], *, revision: int, as_of: date, next_position: Any | None
    ) -> tuple[dict[str, Any], int, dict[str, str]]:
        """The page's envelope, status and Link field, for a view to return."""
        cursor = None
        headers: dict[str, str] = {}
        if next_position is not None:
            cursor = self.write(Cursor(revision, as_of, next_position), *_bound_to())
            asked = [(name, value) for name, value in request.args.items(multi=True) if name != "cursor"]
            target = f"{quote(request.path)}?{urlencode([*asked, ('cursor', cursor)])}"
            headers["Link"] = f'<{target}>; rel="next"'
        return {"data": data, "revision": revision, "as_of": as_of.isoformat(), "next_cursor": cursor}, 200, headers

    def write(self, cursor: Cursor, key_id: str, route: str, filters: str) -> str:
        """A cursor as opaque text."""
        content = json.dumps([cursor.revision, cursor.as_of.isoformat(), cursor.position], ensure_ascii=False,
                             separators=(",", ":")).encode()
        return urlsafe_b64encode(self._signature(content, key_id, route, filters) + content).rstrip(b"=").decode()

    def read(self, text: str, key_id: str, route: str, filters: str, parameter: str = "cursor") -> Cursor:
        """The cursor behind the text, if it was given for this key, route and filters.

        Raises:  WrongCursor.
        """
        try:
            raw = urlsafe_b64decode(text.encode("ascii") + b"=" * (-len(text) % 4))
        except (UnicodeEncodeError, ValueError):
            raise _wrong(text, parameter) from None
        signature, content = raw[:_SIGNATURE], raw[_SIGNATURE:]
        canonical = urlsafe_b64encode(raw).rstrip(b"=").decode() == text
        if not canonical or not hmac.compare_digest(signature, self._signature(content, key_id, route, filters)):
            raise _wrong(text, parameter)
        revision, as_of, position = json.loads(content)
        return Cursor(revision, date.fromisoformat(as_of), position)

    def _signature(self, content: bytes, *bound_to: str) -> bytes:
        if self._secret is None:
            self._secret = self._ask()
        bound = json.dumps(bound_to, separators=(",", ":")).encode()
        return hmac.digest(self._secret, b"cursor\n" + bound + b"\n" + content, "sha256")[:_SIGNATURE]


def _bound_to() -> tuple[str, str, str]:
    filters = sorted((name, value) for name, value in request.args.items(multi=True) if name not in _OWN)
    return caller().key_id, request.path, urlencode(filters)


def _wrong(text: str, parameter: str) -> WrongCursor:
    return WrongCursor(
        f"The cursor {shown(text)} was not given for this list with these parameters and this key. Follow "
        "`next_cursor` with the same parameters, or begin again without a cursor.",
        parameter=parameter, error_code="wrong-cursor")
