"""A small kitchen for each module that tries bad input on it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.rest.small_kitchen import Kitchen, small_kitchen


@pytest.fixture(scope="module")
def kitchen(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kitchen]:
    """The application on a ledger of its own, with a few records in it."""
    path = tmp_path_factory.mktemp("kitchen") / "ledger.db"
    path.write_bytes(sqlite_template.read_bytes())
    with small_kitchen(path) as made:
        yield made
