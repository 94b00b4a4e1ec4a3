"""Each switch that breaks the service on purpose turns a part of the programme red, for the right reason."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from tests.reliability import (
    alike,
    backups,
    bad_clients,
    clocks,
    conflicts,
    disk_full,
    exact_figures,
    exports,
    fuzz_readers,
    fuzzed,
    graph,
    imports,
    json_torture,
    keys,
    kills,
    limits,
    model,
    nth_failure,
    one_effect,
    paging,
    power_cut,
    restart,
    scopes,
    soak,
    tampering,
)
from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.programme import Programme, Run
from tests.reliability.sabotage import SWITCHES
from tests.reliability.short_form import needs_a_forgetful_disk
from tests.reliability.small_disk import NoSmallDisk

EVERY = os.environ.get("SEAMCOST_EVERY_SABOTAGE") == "1"


class Shown(NamedTuple):
    """A switch, a part that turns red for it, on which engine, within how many cases (0: as many as its short form
    has), and what it says then; and whether every run shows it, or only one that is asked for all
    (SEAMCOST_EVERY_SABOTAGE=1)."""

    switch: str
    programme: Programme
    engine: str
    cases: int
    fault: str
    in_every_run: bool = False


SHOWN = (
    Shown("unsafe_transactions", conflicts.PROGRAMME, "sqlite", 300, "was answered 503"),
    Shown("unsafe_transactions", conflicts.PROGRAMME, "postgresql", 24, "was answered 500", True),
    Shown("stale_decisions", conflicts.PROGRAMME, "postgresql", 60, "lost update", True),
    Shown("no_if_match", conflicts.PROGRAMME, "sqlite", 60, "lost update"),
    Shown("stale_decisions", graph.PROGRAMME, "postgresql", 25, "a loop is stored"),
    Shown("no_loop_check", graph.PROGRAMME, "sqlite", 1, "a loop is stored", True),
    Shown("half_commit", kills.PROGRAMME, "sqlite", 6, "prices in the table and not in the entries", True),
    Shown("skipped_fsync", kills.PROGRAMME, "postgresql", 20, "is not there"),
    Shown("half_commit", imports.PROGRAMME, "sqlite", 80, "its entry is there, and the row that it made is not"),
    Shown("no_idempotency", imports.PROGRAMME, "sqlite", 30, "was answered 409", True),
    Shown("lost_write", one_effect.PROGRAMME, "sqlite", 300, "is not there"),
    Shown("no_idempotency", one_effect.PROGRAMME, "postgresql", 30, "is there twice", True),
    Shown("lost_bump", model.PROGRAMME, "sqlite", 100, "the figures are of revision", True),
    Shown("no_if_match", model.PROGRAMME, "sqlite", 200, "where 412 is right"),
    Shown("no_loop_check", model.PROGRAMME, "sqlite", 300, "where 4"),
    Shown("half_commit", nth_failure.PROGRAMME, "sqlite", 30, "answered 503, and the ledger has moved", True),
    Shown("refused_commits_stay_open", nth_failure.PROGRAMME, "sqlite", 30, "answered 500"),
    Shown("no_scope_check", scopes.PROGRAMME, "sqlite", 3, "DELETE /v1/breakdowns/{code} with costs:read: ", True),
    Shown("one_scope_changed", scopes.PROGRAMME, "sqlite", 3, "DELETE /v1/breakdowns/{code} with costs:read: "),
    Shown("expired_keys_open", keys.PROGRAMME, "sqlite", 8, "was answered with 200"),
    Shown("keys_found_by_their_id", keys.PROGRAMME, "sqlite", 8, "was answered with 200", True),
    Shown("unpinned_pages", paging.PROGRAMME, "sqlite", 60, "a page is of revision", True),
    Shown("unsigned_cursors", paging.PROGRAMME, "sqlite", 1, "was answered with 200"),
    Shown("last_digits", alike.PROGRAMME, "postgresql", 220, "GET /v1/"),
    Shown("backup_without_one_view", backups.PROGRAMME, "sqlite", 3, "backup", True),
    Shown("no_formula_guard", exports.PROGRAMME, "sqlite", 3, "starts a formula", True),
    Shown("texts_that_compute", exports.PROGRAMME, "sqlite", 3, "in a workbook"),
    Shown("chain_not_hashed", tampering.PROGRAMME, "sqlite", 42, "swapped"),
    Shown("rows_not_compared", tampering.PROGRAMME, "sqlite", 42, "told was []", True),
    Shown("allowances_apart", limits.PROGRAMME, "sqlite", 300, "where 30 are allowed", True),
    Shown("float_rounding", exact_figures.PROGRAMME, "sqlite", 1, "exactly", True),
    Shown("half_bodies", bad_clients.PROGRAMME, "sqlite", 2, "length too long, then closed: recorded: True", True),
    Shown("endless_patience", bad_clients.PROGRAMME, "sqlite", 0, "half a body, silent: still open"),
    Shown("days_in_utc", clocks.PROGRAMME, "sqlite", 2, "the cost is"),
    Shown("days_by_the_wall_clock", clocks.PROGRAMME, "postgresql", 11, "01:30 comes twice; the first is BST): at "),
    Shown("days_go_back", clocks.PROGRAMME, "sqlite", 1, "shows the old price after a write", True),
    Shown("last_row_lost", fuzz_readers.PROGRAMME, "sqlite", 60, "price_list_csv: ", True),
    Shown("lenient_quotes", fuzz_readers.PROGRAMME, "sqlite", 0, "its quotes do not match, and it was read"),
    Shown("unsigned_cursors", fuzz_readers.PROGRAMME, "sqlite", 0, "cursors: "),
    Shown("any_decimal", fuzz_readers.PROGRAMME, "sqlite", 0, "decimals: "),
    Shown("refusals_surprise", fuzzed.PROGRAMME, "sqlite", 0, "500 "),
    Shown("refusals_surprise", fuzzed.PROGRAMME, "postgresql", 0, "500 "),
    Shown("last_of_two_names", json_torture.PROGRAMME, "sqlite", 300, "stands twice), and read"),
    Shown("any_character", json_torture.PROGRAMME, "postgresql", 60, "half a surrogate pair), and read"),
    Shown("any_depth", json_torture.PROGRAMME, "sqlite", 60, "deeper or larger than is read"),
    Shown("connections_left_open", soak.PROGRAMME, "sqlite", 20, " descriptors"),
    Shown("places_not_given_back", soak.PROGRAMME, "postgresql", 20, "were refused or lost"),
    Shown("lost_write", soak.PROGRAMME, "sqlite", 60, "was acknowledged and is not in the ledger"),
    Shown("left_log_thrown_away", restart.PROGRAMME, "sqlite", 1, "The first answer said"),
    Shown("left_log_believed", restart.PROGRAMME, "sqlite", 1, "did not become ready"),
    Shown("skipped_fsync", restart.PROGRAMME, "postgresql", 20, "The first answer said"),
)
ON_A_DISK = Shown("skipped_fsync", power_cut.PROGRAMME, "sqlite", 2, "is not there", True)
ON_A_SMALL_DISK = (
    Shown("a_full_disk_is_a_defect", disk_full.PROGRAMME, "sqlite", 1, "without room a write is answered 500", True),
    Shown("a_full_disk_is_a_defect", disk_full.PROGRAMME, "postgresql", 1, "without room a write is answered 503"),
    Shown("half_commit", disk_full.PROGRAMME, "sqlite", 40, "revision"))
ALL = (*SHOWN, ON_A_DISK, *ON_A_SMALL_DISK)
NAMED = {"unsafe_transactions", "skipped_fsync", "lost_bump", "no_scope_check", "float_rounding"}
"""What a programme that breaks a ledger must not miss, whatever else it finds: shown in every run."""
WHEN_ASKED_FOR = ("alike", "fuzzed", "json_torture", "soak", "restart")
"""Parts that are shown red where all switches are asked for and not in every run: each takes ten seconds or more."""
BREAKS_OF_THEIR_OWN = ("quiet_logs", "graceful_stop", "fresh_reads", "reads_during_imports")
"""Parts that break more than Python can be told to, or themselves: each is shown red in its own test."""


def run_here(shown: Iterable[Shown], **how: Any) -> list[Any]:
    """Those of every run, or all where all are asked for."""
    return [pytest.param(each, id=f"{each.programme.name}-{each.switch}-{each.engine}", **how) for each in shown
            if EVERY or each.in_every_run]


@pytest.mark.parametrize("shown", [*run_here(SHOWN), *run_here([ON_A_DISK], marks=needs_a_forgetful_disk),
                                   *run_here(ON_A_SMALL_DISK)])
def test_a_broken_service_is_found_out(request: pytest.FixtureRequest, tmp_path: Path, shown: Shown) -> None:
    url = request.getfixturevalue("sqlite_url" if shown.engine == "sqlite" else "postgres_url")
    server = None if shown.engine == "sqlite" else request.getfixturevalue("postgres_server")
    try:
        verdict = shown.programme.run(Run(shown.cases or shown.programme.short, url, tmp_path, sabotage=shown.switch,
                                          server=server))
    except NoSmallDisk as reason:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"No small disk can be mounted here: {reason}")
    assert verdict.faults, f"{shown.programme.name} did not see {shown.switch}: {verdict}"
    assert any(shown.fault in each for each in verdict.faults), verdict.faults


def test_every_switch_that_a_part_knows_is_shown_there_and_every_part_that_knows_one_in_every_run() -> None:
    shown = {(each.programme.name, each.switch) for each in ALL}
    known = {(programme.name, switch) for programme in PROGRAMMES for switch in programme.sabotages
             if programme.name not in BREAKS_OF_THEIR_OWN}
    assert shown == known
    assert {switch for _, switch in shown} == set(SWITCHES)
    assert {each.switch for each in ALL if each.in_every_run} >= NAMED
    assert {each.programme.name for each in ALL if each.in_every_run} == {name for name, _ in known} - {*WHEN_ASKED_FOR}
