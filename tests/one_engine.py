"""Tests that run on one engine in every run, and on both where all are asked for (SEAMCOST_EVERY_ENGINE=1)."""

import os
from collections.abc import Set

import pytest


def leave_out(engine: str, of_folder: str, but: Set[str], config: pytest.Config, items: list[pytest.Item]) -> None:
    """Deselect a folder's tests on an engine, `but` those of some modules."""
    if os.environ.get("SEAMCOST_EVERY_ENGINE"):
        return
    left_out = [item for item in items if item.path.parent.name == of_folder and item.path.stem not in but
                and engine in getattr(getattr(item, "callspec", None), "params", {}).values()]
    config.hook.pytest_deselected(items=left_out)
    gone = set(map(id, left_out))
    items[:] = [item for item in items if id(item) not in gone]
