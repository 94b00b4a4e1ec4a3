"""An exception for the log: what it was and where it came from, without what it was about.

Rules that always hold: no local variable, no argument, and no text of an exception that may carry a value: that of a
KeyError is a code, of a ValueError a price, of a database the whole row. The type, the place and what a driver says
beside its text (its SQLSTATE, the constraint) are told; of faults whose text is ours alone the text too.

Source: CWE-209, CWE-532; PEP 249 and psycopg's `Diagnostic` for what a driver says.
"""

from collections.abc import Iterator
from pathlib import Path
from traceback import StackSummary, walk_tb
from typing import Any

from service.use_cases.ledger_unavailable import LedgerUnavailable

MOST_FRAMES, MOST_CAUSES = 40, 8
_TOP = str(Path(__file__).parents[2]) + "/"
_TEXT_IS_OURS: tuple[type[BaseException], ...] = (LedgerUnavailable,)
_SAID = ("constraint_name", "table_name")


def told_error(error: BaseException) -> list[dict[str, Any]]:
    """The exception and what it came from, the last first.

    Shape:   each with `type`, `at` (the frames, the innermost last) and what else is known of it.
    """
    return [_told(each) for _, each in zip(range(MOST_CAUSES), _with_causes(error), strict=False)]


def _with_causes(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    found: BaseException | None = error
    while found is not None and id(found) not in seen:
        seen.add(id(found))
        yield found
        found = found.__cause__ or (None if found.__suppress_context__ else found.__context__)


def _told(error: BaseException) -> dict[str, Any]:
    kind = type(error)
    told: dict[str, Any] = {"type": f"{kind.__module__}.{kind.__qualname__}"}
    if isinstance(error, _TEXT_IS_OURS):
        told["text"] = str(error)
    if isinstance(error, OSError) and error.strerror:
        told["text"] = error.strerror
    if state := getattr(error, "sqlstate", None):
        told["sqlstate"] = state
        said = getattr(error, "diag", None)
        told |= {name: value for name in _SAID if (value := getattr(said, name, None))}
    if name := getattr(error, "sqlite_errorname", None):
        told["sqlite_error"] = name
    return told | {"at": _frames(error)}


def _frames(error: BaseException) -> list[str]:
    frames = StackSummary.extract(walk_tb(error.__traceback__), lookup_lines=False)
    return [f"{_short(frame.filename)}:{frame.lineno} {frame.name}" for frame in frames[-MOST_FRAMES:]]


def _short(file_name: str) -> str:
    return file_name.removeprefix(_TOP).rpartition("site-packages/")[2]
