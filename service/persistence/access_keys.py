"""Access keys in their table: never their secrets, only SHA-256 of them."""

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select, update

from service.persistence.column_types import to_instant
from service.persistence.tables.chain import access_key
from service.use_cases.ports import AccessKey

COLUMNS = ("id", "name", "scopes", "created_at", "expires_at", "last_used_at", "revoked_at", "made_revision",
           "requests_per_minute")


def store(connection: Connection, revision: int, keys: Sequence[tuple[AccessKey, str]],
          revoked: Sequence[tuple[str, datetime]]) -> None:
    """Store new keys and revocations as made by `revision`.

    Raises:  LookupError for a key that is not there to be revoked.
    """
    for key, secret_hash in keys:
        connection.execute(insert(access_key), {
            "id": key.id, "name": key.name, "scopes": key.scopes, "secret_hash": secret_hash,
            "created_at": key.created_at, "expires_at": key.expires_at, "last_used_at": key.last_used_at,
            "revoked_at": key.revoked_at, "made_revision": revision,
            "requests_per_minute": key.requests_per_minute})
    for key_id, at in revoked:
        held = connection.execute(update(access_key).where(access_key.c.id == key_id).values(revoked_at=at))
        if held.rowcount != 1:
            raise LookupError(f"There is no key {key_id!r} to revoke.")


def all_keys(connection: Connection) -> tuple[AccessKey, ...]:
    """Every key, in the order made."""
    columns = (access_key.c[name] for name in COLUMNS)
    rows = connection.execute(select(*columns).order_by(access_key.c.made_revision, access_key.c.id))
    return tuple(
        AccessKey(row.id, row.name, tuple(row.scopes), row.created_at, row.expires_at, row.last_used_at,
                  row.revoked_at, row.made_revision, row.requests_per_minute)
        for row in rows
    )


def key_of(columns: Sequence[Any]) -> AccessKey | None:
    """The key of a quick statement's columns, in the order of `COLUMNS`; None where the key is unknown."""
    key_id, name, scopes, created, expires, last_used, revoked, made_revision, requests_per_minute = columns
    if key_id is None:
        return None
    made = to_instant(created)
    assert made is not None  # noqa: S101  (the column is NOT NULL)
    return AccessKey(key_id, name, tuple(json.loads(scopes)), made, to_instant(expires), to_instant(last_used),
                     to_instant(revoked), made_revision, requests_per_minute)
