"""Secrets that lie in files, so that no environment, command line or image has to hold them.

Rules that always hold: a file is read once and holds one line, whose end does not count; what is told of it is where it
is, and never what it holds.
"""

import re
from collections.abc import Mapping
from urllib.parse import quote

_LONGEST_SECRET = 4_096
_USER_ALONE = re.compile(r"(postgresql(?:\+\w+)?://[^:@/?#]+)@", re.ASCII)


class SecretWrong(ValueError):
    """A secret's file that is not as it must be; the text names the variable and says the mend."""


def database_url_of(environment: Mapping[str, str]) -> str | None:
    """The database's URL, as it stands or with what the files that are named hold; None when nothing is said of it.

    Raises:  SecretWrong.
    """
    given, named = environment.get("SEAMCOST_DATABASE_URL"), environment.get("SEAMCOST_DATABASE_URL_FILE")
    if given and named:
        raise SecretWrong("SEAMCOST_DATABASE_URL and SEAMCOST_DATABASE_URL_FILE are both set; set one of them.")
    url = given or (_secret("SEAMCOST_DATABASE_URL_FILE", named) if named else "")
    password = environment.get("SEAMCOST_DATABASE_PASSWORD_FILE")
    return _with_password(url, _secret("SEAMCOST_DATABASE_PASSWORD_FILE", password)) if password else url or None


def _with_password(url: str, password: str) -> str:
    begin = _USER_ALONE.match(url)
    if begin is None:
        raise SecretWrong("SEAMCOST_DATABASE_PASSWORD_FILE is set, but the database's URL is not one of PostgreSQL "
                           "with a user and no password, like postgresql://seamcost@database/seamcost.")
    return f"{begin[1]}:{quote(password, safe='')}@{url[begin.end():]}"


def _secret(name: str, path: str) -> str:
    """The one line of a file; told of it is never more than where it is."""
    try:
        with open(path, encoding="utf-8", newline="") as file:
            text = file.read(_LONGEST_SECRET + 2).removesuffix("\n").removesuffix("\r")
    except (OSError, ValueError) as error:
        told = error.strerror if isinstance(error, OSError) else "not UTF-8"
        raise SecretWrong(f"{name} names {path!r}, which cannot be read: {told}.") from None
    if not (0 < len(text) <= _LONGEST_SECRET and text.isprintable()):
        raise SecretWrong(f"{name} names {path!r}, which does not hold one line of 1 to {_LONGEST_SECRET} printable "
                           "characters.")
    return text
