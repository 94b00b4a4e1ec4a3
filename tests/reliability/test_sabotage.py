"""Each switch that breaks the service on purpose turns a part of the programme red, for the right reason."""

from pathlib import Path

import pytest

from tests.reliability import (
    alike,
    backups,
    conflicts,
    exact_figures,
    keys,
    kills,
    limits,
    model,
    one_effect,
    paging,
    power_cut,
    scopes,
    tampering,
)
from tests.reliability.every_programme import PROGRAMMES
from tests.reliability.programme import Programme
from tests.reliability.sabotage import SWITCHES
from tests.reliability.short_form import needs_a_forgetful_disk, short_form

SHOWN: list[tuple[str, Programme, str, int, str]] = [
    ("unsafe_transactions", conflicts.PROGRAMME, "sqlite", 300, "was answered 50"),
    ("stale_decisions", conflicts.PROGRAMME, "postgresql", 60, ""),
    ("half_commit", kills.PROGRAMME, "sqlite", 6, "prices in the table and not in the entries"),
    ("lost_write", one_effect.PROGRAMME, "sqlite", 60, ""),
    ("no_idempotency", one_effect.PROGRAMME, "postgresql", 30, "is there twice"),
    ("lost_bump", model.PROGRAMME, "sqlite", 100, "the figures are of revision"),
    ("no_if_match", model.PROGRAMME, "sqlite", 200, "where 412 is right"),
    ("no_loop_check", model.PROGRAMME, "sqlite", 300, "where 4"),
    ("no_scope_check", scopes.PROGRAMME, "sqlite", 3, "DELETE /v1/breakdowns/{code} with costs:read: "),
    ("one_scope_changed", scopes.PROGRAMME, "sqlite", 3, "DELETE /v1/breakdowns/{code} with costs:read: "),
    ("expired_keys_open", keys.PROGRAMME, "sqlite", 8, "was answered with 200"),
    ("keys_found_by_their_id", keys.PROGRAMME, "sqlite", 8, "was answered with 200"),
    ("unpinned_pages", paging.PROGRAMME, "sqlite", 60, "a page is of revision"),
    ("unsigned_cursors", paging.PROGRAMME, "sqlite", 1, "was answered with 200"),
    ("last_digits", alike.PROGRAMME, "postgresql", 150, ""),
    ("backup_without_one_view", backups.PROGRAMME, "sqlite", 3, ""),
    ("chain_not_hashed", tampering.PROGRAMME, "sqlite", 42, "swapped"),
    ("rows_not_compared", tampering.PROGRAMME, "sqlite", 42, "told was []"),
    ("allowances_apart", limits.PROGRAMME, "sqlite", 300, "where 30 are allowed"),
    ("float_rounding", exact_figures.PROGRAMME, "sqlite", 1, "exactly"),
]
"""The switch, a part that turns red for it, on which engine, within how many cases, and what it says then."""
BREAKS_OF_THEIR_OWN = ("quiet_logs", "graceful_stop")
"""Parts that break more than Python can be told to: each is shown red in its own test."""
ON_A_DISK = ("skipped_fsync", power_cut.PROGRAMME, "sqlite", 2, "is not there")


@pytest.mark.parametrize(("switch", "programme", "engine", "cases", "fault"), [
    *(pytest.param(*each, id=each[0]) for each in SHOWN),
    pytest.param(*ON_A_DISK, id=ON_A_DISK[0], marks=needs_a_forgetful_disk)])
def test_a_broken_service_is_found_out(request: pytest.FixtureRequest, tmp_path: Path, switch: str,
                                       programme: Programme, engine: str, cases: int, fault: str) -> None:
    url = request.getfixturevalue("sqlite_url" if engine == "sqlite" else "postgres_url")
    verdict = short_form(programme, url, tmp_path, cases, switch)
    assert verdict.faults, f"{programme.name} did not see {switch}: {verdict}"
    assert any(fault in each for each in verdict.faults), verdict.faults


def test_every_switch_is_shown_and_every_part_knows_its_own() -> None:
    shown = {(programme.name, switch) for switch, programme, *_ in (*SHOWN, ON_A_DISK)}
    known = {(programme.name, switch) for programme in PROGRAMMES for switch in programme.sabotages
             if programme.name not in BREAKS_OF_THEIR_OWN}
    assert shown <= known
    assert {switch for _, switch in known} <= set(SWITCHES)
    assert {switch for _, switch in shown} == set(SWITCHES)
