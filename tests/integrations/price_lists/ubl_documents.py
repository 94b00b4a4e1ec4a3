"""UBL documents of invented parties, by the paths of the Peppol BIS Catalogue 3 (transaction T19) and Billing 3.0.

Their elements and the order in which they stand were compared with the example files that OpenPeppol publishes beside
its structures (poacc-upgrade-3: BIS3_Catalogue_Full_Example and the catalogues without response; peppol-bis-invoice-3:
base-example and Allowance-example). Nothing of those is copied here but the names of the elements.
"""

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

_SPACES = "".join(f' xmlns:{prefix}="urn:oasis:names:specification:ubl:schema:xsd:{name}-2"' for prefix, name in (
    ("cac", "CommonAggregateComponents"), ("cbc", "CommonBasicComponents"),
    ("ext", "CommonExtensionComponents")))


def element(name: str, *inside: str, **attributes: str) -> str:
    """An element: text when it has no child. `element("cbc:ID", "1", schemeID="0160")`."""
    said = "".join(f" {each}={quoteattr(value)}" for each, value in attributes.items())
    body = "".join(each if each.startswith("<") else escape(each) for each in inside)
    return f"<{name}{said}>{body}</{name}>"


def cbc(name: str, text: str, **attributes: str) -> str:
    return element(f"cbc:{name}", text, **attributes)


def cac(name: str, *inside: str) -> str:
    return element(f"cac:{name}", *inside)


def document(root: str, *inside: str, declaration: str = '<?xml version="1.0" encoding="UTF-8"?>') -> str:
    """A document with that root, in its own namespace of UBL 2.1."""
    return (f'{declaration}<{root} xmlns="urn:oasis:names:specification:ubl:schema:xsd:{root}-2"{_SPACES}>'
            f"{''.join(inside)}</{root}>")


def period(name: str, start: str = "", end: str = "") -> str:
    return cac(name, *(cbc(which, day) for which, day in (("StartDate", start), ("EndDate", end)) if day))


def party(name: str) -> str:
    return cac("Party", cbc("EndpointID", "7300010000001", schemeID="0088"), cac("PartyName", cbc("Name", name)),
               cac("PartyLegalEntity", cbc("RegistrationName", f"{name} Ltd")))


def an_item(code: str = "10-2345", name: str = "Beef topside", gtin: str = "", before: str = "") -> str:
    """An item; `before` is what stands before its name (a pack's quantity and size)."""
    return cac("Item", cbc("Description", f"{name}, chilled"), before, cbc("Name", name),
               cac("SellersItemIdentification", cbc("ID", code)) if code else "",
               cac("StandardItemIdentification", cbc("ID", gtin, schemeID="0160")) if gtin else "",
               cac("CommodityClassification", cbc("ItemClassificationCode", "50111511", listID="MP")))


def a_price(amount: str = "142.00", base: str = "", unit: str = "", periods: Iterable[str] = (), least: str = "",
            city: str = "", factor: str = "", currency: str = "EUR") -> str:
    """A catalogue line's price at a place and for a quantity."""
    return cac(
        "RequiredItemLocationQuantity",
        cbc("MinimumQuantity", least, unitCode="XCS") if least else "",
        cac("ApplicableTerritoryAddress", cbc("CityName", city), cac("Country", cbc("IdentificationCode", "IE")))
        if city else "",
        cac("Price", cbc("PriceAmount", amount, currencyID=currency),
            cbc("BaseQuantity", base, **({"unitCode": unit} if unit else {})) if base else "",
            cbc("OrderableUnitFactorRate", factor) if factor else "", *periods))


def a_line(*prices: str, number: str = "1", action: str = "", orderable: str = "XCS",
           content: tuple[str, str] | None = None, valid: str = "", item: str = "") -> str:
    """A catalogue's line."""
    return cac("CatalogueLine", cbc("ID", number), cbc("ActionCode", action) if action else "",
               cbc("OrderableUnit", orderable) if orderable else "",
               cbc("ContentUnitQuantity", content[0], unitCode=content[1]) if content else "", valid, *prices,
               item or an_item())


def a_catalogue(*lines: str, action: str = "", valid: str = "", **how: str) -> bytes:
    """A catalogue of an invented supplier."""
    return document(
        "Catalogue", cbc("CustomizationID", "urn:fdc:peppol.eu:poacc:trns:catalogue:3"),
        cbc("ProfileID", "urn:fdc:peppol.eu:poacc:bis:catalogue_wo_response:3"), cbc("ID", "List 12"),
        cbc("ActionCode", action) if action else "", cbc("Name", "Winter list"), cbc("IssueDate", "2026-11-02"),
        cbc("VersionID", "2"), valid,
        cac("ProviderParty", cac("PartyLegalEntity", cbc("RegistrationName", "Depot Ltd"))),
        cac("SellerSupplierParty", party("Fenmoor Meats")), *lines, **how).encode()


def an_allowance(amount: str, charge: bool = False, reason: str = "Discount", base: str = "") -> str:
    """An allowance, or a charge, of a document, a line or a price."""
    return cac("AllowanceCharge", cbc("ChargeIndicator", "true" if charge else "false"),
               cbc("AllowanceChargeReason", reason) if reason else "", cbc("Amount", amount, currencyID="EUR"),
               cbc("BaseAmount", base, currencyID="EUR") if base else "")


def an_invoice_line(quantity: str = "12.340", unit: str = "KGM", total: str = "175.23", price: str = "14.20",
                    base: str = "", base_unit: str = "", allowances: str = "", discount: str = "", starts: str = "",
                    number: str = "1", item: str = "") -> str:
    """An invoice's line: sold by weight unless it says otherwise."""
    return cac("InvoiceLine", cbc("ID", number), cbc("InvoicedQuantity", quantity, unitCode=unit),
               cbc("LineExtensionAmount", total, currencyID="EUR"), period("InvoicePeriod", starts) if starts else "",
               allowances, item or an_item(),
               cac("Price", cbc("PriceAmount", price, currencyID="EUR"),
                   cbc("BaseQuantity", base, **({"unitCode": base_unit} if base_unit else {})) if base else "",
                   discount))


def an_invoice(*lines: str, kind: str = "380", delivered: str = "2026-11-28", allowances: str = "",
               root: str = "Invoice", **how: str) -> bytes:
    """An invoice of an invented supplier to an invented kitchen."""
    return document(
        root, cbc("CustomizationID", "urn:cen.eu:en16931:2017#compliant#urn:fdc:peppol.eu:2017:poacc:billing:3.0"),
        cbc("ProfileID", "urn:fdc:peppol.eu:2017:poacc:billing:01:1.0"), cbc("ID", "2026-1107"),
        cbc("IssueDate", "2026-11-30"), cbc("InvoiceTypeCode", kind), cbc("DocumentCurrencyCode", "EUR"),
        cac("AccountingSupplierParty", party("Fenmoor Meats")), cac("AccountingCustomerParty", party("The Tall Oven")),
        cac("Delivery", cbc("ActualDeliveryDate", delivered)) if delivered else "", allowances,
        cac("LegalMonetaryTotal", cbc("LineExtensionAmount", "175.23", currencyID="EUR")), *lines, **how).encode()
