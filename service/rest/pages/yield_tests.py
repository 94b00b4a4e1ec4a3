"""Record a yield test at the block: `/yield-tests`, and what a test did once it is recorded.

A test is recorded now, whatever day somebody looks at: the page has no other position.
"""

from service.domain.errors import WrongValue
from service.rest.fields.exact_field import says
from service.rest.fields.texts import Code, Text
from service.rest.openapi_layer.schemas import Query
from service.rest.pages.frame import Asked, PageOf
from service.rest.position import Positions
from service.use_cases.documents import Document
from service.use_cases.read_test_effect import read_test_effect
from service.use_cases.read_test_form import read_test_form


class YieldTestQuery(Query):
    """Which breakdown is tested, and which of its tests is told of."""

    breakdown = Code(metadata=says("The breakdown, by its code."))
    test = Text(max=40, metadata=says("A test of it that is recorded, by its id."))


def yield_tests_page(positions: Positions) -> PageOf:
    """`/yield-tests`: choose a breakdown, weigh, record, and see what it did."""

    def read(asked: Asked) -> Document:
        breakdown, test = asked.query.get("breakdown"), asked.query.get("test")
        if test is None:
            return read_test_form(asked.snapshot, breakdown) | {"effect": None}
        if breakdown is None:
            raise WrongValue("Say of which breakdown it is a test.", parameter="breakdown")
        return {"effect": read_test_effect(
            positions.ledger, positions.snapshots, asked.snapshot, breakdown, test)}

    return PageOf("yield_tests", "/yield-tests", read, YieldTestQuery)
