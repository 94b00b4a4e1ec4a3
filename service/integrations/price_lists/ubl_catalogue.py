"""A UBL Catalogue as a price list.

Each price of a line is a row: steps of quantity, regions and periods of one item give several. Periods nest: a price's
own, else the line's, else the list's (which the list keeps, so that whoever proposes it can ask for a later start).

Source: Peppol BIS Catalogue 3, transaction T19; its terms are named by their paths under /Catalogue.
"""

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import chain

from service.domain.errors import FileTooLarge
from service.domain.price_list import FileFormat, PriceList, PriceRow
from service.domain.supplier_item import PACK, Pack
from service.integrations.price_lists.table_reading import MOST_ROWS
from service.integrations.price_lists.ubl_tree import Node, attribute, first, text_at, under
from service.integrations.price_lists.ubl_values import LineReader, date_of, gtin_of, measure_of, unit_code
from service.integrations.price_lists.unit_words import Measure

_PRICE = "cac:Price/cbc:PriceAmount"
_BASE = "cac:Price/cbc:BaseQuantity"
_FACTOR = "cac:Price/cbc:OrderableUnitFactorRate"
_SUPPLIER = ("cac:SellerSupplierParty/cac:Party/cac:PartyName/cbc:Name",
             "cac:SellerSupplierParty/cac:Party/cac:PartyLegalEntity/cbc:RegistrationName",
             "cac:ProviderParty/cac:PartyName/cbc:Name", "cac:ProviderParty/cac:PartyLegalEntity/cbc:RegistrationName")


def read_catalogue(head: Node, begin: Node, more: Iterator[Node]) -> PriceList:
    """What a catalogue says. `head` holds what stands before its lines, `begin` is the first of them.

    Raises:  FileTooLarge, and what reading on raises.
    """
    action = text_at(head, "cbc:ActionCode").casefold()
    rows: list[PriceRow] = []
    complete = action not in ("update", "delete")
    for line in chain((begin,), more):
        of_line = text_at(line, "cbc:ActionCode").casefold()
        if action != "replace" and of_line in ("update", "delete"):
            complete = False
        ended = action == "delete" or (of_line == "delete" and action != "replace")
        rows += [row._replace(number=len(rows) + count) for count, row in enumerate(_rows(line, ended), 1)]
        if len(rows) > MOST_ROWS:
            raise FileTooLarge(f"The catalogue has more than {MOST_ROWS:,} prices. Split it.", limit=MOST_ROWS,
                               counted="rows")
    currencies = {row.currency for row in rows} - {""}
    version = text_at(head, "cbc:VersionID")
    return PriceList(
        format=FileFormat.CATALOGUE, rows=tuple(rows), complete=complete,
        reference=text_at(head, "cbc:ID") + (f" version {version}" if version else ""),
        supplier_name=text_at(head, *_SUPPLIER),
        currency=currencies.pop() if len(currencies) == 1 else "",
        issued_on=date_of(text_at(head, "cbc:IssueDate")),
        starts=date_of(text_at(head, "cac:ValidityPeriod/cbc:StartDate")),
        ends=date_of(text_at(head, "cac:ValidityPeriod/cbc:EndDate")))


def _rows(line: Node, ended: bool) -> Iterable[PriceRow]:
    """A line's rows: one for each of its prices, or one that says why there is none."""
    reader = LineReader(line)
    item = first(line, "cac:Item")
    place = f"line {reader.text('cbc:ID') or '(without a number)'}"
    starts, ends = (reader.day(f"cac:LineValidityPeriod/cbc:{which}") for which in ("StartDate", "EndDate"))
    row = PriceRow(0, place, reader.text("cac:Item/cac:SellersItemIdentification/cbc:ID"), gtin_of(item),
                   reader.text("cac:Item/cbc:Name", "cac:Item/cbc:Description"), pack=_pack(reader), starts=starts,
                   ends=ends, ended=ended)
    if ended:
        return [row._replace(faults=tuple(reader.faults))]
    priced = [each for each in under(line, "cac:RequiredItemLocationQuantity") if first(each, _PRICE)]
    if not priced:
        reader.blame(_PRICE, "The line has no price: give one, or send the line with the action Delete.")
        return [row._replace(faults=tuple(reader.faults))]
    several = len(priced) > 1
    return [each for count, location in enumerate(priced, 1) for each in _priced(
        row._replace(place=place + _which(count, location)) if several else row, reader, location)]


def _which(count: int, location: Node) -> str:
    """Which of a line's prices a row is, with its region where it holds in one alone."""
    parts = ("cbc:CityName", "cbc:CountrySubentity", "cac:Country/cbc:IdentificationCode")
    region = ", ".join(filter(None, (text_at(location, f"cac:ApplicableTerritoryAddress/{part}") for part in parts)))
    return f", price {count}" + (f" ({region})" if region else "")


def _priced(row: PriceRow, of_line: LineReader, location: Node) -> Iterator[PriceRow]:
    """A price's rows: one for each of its periods, or one."""
    periods: list[Node | None] = [*under(location, "cac:Price/cac:ValidityPeriod")]
    for period in periods or [None]:
        reader = LineReader(of_line.line, list(of_line.faults))
        own = [None if period is None else reader.day(f"cbc:{which}", period) for which in ("StartDate", "EndDate")]
        starts, ends = own[0] or row.starts, own[1] or row.ends
        if starts and ends and ends < starts:
            reader.blame("cac:ValidityPeriod", f"The price ends on {ends}, before it starts on {starts}.")
        yield _with_price(row._replace(starts=starts, ends=ends), reader, location)


def _with_price(row: PriceRow, reader: LineReader, location: Node) -> PriceRow:
    price, base = first(location, _PRICE), first(location, _BASE)
    amount, quantity = reader.number(_PRICE, location), reader.number(_BASE, location)
    if amount is not None and amount < 0:
        reader.blame(_PRICE, "The price is below zero (rule PEPPOL-T19-R015).")
    if base is not None and quantity is not None and quantity <= 0:
        reader.blame(_BASE, "The base quantity is not above zero.")
        quantity = None
    orderable = reader.text("cbc:OrderableUnit")
    code = unit_code(base) or orderable
    amount = _for_orderable(reader, location, amount, code, orderable)
    measure = measure_of(code) or Measure(Decimal(1), "")
    at_least = reader.number("cbc:MinimumQuantity", location)
    return row._replace(
        amount=amount, amount_text="" if price is None else str(price[1]).strip(),
        currency=attribute(price, "currencyID"), per_quantity=(quantity or Decimal(1)) * measure.quantity,
        per_unit=measure.unit or None, per_unit_text=code, at_least=at_least, faults=tuple(reader.faults))


def _for_orderable(reader: LineReader, location: Node, amount: Decimal | None, code: str,
                   orderable: str) -> Decimal | None:
    """The price for as many orderable units, where it is given for another kind of package.

    Packages have no size of their own, so the factor that the document must give then is the only bridge.
    """
    measure = measure_of(code)
    if not orderable or code == orderable or measure is None or measure.unit != PACK:
        return amount
    factor = reader.number(_FACTOR, location)
    if factor is None or factor <= 0:
        reader.blame(_FACTOR, f"The price is for {code} and the item is ordered in {orderable}: the factor between "
                              "them is missing.")
        return amount
    return None if amount is None else amount * factor


def _pack(reader: LineReader) -> Pack | None:
    """What an orderable unit holds: so many consumable units of so much each.

    Example: a case (XCS) of PackSizeNumeric 2 and ContentUnitQuantity 5 KGM is 2 x 5 kg.
    """
    orderable = reader.text("cbc:OrderableUnit")
    package = measure_of(orderable) if orderable else Measure(Decimal(1), PACK)
    holding = first(reader.line, "cbc:ContentUnitQuantity")
    content = measure_of(unit_code(holding))
    if package is None or package.unit != PACK or content is None or content.unit == PACK:
        return None
    quantity = reader.number("cbc:ContentUnitQuantity")
    sizes = [reader.number(path) for path in ("cac:Item/cbc:PackSizeNumeric", "cac:Item/cbc:PackQuantity")]
    count = next((size for size in sizes if size is not None), Decimal(1))
    if quantity is None or quantity <= 0 or count <= 0:
        reader.blame("cbc:ContentUnitQuantity", "What a pack holds is not above zero.")
        return None
    return Pack(package.package or PACK, count, quantity * content.quantity, content.unit)
