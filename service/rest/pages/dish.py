"""A dish: `/dishes/<code>`."""

from service.rest.pages.frame import Asked, PageOf
from service.rest.pages.open_alerts import open_alerts
from service.rest.position import Positions
from service.use_cases.documents import Document
from service.use_cases.raise_margin_alerts import MarginWatch
from service.use_cases.read_dish_page import read_dish_page


def dish_page(positions: Positions, watch: MarginWatch) -> PageOf:
    """`/dishes/<code>`: what a dish costs and why, how that moved, what is in it, and what would mend it."""

    def read(asked: Asked) -> Document:
        document = read_dish_page(positions.ledger, positions.snapshots, asked.snapshot, asked.code)
        return document | {"alert": open_alerts(asked, positions, watch).get(asked.code)}

    return PageOf("dish", "/dishes/<code:code>", read, of_figures=False)
