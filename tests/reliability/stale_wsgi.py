"""The service, broken on purpose: each worker believes what it knows of the head and of keys for a second."""

import os
import time
from collections.abc import Sequence
from typing import Any

from service.persistence.quick_statements import Quick
from service.settings import settings_from
from service.wiring import web_app

BELIEVED_SECONDS = 1.0
_asked = Quick.one
_known: dict[Any, tuple[float, Any]] = {}


def _believed(quick: Quick, statement: str, parameters: Sequence[Any]) -> Any:
    at, row = _known.get((statement, *parameters), (0.0, None))
    if time.monotonic() > at + BELIEVED_SECONDS:
        at, row = time.monotonic(), _asked(quick, statement, parameters)
        _known[(statement, *parameters)] = at, row
    return row


Quick.one = _believed  # type: ignore[method-assign]
app = web_app(settings_from(os.environ))
