"""Withdraw a wrong price: it stays in the history with the reason, and is no longer in force on any day."""

from dataclasses import replace

from service.domain.errors import NotFound, WrongValue
from service.domain.price import Withdrawal
from service.use_cases.answered_once import Receipt, answered_once
from service.use_cases.closed_period import period_fault
from service.use_cases.documents import Document, price_document
from service.use_cases.ports import Asker, Entry, Ledger, WriteWork


def withdraw_price(ledger: Ledger, ingredient: str, price_id: str, reason: str, asker: Asker) -> Receipt:
    """Withdraw one price of an ingredient.

    Raises:  NotFound, WrongValue when it is withdrawn already, PeriodClosed when it held on a closed day.
    """

    def effect(work: WriteWork) -> Document:
        kitchen = work.kitchen()
        prices = kitchen.prices.get(ingredient, ())
        price = next((price for price in prices if price.id == price_id), None)
        if price is None:
            raise NotFound(f"Ingredient {ingredient!r} has no price {price_id!r}.")
        if price.withdrawn is not None:
            raise WrongValue(f"Price {price_id!r} was withdrawn at revision {price.withdrawn.made.revision} already.")
        closed = period_fault(kitchen, price.effective_from, f"Withdrawing price {price_id!r}",
                              mend="record the right price from {next_day} on instead")
        if closed is not None:
            raise closed
        entry = Entry("withdraw_price", "price", ingredient, {"id": price_id, "reason": reason})
        withdrawn = replace(price, withdrawn=Withdrawal(work.next_mark(entry), reason))
        work.withdraw_price(withdrawn)
        return price_document(withdrawn)

    return answered_once(ledger, asker, effect)
