"""Feed links: make one, list them, revoke one, and know which one a token opens.

A link is 256 random bits in an address; only their SHA-256 is stored, and the address is shown once. Making and
revoking take a revision; the last use takes none. A link outlives the key that made it: a sheet that many read must
not stop when a person's key is replaced; the list says who made it. It ends after a year unless something else is
asked for, since nobody remembers an address in a sheet.

Source: the W3C TAG's finding on capability URLs: unguessable, expiring, revocable, for one purpose.
"""

import secrets
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.domain.errors import NotAllowed, NotFound, Refused, WrongValue
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.documents import Document, moment
from service.use_cases.feed_links_port import FeedLink
from service.use_cases.keys import hash_of
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork

SHOWS: Mapping[str, str] = {"dish-costs": "costs:read", "cut-costs": "read", "recipe-costs": "read"}
"""The lists that a link can show, and the scope that its maker needs for each."""

KINDS: Mapping[str, str] = {"dish-costs": "dishes", "cut-costs": "cuts", "recipe-costs": "recipes"}
"""Where the single values of each list are."""

DELIMITERS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}
DECIMALS: Mapping[str, str] = {"point": ".", "comma": ","}
LIVES = timedelta(days=365)
_BYTES = 32
_COARSE = timedelta(minutes=1)
_SECRET = ("token", "urls")


@dataclass(frozen=True, slots=True)
class FeedAsked:
    """What a link shall show, and how. Neither `expires_at` nor `never_expires`: it ends after a year."""

    name: str
    lists: tuple[str, ...]
    fields: tuple[str, ...] | None = None
    delimiter: str = "comma"
    decimal: str = "point"
    bom: bool = False
    expires_at: datetime | None = None
    never_expires: bool = False


def create_feed(ledger: Ledger, asked: FeedAsked, scopes: Collection[str], asker: Asker) -> Receipt:
    """Make a link; the answer holds its token and addresses, this once (a repeat of the request does not show them).

    Raises:  NotAllowed when the maker's own scopes do not reach what it shows; Refused.
    """
    _hold_to_scopes(asked.lists, scopes)

    def effect(work: WriteWork) -> Document:
        _hold_to_sense(asked, work.now)
        token, expires = secrets.token_urlsafe(_BYTES), asked.expires_at or work.now.replace(microsecond=0) + LIVES
        link = FeedLink(secrets.token_hex(4), asked.name, asked.lists, asked.fields, asked.delimiter, asked.decimal,
                        asked.bom, asker.name, work.now, None if asked.never_expires else expires)
        told = feed_document(link)
        mark = work.next_mark(Entry("create_feed", "feed", link.id, {
            name: value for name, value in told.items() if name not in ("created_at", "last_used_at")}))
        work.feeds.add(link, hash_of(token))
        return told | {"revision": mark.revision, "token": token, "urls": _urls(asked.lists, token)}

    return answered_once(ledger, asker, effect, moves_figures=False, kept=_without_secret)


def revoke_feed(ledger: Ledger, link_id: str, asker: Asker) -> None:
    """Revoke a link at once, in every worker.

    Raises:  NotFound.
    """
    with ledger.write(asker, moves_figures=False) as work:
        link = next((link for link in work.feeds.every() if link.id == link_id), None)
        if link is None:
            raise NotFound(f"There is no feed {link_id!r}.")
        if link.revoked_at is None:
            work.next_mark(Entry("revoke_feed", "feed", link_id, {"id": link_id}))
            work.feeds.revoke(link_id, work.now)


def opened_feed(ledger: Ledger, token: str, now: datetime) -> FeedLink:
    """The link that a token opens.

    Raises:  NotFound, in the same words whether it is unknown, expired or revoked.
    """
    link = ledger.feeds.behind(hash_of(token))
    if link is None or link.revoked_at is not None or (link.expires_at is not None and link.expires_at <= now):
        raise no_such_feed()
    if link.last_used_at is None or now - link.last_used_at >= _COARSE:
        ledger.feeds.touch(link.id, now)
    return link


def no_such_feed() -> NotFound:
    """What is said of an address that shows nothing, whatever the reason."""
    return NotFound("This address shows nothing: the link is unknown, expired or revoked, or does not show this. Ask "
                    "whoever made it for a new one.")


def feed_document(link: FeedLink) -> Document:
    """A link as shown: everything but its token, which is not kept."""
    return {
        "id": link.id, "name": link.name, "lists": list(link.lists),
        "fields": None if link.fields is None else list(link.fields), "delimiter": link.delimiter,
        "decimal": link.decimal, "bom": link.bom, "made_by": link.made_by, "created_at": _instant(link.created_at),
        "expires_at": _instant(link.expires_at), "last_used_at": _instant(link.last_used_at),
        "revoked_at": _instant(link.revoked_at)}


def _hold_to_scopes(lists: Collection[str], scopes: Collection[str]) -> None:
    for name in lists:
        if SHOWS[name] not in scopes:
            raise NotAllowed(f"A link to {name} is made by a key that may read it: it needs the scope "
                             f"{SHOWS[name]!r} besides.", scope=SHOWS[name])


def _hold_to_sense(asked: FeedAsked, now: datetime) -> None:
    faults = []
    if asked.delimiter == asked.decimal == "comma":
        faults.append(WrongValue("With commas as decimal marks the delimiter cannot be a comma as well; take semicolon "
                                 "or tab.", "#/delimiter"))
    if asked.fields is not None and len(asked.lists) > 1:
        faults.append(WrongValue("Fields are of one list; make a link for each list, or leave fields out.", "#/fields"))
    if asked.expires_at is not None and asked.expires_at <= now:
        faults.append(WrongValue("A link expires in the future; leave expires_at out for a year, or give null for one "
                                 "that does not.", "#/expires_at"))
    if faults:
        raise Refused(faults)


def _urls(lists: Collection[str], token: str) -> list[Document]:
    return [{"list": name, "csv": f"/feeds/{token}/{name}.csv",
             "value": f"/feeds/{token}/{KINDS[name]}/{{code}}/{{figure}}"} for name in lists]


def _instant(value: datetime | None) -> str | None:
    return None if value is None else moment(value, "seconds")


def _without_secret(answer: Mapping[str, Any]) -> Mapping[str, Any]:
    return dict(answer) | dict.fromkeys(_SECRET)
