"""Every page of the frame, one line each."""

from service.rest.pages.board import board_page
from service.rest.pages.dish import dish_page
from service.rest.pages.frame import PageOf
from service.rest.pages.primals import primal_page, primals_page
from service.rest.pages.what_if import what_if_page
from service.rest.pages.yield_tests import yield_tests_page
from service.rest.position import Positions
from service.use_cases.raise_margin_alerts import MarginWatch


def every_page(positions: Positions, watch: MarginWatch) -> list[PageOf]:
    """The pages, given what they need."""
    return [
        board_page(positions, watch),
        dish_page(positions, watch),
        primals_page(),
        primal_page(),
        what_if_page(),
        yield_tests_page(positions),
    ]
