"""What is supposed and moves nothing, so that nobody takes silence for safety: a price that another outranks, a
percentage on prices that decide nowhere, a breakdown that is not in use."""

from collections.abc import Iterable, Iterator, Sequence

from service.domain.kitchen import KitchenOnDay
from service.domain.price import Price
from service.domain.price_in_force import deciding_price
from service.domain.scenario import NewPrice, NewVersion, PriceMove, Supposed
from service.use_cases.documents import Document
from service.use_cases.snapshot import Snapshot


def what_moves_nothing(after: Snapshot, revision: int, changes: Sequence[Supposed]) -> list[Document]:
    """The changes, in their order, that cannot move a figure; `revision` is the latest that is recorded."""
    kitchen = after.kitchen
    found: list[Document] = []
    for change in changes:
        if isinstance(change, NewPrice):
            found += _of_price(change, kitchen, revision)
        elif isinstance(change, PriceMove):
            found += _of_move(change, kitchen, revision)
        elif change.kind == "breakdown" and not change.record.in_use:
            found.append(_not_in_use(change, kitchen))
    return found


def _of_price(change: NewPrice, kitchen: KitchenOnDay, revision: int) -> Iterator[Document]:
    """Another price decides, by contract or as the preferred supplier's."""
    decides = _decides(change.ingredient, kitchen)
    if decides is not None and decides.made.revision <= revision:
        until = "" if decides.effective_to is None else f" until {decides.effective_to}"
        yield _finding("price_does_not_decide", "ingredient", change.ingredient,
                       f"A price of {change.supplier} for {change.ingredient} would move nothing: that of "
                       f"{decides.supplier} ({decides.id}) decides{until}.")


def _of_move(change: PriceMove, kitchen: KitchenOnDay, revision: int) -> Iterator[Document]:
    """Suppliers whose prices decide for none of the ingredients that are meant."""
    if not change.suppliers:
        return
    meant: Iterable[str] = change.ingredients or kitchen.prices
    deciding = {decides.supplier for code in meant if code in kitchen.ingredients
                and (not change.kinds or kitchen.ingredients[code].kind in change.kinds)
                and (decides := _decides(code, kitchen)) is not None and decides.made.revision > revision}
    for supplier in sorted(change.suppliers - deciding):
        yield _finding("price_does_not_decide", "supplier", supplier,
                       f"Other prices of {supplier} would move nothing: for none of the ingredients meant does a price "
                       "of theirs decide.")


def _decides(ingredient: str, kitchen: KitchenOnDay) -> Price | None:
    found = deciding_price(kitchen.ingredients[ingredient], kitchen.prices.get(ingredient, ()), kitchen.day, None)
    return found if isinstance(found, Price) else None


def _not_in_use(change: NewVersion, kitchen: KitchenOnDay) -> Document:
    instead = [code for code, plan in sorted(kitchen.breakdowns.items())
               if plan.in_use and plan.input == change.record.input]
    ask = f": ask of {' or '.join(instead)}" if instead else ""
    return _finding("not_in_use", "breakdown", change.code,
                    f"The breakdown {change.code} is not in use on {kitchen.day}, so that other yields or another "
                    f"method of it move nothing{ask}.")


def _finding(code: str, kind: str, record: str, detail: str) -> Document:
    return {"code": code, "kind": kind, "record": record, "detail": detail}
