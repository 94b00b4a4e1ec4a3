"""The answer to a request that records something: its receipt, with a header that says when it is kept from before."""

from typing import Any

from service.use_cases.answered_once import Receipt


def answered(receipt: Receipt, status: int = 201, secret: bool = False) -> tuple[Any, int, dict[str, str]]:
    """The receipt's document and status. `secret` keeps it out of every cache."""
    headers = {"Idempotency-Replayed": "true"} if receipt.repeated else {}
    return dict(receipt.document), status, headers | ({"Cache-Control": "no-store"} if secret else {})
