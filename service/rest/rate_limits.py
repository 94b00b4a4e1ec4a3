"""How many requests a minute a key or a link may make: counted before the view, told on every answer.

    RateLimit-Policy: "minute";q=6000;w=60
    RateLimit: "minute";r=5871;t=23

Every request counts as one, whatever it is answered with, but for one answered with 304: that counts a tenth. Above
the allowance the answer is 429 until the minute is over, and `Retry-After` says when that is.

Source:  draft-ietf-httpapi-ratelimit-headers-11 (sections 3, 4, 5.1 and 6), whose fields are structured fields (RFC
         9651); RFC 6585 section 4. The draft's address for the problem type is not registered before it is an RFC: the
         type is a page of ours with the same last part and the draft's member.
"""

from functools import lru_cache
from typing import NamedTuple

from flask import Flask, Response, g

from service.rest.every_answer import tell
from service.rest.http_faults import QuotaExceeded
from service.use_cases.allowances import MINUTE, Allowances, Taken

POLICY = "minute"


class _Counted(NamedTuple):
    """What was taken for the request at hand."""

    allowances: Allowances
    holder: str
    per_minute: int
    taken: Taken


def count(allowances: Allowances, holder: str, per_minute: int) -> None:
    """Count the request at hand against its holder's allowance; its answer will say what is left.

    Raises:  QuotaExceeded.
    """
    taken = allowances.take(holder, per_minute)
    g.counted = _Counted(allowances, holder, per_minute, taken)
    if taken.refused:
        raise QuotaExceeded(
            f"The {per_minute} requests a minute that are allowed here are used up; there are more in "
            f"{taken.seconds_to_more} s.", retry_after=taken.seconds_to_more, **{"violated-policies": [POLICY]})


def tell_what_is_left(app: Flask) -> None:
    """Have every answer to a request that was counted say so."""
    app.after_request(_tell)


def _tell(answer: Response) -> Response:
    counted: _Counted | None = g.get("counted")
    if counted is None:
        return answer
    taken = counted.taken
    unchanged = answer.status_code == 304
    remaining = counted.allowances.give_back(counted.holder, taken) if unchanged else taken.remaining
    tell(answer, "RateLimit-Policy", _policy(counted.per_minute))
    tell(answer, "RateLimit", f'"{POLICY}";r={remaining};t={taken.seconds_to_more}')
    return answer


@lru_cache(maxsize=256)
def _policy(per_minute: int) -> str:
    return f'"{POLICY}";q={per_minute};w={MINUTE}'
