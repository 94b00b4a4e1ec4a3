"""On which engines the use cases run in every run."""

import pytest

from tests.one_engine import leave_out

ON_BOTH_ENGINES = frozenset(f"test_{name}" for name in ("figure_timeline", "price_proposals", "tell_webhooks"))
"""What several do at once runs on both engines. Of the others SQLite is enough in every run: what an engine has to do
for them is held on both in tests/persistence, and the stories run on PostgreSQL."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what runs on one engine alone, on the other."""
    leave_out("postgresql", "use_cases", ON_BOTH_ENGINES, config, items)
