"""Reading a document of the identity provider: one GET, bounded in time and size, and nothing followed.

The address is the operator's own setting, and a provider often stands on a private network: so, unlike a webhook's, it
is not held to public addresses. It is https but on the loopback; a redirect is a failure; no proxy and no cookie are
used; what comes beyond the bound is not read.

Source: OpenID Connect Discovery 1.0 section 4; RFC 7517.
"""

import json
import ssl
from contextlib import closing
from http.client import HTTPException, HTTPResponse
from typing import Any

from service.domain.errors import WrongValue
from service.integrations.webhooks.deadline import Deadline
from service.integrations.webhooks.lines import AnotherPeer, Line, connected_to_one_of, spoken_to
from service.integrations.webhooks.looking_up import LookedUpInVain, looked_up
from service.integrations.webhooks.target_urls import Target, target_of

SECONDS, CONNECT_SECONDS = 5.0, 2.0
MOST_BYTES = 256 * 1024


class NotFetched(Exception):
    """The document could not be read; the text says why, for the log, and repeats nothing that the other side said."""


def fetched_json(url: str, seconds: float = SECONDS) -> Any:
    """The JSON at a URL.

    Raises:  NotFetched.
    """
    try:
        return _content(target_of(url), Deadline(seconds))
    except NotFetched:
        raise
    except (WrongValue, AnotherPeer, LookedUpInVain, OSError, HTTPException, ValueError, RecursionError) as failure:
        raise NotFetched(type(failure).__name__) from failure


def _content(target: Target, deadline: Deadline) -> Any:
    addresses = looked_up(target.host, target.port, deadline.left())
    if not target.secure and not all(address.is_loopback for address in addresses):
        raise NotFetched("not https, and not on the loopback")
    with closing(connected_to_one_of(addresses, target.port, deadline, CONNECT_SECONDS)) as plain:
        safe = spoken_to(plain, target.host, ssl.create_default_context(), deadline) if target.secure else plain
        with closing(Line(safe, deadline, MOST_BYTES)) as line:
            line.sendall(f"GET {target.path} HTTP/1.1\r\nHost: {target.host_field}\r\nAccept: application/json\r\n"
                         "User-Agent: seamcost-tokens\r\nAccept-Encoding: identity\r\nConnection: close\r\n\r\n"
                         .encode("ascii"))
            answer = HTTPResponse(line, method="GET")  # type: ignore[arg-type]
            answer.begin()
            if answer.status != 200:
                raise NotFetched(f"answered with {answer.status}")
            return json.loads(answer.read())
