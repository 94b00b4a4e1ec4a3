"""The worked sheets: published figures as data, each with its source, read by the tests beside this module."""

import json
from pathlib import Path
from typing import Any

SHEETS = Path(__file__).parent / "sheets"


def sheet(name: str) -> Any:
    """The sheet of that name, as recorded: numbers are strings, read exactly by whoever uses them."""
    return json.loads((SHEETS / f"{name}.json").read_text(encoding="utf-8"))
