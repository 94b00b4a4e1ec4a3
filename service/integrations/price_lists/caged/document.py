"""Reads a business document in XML, in the cage: UBL's own two vocabularies, and nothing else.

Lines out: {"root": its name with its namespace}, then each child of the root as it ends, as a tree of
[name, text, {attribute: value}, {name: [children of that name]}]; names carry the usual prefixes, `cac:` and `cbc:`.
What is in another namespace (extensions, signatures) is passed over, and so are documents embedded in it.

No document type, no entity, no file and no network; depth, width and length are bounded as they come, before anything
is kept.
"""

from collections.abc import Iterator
from io import BytesIO
from json import JSONEncoder

from lxml import etree

from service.integrations.price_lists.caged.refusal import Refusal

CHUNK = 65_536
DEEPEST = 64
MOST_ATTRIBUTES = 64
MOST_IN_A_LINE = 10_000
LONGEST_TEXT = 65_536
PREFIXES = {"urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2": "cac:",
            "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2": "cbc:"}
EMBEDDED = "cbc:EmbeddedDocumentBinaryObject"

_encode = JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False).encode


def read(file: BytesIO, asked: dict[str, int]) -> Iterator[bytes]:
    """The children of the root, one by one."""
    reading = _Reading(asked["most_elements"])
    parser = etree.XMLParser(target=reading, encoding="utf-8", resolve_entities=False, load_dtd=False, no_network=True,
                             huge_tree=False, remove_comments=True, remove_pis=True)
    try:
        while chunk := file.read(CHUNK):
            parser.feed(chunk)
            yield from reading.take()
        parser.close()
    except etree.XMLSyntaxError as fault:
        raise Refusal("damaged", fault.msg or "it is not XML") from fault
    yield from reading.take()


class _Element:
    """An element that is open: what JSON is given when it ends."""

    __slots__ = ("attributes", "children", "name", "text")

    def __init__(self, name: str, attributes: dict[str, str]) -> None:
        self.name = name
        self.text = ""
        self.attributes = attributes
        self.children: dict[str, list[object]] = {}

    def closed(self) -> list[object]:
        return [self.name, self.text.strip(), self.attributes, self.children]


class _Reading:
    """What the parser tells: builds one child of the root at a time."""

    def __init__(self, most_elements: int) -> None:
        self._names: dict[str, str | None] = {}
        self._most = self._left = self._left_at_line = most_elements
        self._depth = 0
        self._passing = 0
        self._open: list[_Element] = []
        self._done: list[bytes] = []

    def take(self) -> list[bytes]:
        done, self._done = self._done, []
        return done

    def doctype(self, *_: object) -> None:
        raise Refusal("doctype")

    def start(self, tag: str, attributes: dict[str, str], namespaces: dict[str, str]) -> None:
        self._depth += 1
        self._left -= 1
        if self._depth > DEEPEST:
            raise Refusal("too-deep", str(DEEPEST))
        if self._depth == 2:
            self._left_at_line = self._left
        if self._left < 0:
            raise Refusal("elements", "The document has more than", self._most)
        if self._depth > 2 and self._left_at_line - self._left > MOST_IN_A_LINE:
            raise Refusal("elements", "A line of the document has more than", MOST_IN_A_LINE)
        if len(attributes) > MOST_ATTRIBUTES or len(namespaces) > MOST_ATTRIBUTES:
            raise Refusal("too-wide", str(MOST_ATTRIBUTES))
        if self._depth == 1:
            self._done.append(_encode({"root": tag}).encode() + b"\n")
        elif self._passing or (name := self._named(tag)) is None:
            self._passing += 1
        else:
            self._open.append(_Element(name, dict(attributes)))

    def data(self, text: str) -> None:
        if self._passing or not self._open:
            return
        element = self._open[-1]
        if element.name == EMBEDDED:
            return
        element.text += text
        if len(element.text) > LONGEST_TEXT:
            raise Refusal("too-long", str(LONGEST_TEXT))

    def end(self, _: str) -> None:
        self._depth -= 1
        if self._passing:
            self._passing -= 1
        elif self._open:
            element = self._open.pop()
            if self._open:
                self._open[-1].children.setdefault(element.name, []).append(element.closed())
            else:
                self._done.append(_encode(element.closed()).encode() + b"\n")

    def close(self) -> None:
        """The document has ended."""

    def _named(self, tag: str) -> str | None:
        """The name with its usual prefix; None: of another vocabulary."""
        if tag not in self._names:
            space, _, name = tag[1:].partition("}") if tag[:1] == "{" else ("", "", tag)
            prefix = PREFIXES.get(space)
            self._names[tag] = None if prefix is None else prefix + name
        return self._names[tag]
