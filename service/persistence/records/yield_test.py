"""Yield tests, what each output weighed, and their tables."""

from service.domain.history import Mark
from service.domain.yield_test import WeighedOutput, YieldTest
from service.persistence.records.price import taken_back
from service.persistence.records.shelf import Codes, Ids, Row, Values


def yield_test_row(test: YieldTest, ids: Ids) -> Values:
    return {
        "made_revision": test.made.revision,
        "made_entry": test.made.entry,
        "breakdown_id": ids.of("breakdown", test.breakdown),
        "tested_on": test.tested_on,
        "unit": test.unit,
        "input_weight": test.input_weight,
        "opened_weight": test.opened_weight,
        "minutes": test.minutes,
        "pieces": test.pieces,
        "butcher": test.butcher,
        "supplier_id": ids.of("supplier", test.supplier),
        "grade": test.grade,
        "note": test.note,
    }


def weighed_rows(test: YieldTest, ids: Ids) -> list[Values]:
    return [{"cut_id": ids.of("cut", output.cut), "weight": output.weight} for output in test.outputs]


def weighed(row: Row, codes: Codes) -> WeighedOutput:
    return WeighedOutput(codes["cut"][row.cut_id], row.weight)


def yield_test(row: Row, outputs: tuple[WeighedOutput, ...], codes: Codes, revision: int) -> YieldTest:
    """The test as known at `revision`: a later setting aside is not known yet."""
    return YieldTest(
        breakdown=codes["breakdown"][row.breakdown_id],
        tested_on=row.tested_on,
        unit=row.unit,
        input_weight=row.input_weight,
        outputs=outputs,
        made=Mark(row.made_revision, row.made_entry),
        opened_weight=row.opened_weight,
        minutes=row.minutes,
        pieces=row.pieces,
        butcher=row.butcher,
        supplier=None if row.supplier_id is None else codes["supplier"][row.supplier_id],
        grade=row.grade,
        note=row.note,
        set_aside=taken_back(row.set_aside_revision, row.set_aside_entry, row.set_aside_reason, revision),
    )
