"""Workbooks are made one at a time while another request waits: they never take all the threads that answer."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace
from typing import Any

import pytest

from service.domain.cascade import cascade
from service.domain.compile import compile_network
from service.domain.errors import ReadersBusy
from service.domain.workbook_source import WorkbookSource
from service.use_cases import read_workbook
from service.use_cases.position import Position
from service.use_cases.read_workbook import Workbooks
from tests.builders import A_DAY, a_dish, a_kitchen, a_line, a_price

KITCHEN = a_kitchen(a_price(), *(a_dish(code, a_line("ingredient beef-topside")) for code in ("hash", "pie", "roast")))
MENU: Any = SimpleNamespace(position=Position(7, "hash", A_DAY))


def asking(workbooks: Workbooks, dish: str) -> Callable[[], bytes]:
    """A request for the workbook of one dish."""
    source = WorkbookSource(KITCHEN, cascade(compile_network(KITCHEN)), (dish,))
    return lambda: workbooks.of(MENU, source)


def test_a_third_that_is_yet_to_be_made_is_asked_to_come_again_and_one_that_is_kept_is_given_at_once(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read_workbook, "PATIENCE_SECONDS", 0.05)
    begun, go_on, made = threading.Semaphore(0), threading.Event(), []

    def write(workbook: Any) -> bytes:
        made.append(workbook)
        begun.release()
        assert len(made) == 1 or go_on.wait(30)
        return b"%d" % len(made)

    workbooks = Workbooks(write)
    assert asking(workbooks, "hash")() == b"1"
    with ThreadPoolExecutor(2) as threads:
        assert begun.acquire(timeout=30)
        two = [threads.submit(asking(workbooks, dish)) for dish in ("pie", "roast")]
        try:
            assert begun.acquire(timeout=30)
            until_both_wait(workbooks)
            with pytest.raises(ReadersBusy, match="again"):
                asking(workbooks, "pie")()
            assert asking(workbooks, "hash")() == b"1"
        finally:
            go_on.set()
        assert sorted(each.result(30) for each in two) == [b"2", b"3"]
    assert asking(workbooks, "pie")() in (b"2", b"3")
    assert len(made) == 3


def until_both_wait(workbooks: Workbooks) -> None:
    """Until both places are taken."""
    for _ in range(3_000):
        if not workbooks._places.acquire(timeout=0.01):
            return
        workbooks._places.release()
    pytest.fail("nobody waits")
