"""A plugin for the runs against mutants: the shortest tests first, so that most mutants are noticed within a moment.

How long each takes mutmut has measured before, in the file that it keeps beside the mutants.
"""

import json
from pathlib import Path

import pytest

MEASURED = Path("mutmut-stats.json")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """By the seconds that each took; before that is known, as they came."""
    if MEASURED.is_file():
        seconds = json.loads(MEASURED.read_text())["duration_by_test"]
        items.sort(key=lambda item: seconds.get(item.nodeid, 0))
