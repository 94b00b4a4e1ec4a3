"""Who asks on the command line, as the ledger records it: whoever is logged in, under the key "cli"."""

import getpass
import uuid

from service.use_cases.ports import Asker

KEY_ID = "cli"


def asker(name: str | None = None) -> Asker:
    """The asker of this call; `name` in place of the login."""
    return Asker(KEY_ID, name or _login(), uuid.uuid4().hex)


def _login() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # a container may run under a number that has no name
        return KEY_ID
