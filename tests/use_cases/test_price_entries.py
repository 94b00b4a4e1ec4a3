"""An entry of the ledger says of a price what the price's own document says, but for its name: nothing is left out."""

from datetime import date

from service.use_cases.documents import price_document, price_entry
from tests.builders import a_price


def test_the_entry_of_a_price_is_its_document_without_the_name() -> None:
    for price in (a_price("14.20", reference="List 12"), a_price("113.60", pack_quantity="8", supplier="harrow",
                                                                effective_to=date(2026, 12, 31))):
        named = price_document(price)
        assert price_entry(price) == {name: value for name, value in named.items() if name not in ("id", "revision")}
