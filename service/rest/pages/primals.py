"""The primals: `/primals`, and `/primals/<ingredient>` with the cutting sheet of one of its breakdowns."""

from service.rest.fields.exact_field import says
from service.rest.fields.texts import Code
from service.rest.pages.frame import Asked, PageOf
from service.rest.schemas.records import PositionQuery
from service.use_cases.documents import Document
from service.use_cases.read_primal_page import read_primal_page
from service.use_cases.read_primals import read_primals


class PrimalQuery(PositionQuery):
    """Which breakdown of a primal."""

    breakdown = Code(metadata=says("One of its breakdowns, or of those of its cuts."))


def primals_page() -> PageOf:
    """`/primals`: what is bought whole and broken down."""

    def read(asked: Asked) -> Document:
        return read_primals(asked.snapshot)

    return PageOf("primals", "/primals", read)


def primal_page() -> PageOf:
    """`/primals/<ingredient>`: cutting sheet, where the money goes, ways of sharing, yields, and dishes."""

    def read(asked: Asked) -> Document:
        return read_primal_page(asked.snapshot, asked.code, asked.query.get("breakdown"))

    return PageOf("primal", "/primals/<code:code>", read, PrimalQuery)
