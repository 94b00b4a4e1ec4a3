"""The board: `/`."""

from service.rest.pages.frame import Asked, PageOf
from service.use_cases.documents import Document
from service.use_cases.read_board import read_board


def board_page() -> PageOf:
    """`/`: every dish, what needs attention first."""

    def read(asked: Asked) -> Document:
        return read_board(asked.snapshot)

    return PageOf("board", "/", read)
