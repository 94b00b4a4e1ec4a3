"""A running service for the tests of each module of pages, and a browser on it."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.stories.running_service import RunningService, a_key, running_service
from tests.web.board_kitchen import the_next_morning
from tests.web.browser import Browser, Window, browsing
from tests.web.priced_kitchen import record_kitchen
from tests.web.signed import Signed

OpenBrowser = Callable[[Window], Browser]


@pytest.fixture(scope="module")
def service(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningService]:
    """The service with an empty ledger, at noon of a Wednesday."""
    folder = tmp_path_factory.mktemp("service")
    shutil.copyfile(sqlite_template, folder / "ledger.db")
    with running_service(f"sqlite:///{folder / 'ledger.db'}", folder) as running:
        yield running


@pytest.fixture(scope="module")
def priced(service: RunningService) -> RunningService:
    """The service with a kitchen whose supplier sends price lists."""
    record_kitchen(service.admin)
    return service


@pytest.fixture(scope="module")
def morning(priced: RunningService) -> RunningService:
    """The service with that kitchen, on the morning after a price went up."""
    the_next_morning(priced)
    return priced


@pytest.fixture(scope="module")
def reader(morning: RunningService) -> Signed:
    """The session of somebody who may read, that morning."""
    return Signed(morning, a_key(morning.settings, "read"))


@pytest.fixture(scope="module")
def open_browser(priced: RunningService, tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenBrowser]:
    """Opens a browser of a window, each once; what its console said is held to nothing at the end."""
    opened: dict[Window, Browser] = {}
    with ExitStack() as stack:
        def open_one(window: Window) -> Browser:
            if window not in opened:
                opened[window] = stack.enter_context(
                    browsing(priced.address, window, tmp_path_factory.mktemp("profile")))
            return opened[window]

        yield open_one


@pytest.fixture(scope="module")
def admin_key(priced: RunningService) -> str:
    """A key that opens everything."""
    return a_key(priced.settings, "admin")
