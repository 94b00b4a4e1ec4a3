"""Clocks: where "now" comes from. Everything that needs it is handed one.

The test clock moves all workers of a service together: a file holds an offset in seconds, read at each call. It is
honoured in test mode alone.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

Clock = Callable[[], datetime]


def system_clock() -> datetime:
    """Now, in UTC."""
    return datetime.now(UTC)


def shifted_clock(offset_file: Path) -> Clock:
    """The system's clock, moved by the seconds that the file holds; a file that is missing or empty moves nothing."""

    def now() -> datetime:
        try:
            text = offset_file.read_text(encoding="ascii").strip()
        except FileNotFoundError:
            text = ""
        return system_clock() + timedelta(seconds=float(text or "0"))

    return now


def clock_for(test_mode: bool, offset_file: Path | None) -> Clock:
    """The system's clock, or the test clock when test mode is on and a file is named."""
    return shifted_clock(offset_file) if test_mode and offset_file is not None else system_clock
