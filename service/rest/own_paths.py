"""Where somebody is sent on to after signing in: only ever a path of this service, never another site.

Source:  the WHATWG URL standard: browsers drop tabs and line ends, and take a backslash for a slash, so that `/\\other`
         and a second slash lead elsewhere.
"""

import re

_OWN = re.compile(r"/(?![/\\])[\x21-\x5b\x5d-\x7e]{0,2000}", re.ASCII)


def own_path(given: str | None, otherwise: str) -> str:
    """The path and query given, if they are of this service."""
    return given if given is not None and _OWN.fullmatch(given) else otherwise
