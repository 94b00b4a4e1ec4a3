"""Answers kept for Idempotency-Keys: per key and route, seven days, in the transaction of their effect.

Rows that are older are removed inside later writes. The ledger's lock orders repeats of one request: the second one
finds the first one's answer.
"""

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from service.domain.errors import IdempotencyKeyReused
from service.persistence.tables.chain import idempotency
from service.use_cases.ports import Asker

KEPT = timedelta(days=7)


def remembered(connection: Connection, asker: Asker, now: datetime) -> Mapping[str, Any] | None:
    """The answer kept for the asker's Idempotency-Key, or None when it is new or older than seven days.

    Raises:  IdempotencyKeyReused when the fingerprint differs.
    """
    asked = asker.idempotency
    if asked is None:
        return None
    columns = idempotency.c
    row = connection.execute(select(columns.fingerprint, columns.answer).where(
        columns.key_id == asker.key_id, columns.route == asked.route, columns.key == asked.key,
        columns.made_at > now - KEPT)).one_or_none()
    if row is None:
        return None
    if row.fingerprint != asked.fingerprint:
        raise IdempotencyKeyReused(
            "This Idempotency-Key was used for another request; send a fresh key, or the same request again.")
    answer: Mapping[str, Any] = json.loads(row.answer)
    return answer


def remember(connection: Connection, asker: Asker, now: datetime, answer: Mapping[str, Any]) -> None:
    """Keep the answer, and remove what is older than seven days."""
    asked = asker.idempotency
    if asked is None:
        return
    connection.execute(delete(idempotency).where(idempotency.c.made_at <= now - KEPT))
    connection.execute(insert(idempotency), {
        "key_id": asker.key_id, "route": asked.route, "key": asked.key, "fingerprint": asked.fingerprint,
        "answer": json.dumps(answer, ensure_ascii=False, allow_nan=False), "made_at": now})
