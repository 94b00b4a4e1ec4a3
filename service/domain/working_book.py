"""What a working is written from: the day's records, their costs, the versions they rest on, and the steps so far.

Material and labour are kept apart: each is a channel of its own, with steps of its own. The labour of what costs no
labour is not told. What is asked of the book (prices, units, yields) is written once and referred to.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from service.domain.as_purchased import Measure, makers
from service.domain.breakdown import Breakdown, Output
from service.domain.cascade import Costing
from service.domain.compile_lines import measures_of
from service.domain.findings import Gap
from service.domain.kitchen import Kitchen, KitchenOnDay
from service.domain.labour import NO_LABOUR_RATE
from service.domain.network import Key
from service.domain.records_used import RecordsUsed
from service.domain.working import NIL, How, Operation, Part, RecordUsed, StepKey, Steps
from service.domain.yields import WeighedTest, Yields, weighed, yields_of

MATERIAL, LABOUR = "material", "labour"
CHANNELS = (MATERIAL, LABOUR)


@dataclass(frozen=True)
class WorkingBook:
    """The book of one kitchen on one day. Its steps grow; all else stands."""

    kitchen: KitchenOnDay
    costing: Costing
    records: RecordsUsed
    steps: Steps
    made: dict[str, tuple[Breakdown, Output]]
    measures: dict[Key, Measure]
    _yields: dict[str, Yields] = field(default_factory=dict)
    _weighed: dict[str, tuple[WeighedTest, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, recorded: Kitchen, kitchen: KitchenOnDay, costing: Costing) -> "WorkingBook":
        """An empty book. `kitchen` is what `recorded` is on the day, `costing` its costs."""
        return cls(kitchen, costing, RecordsUsed(recorded, kitchen.day), Steps(), makers(kitchen),
                   measures_of(kitchen))

    @property
    def currency(self) -> str:
        return self.kitchen.settings.currency

    def money_per(self, unit: str) -> str:
        return f"{self.currency} per {unit}"

    def name(self, key: Key) -> str:
        """What the sheet calls a record; a cut by its output's name."""
        kind, code = key
        if kind != "cut":
            return self.records.name(kind, code)
        return called(self.made[code][1]) if code in self.made else code

    def yields(self, breakdown: Breakdown) -> Yields:
        """The breakdown's yields on the day, worked out once."""
        if breakdown.code not in self._yields:
            tests = self.kitchen.yield_tests.get(breakdown.code, ())
            self._yields[breakdown.code] = yields_of(breakdown, tests, self.kitchen.day)
        return self._yields[breakdown.code]

    def weighed(self, breakdown: Breakdown) -> tuple[WeighedTest, ...]:
        """The weights, in kg, of the breakdown's tests that count, worked out once for all its outputs."""
        if breakdown.code not in self._weighed:
            self._weighed[breakdown.code] = tuple(weighed(test) for test in self.yields(breakdown).counting)
        return self._weighed[breakdown.code]

    def below(self, starts: Iterable[Key]) -> list[Key]:
        """All that the starts' costs rest on, themselves included; what is used before its users."""
        network = self.costing.network
        waiting = [network.index[key] for key in starts if key in network.index]
        found = set(waiting)
        while waiting:
            for edge in network.nodes[waiting.pop()].edges:
                if edge.child not in found:
                    found.add(edge.child)
                    waiting.append(edge.child)
        return [network.nodes[index].key for index in sorted(found)]

    def own_gaps(self, key: Key, channel: str) -> tuple[Gap, ...]:
        """What a record itself lacks in a channel."""
        node = self.costing.network.nodes[self.costing.network.index[key]]
        return node.material_gaps if channel == MATERIAL else node.labour_gaps

    def costs_labour(self, key: Key) -> bool:
        """Whether its labour is worth telling: it costs some, or is not known."""
        return key in self.costing.network.index and self.costing.labour(key) != NIL

    def cost_part(self, key: Key, channel: str, how: How) -> Part:
        """What a unit of something costs, as a number that goes into a step; not known where it has no step."""
        step = (channel, *key)
        if step in self.steps:
            return self.steps.part(step, how)
        known = NIL if channel == LABOUR and key in self.costing.network.index and not self.costs_labour(key) else None
        return Part(f"{channel} of {self.name(key)}", known, how)

    def unit_of(self, key: Key) -> str:
        """What the costs of something are per: kg, l or each."""
        measure = self.measures.get(key)
        return "kg" if measure is None else measure.unit

    def told(self, steps: Iterable[StepKey]) -> set[Gap]:
        """The gaps that these steps tell."""
        return {gap for step in steps for gap in self.steps[step].gaps}

    def labour_rate(self) -> StepKey:
        """The kitchen's labour rate, as a step of its own: it is the settings'."""
        key = ("settings", "labour_rate_per_hour")
        if key not in self.steps:
            rate = self.kitchen.settings.labour_rate_per_hour
            value = None if rate is None else Fraction(rate)
            self.steps.add(key, "Labour rate", self.records.settings(), "as recorded, fully loaded", Operation.GIVEN,
                           [Part("labour rate", value, How.TAKE, self.money_per("hour"))], self.money_per("hour"),
                           () if rate is not None else (NO_LABOUR_RATE,))
        return key

    def labour(self, key: StepKey, what: str, minutes: Fraction, per: str, record: RecordUsed) -> StepKey:
        """What so many minutes cost: minutes x rate / 60."""
        parts = [Part("minutes", minutes, How.MULTIPLY, "min"), self.steps.part(self.labour_rate(), How.MULTIPLY),
                 Part("minutes in an hour", Fraction(60), How.DIVIDE, "min")]
        return self.steps.add(key, what, record, "minutes x labour rate / 60", Operation.PRODUCT, parts,
                              f"{self.currency}{per}")

    def rounded(self, name: str, key: StepKey, places: int, record: RecordUsed) -> StepKey:
        """The figure as published: the last step of its working."""
        of = self.steps[key]
        return self.steps.add(("published", name), f"{name.replace('_', ' ').capitalize()}, as published", record,
                              f"rounded once, half away from zero, to {places} decimals", Operation.ROUND,
                              [self.steps.part(key, How.TAKE), Part("decimals", Fraction(places), How.BY)], of.unit)


def called(output: Output) -> str:
    """What the sheet calls an output: its name, or its code where it has none."""
    return output.name or output.cut
