"""The board: `/`."""

from service.rest.fields.exact_field import says
from service.rest.fields.texts import Text
from service.rest.pages.frame import Asked, PageOf
from service.rest.pages.open_alerts import open_alerts
from service.rest.position import Positions
from service.rest.schemas.records import PositionQuery
from service.use_cases.documents import Document
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_board import read_board


class BoardQuery(PositionQuery):
    """Which dishes of the board."""

    q = Text(max=100, metadata=says("Words that the names hold."))
    section = Text(max=60, metadata=says("The section of the menu."))


def board_page(positions: Positions, watch: MarginWatch) -> PageOf:
    """`/`: every dish, what needs attention first."""

    def read(asked: Asked) -> Document:
        return read_board(positions.ledger, positions.snapshots, asked.snapshot, asked.query.get("q", ""),
                          asked.query.get("section", ""), open_alerts(asked, positions, watch))

    return PageOf("board", "/", read, BoardQuery, of_figures=False)
