"""The benchmarks are all in the one table, and the table says no more than was measured."""

import ast

import pytest

from tests.architecture.source_tree import TOP, functions, parsed
from tests.benchmarks.every_benchmark import BENCHMARKS, results_of
from tests.benchmarks.results import UNSETTLED, Asked, Result, as_line, from_line, shown, table

FOLDER = TOP / "tests" / "benchmarks"


def test_every_module_with_results_is_in_the_table_and_no_other() -> None:
    found = {path.stem for path in FOLDER.glob("*.py") if any(node.name == "results" for node in functions(path))}
    assert found == set(BENCHMARKS)


def test_every_benchmark_says_how_it_is_run_alone() -> None:
    for name in BENCHMARKS:
        said = ast.get_docstring(parsed(FOLDER / f"{name}.py")) or ""
        assert f"python -m tests.benchmarks.{name}" in said, name


@pytest.mark.parametrize("name", ["price_movements", "theoretical_food_cost", "workbook"])
def test_the_smallest_form_gives_rows_with_a_value_a_round(name: str) -> None:
    found = list(results_of(name)(Asked("smallest", 2)))
    assert found
    assert {len(result.values) for result in found} == {2}


def test_a_row_is_the_same_after_its_way_between_processes() -> None:
    result = Result("a list", "bare bytes", (1.5, 2.0), by="clock", at_most=3)
    assert from_line(as_line(result)) == result


@pytest.mark.parametrize(("value", "spread", "text"), [
    (2.3456, 0.5, "2.3"), (2.3456, 0.0, "2.35"), (1234.0, 8.0, "1 230"), (1234.0, 800.0, "1 200"), (0.0, 0.0, "0"),
    (0.0123, 0.001, "0.012")])
def test_no_figure_is_finer_than_its_spread(value: float, spread: float, text: str) -> None:
    assert shown(value, spread) == text


@pytest.mark.parametrize(("values", "met"), [((1.0, 2.0), "met"), ((3.0, 5.0), "open"), ((4.5, 5.0), "missed")])
def test_an_aim_is_met_or_missed_only_where_every_round_says_so(values: tuple[float, ...], met: str) -> None:
    assert Result("a", "b", values, at_most=4).met == met


def test_a_ratio_smaller_than_its_spread_is_not_given() -> None:
    assert Result("a", "b", (0.1, 0.5, 0.9)).cells("x")[3] == UNSETTLED
    assert Result("a", "b", (0.4, 0.5, 0.6)).cells("x")[3] == "0.5"


def test_the_table_has_a_line_a_row_below_its_head() -> None:
    lines = list(table([("recompute", Result("a", "b", (2.0, 3.0)))]))
    assert len(lines) == 3
    assert lines[2].split("|")[1].strip() == "recompute"
    assert len({line.count("|") for line in lines}) == 1
