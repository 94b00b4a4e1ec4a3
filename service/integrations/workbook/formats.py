"""How a workbook's cells look: one format for each kind of cell, made once a file."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from service.domain.live_table import Band, Form

YELLOW, PAPER, INK, SOFT, LINE = "#FFF2B3", "#FFFFFF", "#23211D", "#6A655B", "#E0DBD0"
RED, GREEN, AMBER = "#9C2F2F", "#2F6B4F", "#8A5A00"
_TINTS = {Band.NAMES: PAPER, Band.ENTRIES: PAPER, Band.PUBLISHED: "#EFF5F1", Band.WORKING: "#F7F5F0"}
HEADS = {Band.NAMES: INK, Band.ENTRIES: AMBER, Band.PUBLISHED: GREEN, Band.WORKING: SOFT}
FONT = "Calibri"


class Kind(StrEnum):
    """Whether a cell is made to be changed."""

    PLAIN = "plain"
    ENTRY = "entry"


@dataclass
class Formats:
    """The formats of one file. `money_places` are those of the currency's minor unit."""

    book: Workbook
    money_places: int

    def __post_init__(self) -> None:
        self._cells: dict[tuple[Form, Band, Kind, bool], Format] = {}

    def cell(self, form: Form, band: Band, kind: Kind, starts: bool = False) -> Format:
        """Of a cell of that form, in that band; `starts`: with a line above, where a group of lines starts."""
        key = (form, band, kind, starts)
        if key not in self._cells:
            fill = YELLOW if kind is Kind.ENTRY else _TINTS[band]
            ink = SOFT if band is Band.WORKING and kind is Kind.PLAIN else INK
            self._cells[key] = self.book.add_format(self._number(form) | {
                "font_name": FONT, "font_size": 10, "font_color": ink, "bg_color": fill, "valign": "vcenter",
                "bottom": 1, "bottom_color": LINE} | ({"top": 1, "top_color": INK} if starts else {}))
        return self._cells[key]

    def head(self, band: Band) -> Format:
        """Of a column's header: dark, its words on as many lines as they need."""
        return self._heads[band]

    def band(self, band: Band) -> Format:
        """Of the words above the headers that say what a run of columns is for."""
        return self._bands[band]

    @cached_property
    def _heads(self) -> dict[Band, Format]:
        return {band: self._add(bold=True, font_color=PAPER, bg_color=colour, text_wrap=True, valign="vcenter",
                                right=1, right_color=LINE, indent=0) for band, colour in HEADS.items()}

    @cached_property
    def _bands(self) -> dict[Band, Format]:
        return {band: self._add(italic=True, font_color=colour) for band, colour in HEADS.items()}

    @cached_property
    def title(self) -> Format:
        return self._add(bold=True, font_size=18, font_color=RED)

    @cached_property
    def note(self) -> Format:
        return self._add(font_color=SOFT)

    @cached_property
    def heading(self) -> Format:
        """Of what a line of the first sheet is about."""
        return self._add(bold=True, valign="vcenter", font_size=11)

    @cached_property
    def not_known(self) -> Format:
        """Of #N/A: there, and quiet."""
        return self.book.add_format({"font_color": "#B9B2A3", "italic": True})

    @cached_property
    def good(self) -> Format:
        return self.book.add_format({"font_color": GREEN, "bold": True})

    @cached_property
    def bad(self) -> Format:
        return self.book.add_format({"font_color": RED, "bold": True})

    def _number(self, form: Form) -> dict[str, object]:
        if form is Form.TEXT:
            return {"num_format": "@", "indent": 1}
        if form is Form.LONG_TEXT:
            return {"num_format": "@", "text_wrap": True, "indent": 1}
        places = {Form.COST: 4, Form.SHARE: 4, Form.PERCENT: 2, Form.MONEY: self.money_places}.get(form)
        if places is None:
            return {"align": "right"}
        return {"align": "right", "num_format": "#,##0" + ("." + "0" * places if places else "")}

    def _add(self, **properties: object) -> Format:
        return self.book.add_format({"font_name": FONT, "font_size": 10, "font_color": INK} | properties)
