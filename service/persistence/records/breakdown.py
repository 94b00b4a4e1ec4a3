"""Breakdowns, their outputs and their tables. A breakdown brings the codes of its outputs into being."""


from service.domain.breakdown import Breakdown, BreakdownInput, Method, Output, Role, YieldsFrom
from service.persistence.records.shelf import Codes, Ids, Parts, Row, Shelf, Values
from service.persistence.tables import records


def _row(record: Breakdown, ids: Ids) -> Values:
    return {
        "name": record.name,
        "input_ingredient_id": ids.of("ingredient", record.input.ingredient),
        "input_cut_id": ids.of("cut", record.input.cut),
        "in_use": record.in_use,
        "method": record.method.value,
        "yields_from": record.yields_from.value,
        "labour_minutes_per_kg": record.labour_minutes_per_kg,
        "packaging_per_kg": record.packaging_per_kg,
        "steps": record.steps,
        "yields_from_last_tests": record.yields_from_last_tests,
        "yields_from_tests_since": record.yields_from_tests_since,
    }


def _record(code: str, row: Row, outputs: tuple[Output, ...], codes: Codes) -> Breakdown:
    ingredient, cut = row.input_ingredient_id, row.input_cut_id
    source = BreakdownInput(
        ingredient=None if ingredient is None else codes["ingredient"][ingredient],
        cut=None if cut is None else codes["cut"][cut],
    )
    return Breakdown(
        code=code,
        name=row.name,
        input=source,
        outputs=outputs,
        in_use=row.in_use,
        method=Method(row.method),
        yields_from=YieldsFrom(row.yields_from),
        labour_minutes_per_kg=row.labour_minutes_per_kg,
        packaging_per_kg=row.packaging_per_kg,
        steps=tuple(row.steps),
        yields_from_last_tests=row.yields_from_last_tests,
        yields_from_tests_since=row.yields_from_tests_since,
    )


def _output_rows(record: Breakdown, ids: Ids) -> list[Values]:
    return [
        {
            "cut_id": ids.made("cut", output.cut),
            "name": output.name,
            "role": output.role.value,
            "expected_yield": output.expected_yield,
            "uses": output.uses,
            "market_value": output.market_value,
            "split_off_value": output.split_off_value,
            "relative_value": output.relative_value,
            "finishing_cost": output.finishing_cost,
            "credit_value": output.credit_value,
            "disposal_cost": output.disposal_cost,
            "portion_weight_kg": output.portion_weight_kg,
        }
        for output in record.outputs
    ]


def _output(row: Row, codes: Codes) -> Output:
    return Output(
        cut=codes["cut"][row.cut_id],
        name=row.name,
        role=Role(row.role),
        expected_yield=row.expected_yield,
        uses=tuple(row.uses),
        market_value=row.market_value,
        split_off_value=row.split_off_value,
        relative_value=row.relative_value,
        finishing_cost=row.finishing_cost,
        credit_value=row.credit_value,
        disposal_cost=row.disposal_cost,
        portion_weight_kg=row.portion_weight_kg,
    )


BREAKDOWN = Shelf(
    "breakdown", records.breakdown, records.breakdown_version, _row, _record,
    Parts(records.breakdown_output, _output_rows, _output))
