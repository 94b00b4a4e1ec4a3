"""The flow of a primal's money as a document: its places, its streams, and in words what the picture shows."""

from fractions import Fraction

from service.domain.breakdown import Breakdown, Role
from service.domain.chains import first_of
from service.domain.currency import minor_unit
from service.domain.kitchen import KitchenOnDay
from service.domain.money_flow import CHARGES, LABOUR, LEFT, LOST, REST, UNACCOUNTED, USED, MoneyFlow, money_flow
from service.domain.network import NIL, Key
from service.domain.publication import cost_in_words, in_words, percent_in_words
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot

MOST_DISHES = 14
_NAMES = {LEFT: "No dish takes it", REST: "Other dishes", (USED, ""): "Paid for what is used",
          (LOST, ""): "Paid for loss", (UNACCOUNTED, ""): "Paid for what is unaccounted for"}


def money_flow_document(snapshot: Snapshot, breakdown: Breakdown) -> Document:
    """The flow of the whole chain that a breakdown stands in, from what was bought."""
    kitchen, first = snapshot.kitchen, first_of(breakdown, snapshot.kitchen)
    flow = money_flow(first, kitchen, snapshot.costing)
    named, shown = _Names(kitchen, first), flow.gathered(MOST_DISHES)
    return {
        "with_labour": flow.with_labour, "gaps": [gap.detail for gap in flow.gaps], "in_use": first.in_use,
        "breakdown": first.name, "spent": cost_in_words(flow.spent), "in_words": _in_words(flow, named),
        "places": [_place(place, shown, named) for place in shown.places],
        "streams": [{
            "source": named.id_of(stream.source), "target": named.id_of(stream.target),
            "from": named.of(stream.source), "to": named.of(stream.target), "money": cost_in_words(stream.money),
            "percent": percent_in_words(stream.money / flow.spent * 100), "kg": cost_in_words(stream.kg),
        } for stream in shown.streams]}


def _place(place: Key, flow: MoneyFlow, named: "_Names") -> Document:
    money = flow.into(place) or flow.out_of(place)
    return {"id": named.id_of(place), "kind": named.kind(place), "name": named.of(place),
            "money": cost_in_words(money), "shown": in_words(money, minor_unit(named.currency)),
            "percent": percent_in_words(money / flow.spent * 100)}


class _Names:
    """What places are called."""

    def __init__(self, kitchen: KitchenOnDay, first: Breakdown) -> None:
        self._kitchen, self.currency = kitchen, kitchen.settings.currency
        every = [first, *(each for _, each in sorted(kitchen.breakdowns.items()) if each.in_use)]
        self._outputs = {output.cut: output for each in reversed(every) for output in each.cuts}

    @staticmethod
    def id_of(place: Key) -> str:
        return f"{place[0]}:{place[1]}"

    def kind(self, place: Key) -> str:
        """Of a cut its role."""
        kind, code = place
        return self._outputs[code].role.value if kind in ("cut", Role.BY_PRODUCT) else kind

    def of(self, place: Key) -> str:
        kind, code = place
        if place in _NAMES:
            return _NAMES[place]
        if kind == "price":
            return "Price"
        if kind == "primal":
            return self._kitchen.ingredients[code].name
        if kind == "dish":
            return self._kitchen.dishes[code].name
        if kind in (LABOUR, CHARGES):
            return self._added(kind, self._kitchen.breakdowns[code])
        return self._outputs[code].name

    def _added(self, kind: str, breakdown: Breakdown) -> str:
        what = "Labour" if kind == LABOUR else "Packaging, disposal"
        if breakdown.input.cut is None:
            return what
        return f"{what}: {self._outputs[breakdown.input.cut].name}"


def _in_words(flow: MoneyFlow, named: _Names) -> str:
    """The picture in a few sentences; nothing where nothing is drawn."""
    if not flow.streams:
        return ""
    currency, places = named.currency, minor_unit(named.currency)

    def amount(money: Fraction) -> str:
        return f"{in_words(money, places)} {currency}"

    cuts = sorted((place for place in flow.places if named.kind(place) in (Role.MAIN, Role.TRIM)
                   and any(stream.source[0] == "primal" for stream in flow.streams if stream.target == place)),
                  key=flow.into, reverse=True)
    lost, left = flow.into((LOST, "")) + flow.into((UNACCOUNTED, "")), flow.into(LEFT)
    price = sum((stream.money for stream in flow.streams if stream.source[0] == "price"), NIL)
    said = [f"A kg costs {amount(price)}, and {amount(flow.spent)} with what is spent on breaking it down."]
    if lost:
        said.append(f"{amount(lost)} of the price is paid for loss and for what is unaccounted for: the cuts carry it.")
    if cuts:
        most = [f"{named.of(cut)} with {amount(flow.into(cut))}" for cut in cuts[:3]]
        said.append(f"Most is carried by {', '.join(most[:-1])}{' and ' if most[:-1] else ''}{most[-1]}.")
    said.append(f"{amount(left)} goes into what no dish takes." if left else "Dishes take some of everything.")
    return " ".join(said)
