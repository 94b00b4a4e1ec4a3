"""The demo goes into an empty ledger, whole, once; and never over what somebody recorded."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service import operating, wiring
from service.cli.demo_kitchen import demo_requests
from service.cli.demo_loading import DEMO, NotTheDemo, load_demo
from service.domain.history import Mark
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker, Ledger
from tests.cli.conftest import Run

Load = Callable[..., int]


class CutShort(Exception):
    """The power fails while the demo loads."""


@contextmanager
def a_ledger(file: Path) -> Iterator[tuple[Ledger, Load]]:
    """The ledger of a file, and how to load the demo into it."""
    settings = Settings(database_url=f"sqlite:///{file}")
    operating.migrate(settings)
    with operating.opened_ledger(settings) as ledger:
        def load(told: Callable[[int], None] = lambda done: None) -> int:
            return load_demo(ledger, wiring.app_on(ledger, settings), datetime.now(UTC), told)

        yield ledger, load


def recorded(ledger: Ledger) -> list[tuple[str, str, str]]:
    """What the ledger holds besides keys."""
    entries = ledger.entries(Mark(0, 0), 5_000, ledger.head().revision)
    return [(entry.action, entry.kind, entry.code) for entry in entries if entry.kind != "key"]


def test_every_request_takes_one_revision_by_the_demo(demo_file: Path) -> None:
    with a_ledger(demo_file) as (ledger, _):
        entries = ledger.entries(Mark(0, 0), 5_000, ledger.head().revision)
        made = {entry.mark.revision for entry in entries if entry.kind != "key"}
        assert len(made) == len(tuple(demo_requests(ledger.today())))
        assert {entry.who for entry in entries} == {DEMO}


def test_the_loading_key_is_revoked(demo_file: Path) -> None:
    with a_ledger(demo_file) as (ledger, _):
        assert [key.revoked_at is not None for key in ledger.every_key()] == [True]


def test_a_complete_demo_is_left_as_it_stands(demo_file: Path) -> None:
    with a_ledger(demo_file) as (ledger, load):
        before = ledger.head()
        assert load() == 0
        assert ledger.head() == before


def test_a_loading_that_was_cut_short_goes_on_to_the_same_end(demo_file: Path, tmp_path: Path) -> None:
    def fail_at_forty(done: int) -> None:
        if done == 40:
            raise CutShort

    with a_ledger(tmp_path / "cut.db") as (ledger, load), a_ledger(demo_file) as (whole, _):
        with pytest.raises(CutShort):
            load(fail_at_forty)
        assert len(recorded(ledger)) < len(recorded(whole))
        assert load() == len(tuple(demo_requests(ledger.today()))) - 40
        assert recorded(ledger) == recorded(whole)


def test_what_somebody_recorded_is_never_gone_over(tmp_path: Path) -> None:
    with a_ledger(tmp_path / "real.db") as (ledger, load):
        create_key(ledger, "head chef", ["admin"], None, Asker("cli", "somebody", "1"))
        before = ledger.head()
        with pytest.raises(NotTheDemo, match="--database"):
            load()
        assert ledger.head() == before


def test_serve_refuses_the_demo_over_other_records_and_says_the_mend(run: Run) -> None:
    run("migrate")
    run("keys", "create", "head chef", "--scope", "admin")
    before = run("verify").stdout

    done = run("serve", "--demo", "--port", "0")

    assert (done.exit_code, done.stdout) == (2, "")
    assert "--database sqlite:///demo.db" in done.stderr
    assert run("verify").stdout == before
