"""Keeping the tokens of feed links out of what is told and logged: whoever has the address reads what it shows.

Rules that always hold: wherever in a path a link's address may stand, no more is told than that it is one; what the
HTTP server logs of a request that it cannot read (an address with letters that were not percent-encoded, say) has dots
in the token's place, and so have its access lines where somebody turns them on.

Source: the W3C TAG's finding on capability URLs; gunicorn's names of its loggers.
"""

import logging
import re

FEEDS = "/feeds"
KEPT = "/v1/feeds"
"""Where links are made and revoked, by an id that is no secret."""
LOGGERS = ("gunicorn.error", "gunicorn.access")
_TOKEN = re.compile(r"(/feeds/+)[^/\s?#\"'\\]+", re.IGNORECASE)


def told_path(path: str) -> str:
    """A request's path, to be told again; of a link's address, even one that was put together wrongly, `/feeds`."""
    before, found, after = path.lower().partition(f"{FEEDS}/")
    return FEEDS if found and (f"{before}{FEEDS}" != KEPT or "/" in after) else path


class WithoutTokens(logging.Filter):
    """Puts dots in the place of tokens."""

    def filter(self, record: logging.LogRecord) -> bool:
        told = record.getMessage()
        cleared = _TOKEN.sub(r"\1...", told)
        if cleared != told:
            record.msg, record.args = cleared, ()
        return True


_WITHOUT_TOKENS = WithoutTokens()


def keep_tokens_out_of_logs() -> None:
    """Have the HTTP server log no token, in this process."""
    for name in LOGGERS:
        logging.getLogger(name).addFilter(_WITHOUT_TOKENS)
