"""UBL 2.1 documents: a Catalogue is a supplier's price list, an Invoice what was charged.

The document is read in the cage, child by child of its root; what each says by the paths of the Peppol BIS (Catalogue
3, transaction T19, and Billing 3.0) is understood here. A credit note gives money back and is no price, so it is
refused.

Source: OASIS UBL 2.1; Peppol BIS Catalogue 3 and Billing 3.0; UNCL1001 for the codes of credit notes.
"""

import json
from collections.abc import Iterator

from service.domain.errors import UnreadableFile
from service.domain.price_list import PriceList
from service.integrations.price_lists.cage import caged
from service.integrations.price_lists.ubl_catalogue import read_catalogue
from service.integrations.price_lists.ubl_invoice import read_invoice
from service.integrations.price_lists.ubl_tree import Node, put, root_node, text_at
from service.integrations.price_lists.xml_text import MOST_ELEMENTS, utf8_document

_SPACE = "{urn:oasis:names:specification:ubl:schema:xsd:%s-2}%s"
_ROOTS = {_SPACE % (name, name): name for name in ("Catalogue", "Invoice", "CreditNote")}
_LINES = {"Catalogue": "cac:CatalogueLine", "Invoice": "cac:InvoiceLine"}
_CREDIT_NOTES = frozenset(("81", "83", "381", "396", "532"))
"""Codes of UNCL1001 for credit notes, as the Peppol BIS Billing 3.0 lists them."""


def read_ubl(content: bytes) -> PriceList:
    """What a UBL document says.

    Raises:  UnreadableFile, FileTooLarge, ReadersBusy.
    """
    with caged("document", utf8_document(content), {"most_elements": MOST_ELEMENTS}) as said:
        kind = _kind(next(said))
        head = root_node(kind)
        lines = _lines(said, _LINES[kind], head)
        first = next(lines, None)
        if kind == "Invoice" and text_at(head, "cbc:InvoiceTypeCode") in _CREDIT_NOTES:
            raise _credit_note()
        if first is None:
            raise UnreadableFile(f"The {kind} has no lines.", why="empty")
        return (read_catalogue if kind == "Catalogue" else read_invoice)(head, first, lines)


def _kind(said: bytes) -> str:
    root = str(json.loads(said)["root"])
    kind = _ROOTS.get(root)
    if kind is None:
        shown = "".join(each for each in root[:120] if each.isprintable())
        raise UnreadableFile(f"The document is {shown}; of XML, UBL 2.1 Catalogues and Invoices are read.",
                             why="not-ubl")
    if kind == "CreditNote":
        raise _credit_note()
    return kind


def _lines(said: Iterator[bytes], name: str, head: Node) -> Iterator[Node]:
    """The document's lines; what stands before them is gathered in `head`."""
    begun = False
    for line in said:
        node = json.loads(line)
        if node[0] == name:
            begun = True
            yield node
        elif begun:
            raise UnreadableFile(f"{node[0]} stands behind the lines; UBL has it before them. Send the document as it "
                                 "was made.", why="not-ubl")
        else:
            put(head, node)


def _credit_note() -> UnreadableFile:
    return UnreadableFile("A credit note gives money back and says no price. Send the invoice.", why="credit-note")
