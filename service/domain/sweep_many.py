"""Many sets of prices at once: the sweep over a block of them, each level's matrix times a block instead of a vector.

Rules that always hold: each set's figures are those of its own sweep, to the last bit that is believed; a pool below
zero, a missing price or prices that floats cannot hold are that set's alone.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import numpy as np

from service.domain.denominators import Floats
from service.domain.sweep import CompiledSweep, SweptFigures, exact_material, pools_below_zero, sweep
from service.domain.unit_prices import UnitPrices

BLOCK = 16
"""So many sets keep a level's block within the processor's cache."""


def sweep_many(compiled: CompiledSweep, prices: Iterable[UnitPrices]) -> Iterator[SweptFigures]:
    """The material of every node at each set of prices, in their order; one block is held at a time."""
    sets = iter(prices)
    while block := list(islice(sets, BLOCK)):
        if compiled.material.in_range and all(one.in_range() for one in block):
            yield from _swept(compiled, block)
        else:
            yield from (sweep(compiled, one) for one in block)


def _swept(compiled: CompiledSweep, block: Sequence[UnitPrices]) -> Iterator[SweptFigures]:
    channel = compiled.material
    values = np.empty((len(channel.own), len(block)))
    values[:] = channel.own[:, np.newaxis]
    for at, prices in enumerate(block):
        values[:compiled.shape.prices, at] = prices.values
    exact = [exact_material(compiled, prices) for prices in block]
    below_zero: list[list[int]] = [[] for _ in block]
    for level, pools in zip(channel.levels, compiled.pools, strict=True):
        level.add_to(values)
        for at in _not_clearly_above(compiled, values, pools):
            fallen = pools_below_zero(compiled, values[:, at], pools, True, exact[at])
            values[fallen, at] = np.nan
            below_zero[at].extend(fallen.tolist())
    for at, prices in enumerate(block):
        yield SweptFigures(compiled, prices, values[:, at], tuple(below_zero[at]), True, exact[at])


def _not_clearly_above(compiled: CompiledSweep, values: Floats, pools: "np.ndarray") -> list[int]:
    """The sets in which a pool may be below zero."""
    if not pools.size:
        return []
    material = values[pools].T
    clear = (material > compiled.material.bound(material, pools)) | np.isnan(material)
    return np.flatnonzero(~clear.all(axis=1)).tolist()
