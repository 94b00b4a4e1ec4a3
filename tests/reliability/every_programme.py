"""Every part of the breaking programme, in the order of the table in DEVELOPERS.md."""

from tests.reliability import (
    bad_clients,
    clocks,
    conflicts,
    exact_figures,
    fresh_reads,
    fuzz_readers,
    fuzzed,
    graph,
    imports,
    json_torture,
    keys,
    kills,
    model,
    one_effect,
    paging,
    power_cut,
    scopes,
)
from tests.reliability.programme import Programme

PROGRAMMES: tuple[Programme, ...] = (
    exact_figures.PROGRAMME,
    conflicts.PROGRAMME,
    one_effect.PROGRAMME,
    model.PROGRAMME,
    graph.PROGRAMME,
    fresh_reads.PROGRAMME,
    imports.PROGRAMME,
    kills.PROGRAMME,
    power_cut.PROGRAMME,
    scopes.PROGRAMME,
    keys.PROGRAMME,
    paging.PROGRAMME,
    bad_clients.PROGRAMME,
    clocks.PROGRAMME,
    fuzz_readers.PROGRAMME,
    fuzzed.PROGRAMME,
    json_torture.PROGRAMME,
)
