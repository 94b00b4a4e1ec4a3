"""Every mutant that may live is of a function that is there, of lines that it has, and has its reason; and a run is
judged as its part says. mutmut itself is not run here."""

from pathlib import Path

import pytest

from tests.mutation.judging import judged, mutant_shown
from tests.mutation.parts import Mutant, Part, every_part, faults_of, part_of

PARTS = every_part()
TEXT = """
title = "rounding"
modules = ["service/domain/rounding.py"]
tests = ["tests/domain/test_rounding.py"]
[[survivors]]
why = "The tie is told by the remainder, so that it cannot make a difference."
mutants = [{ in = "service.domain.rounding.text", was = "return  format(value if value", became = "return format(1" }]
"""
SHOWN = """# service.domain.cascade.xǁCostingǁgaps__mutmut_2: survived
--- service/domain/cascade.py
+++ service/domain/cascade.py
@@ -1,5 +1,5 @@
 def gaps(self, key: Key) -> tuple[Gap, ...]:
     figures = self.figures(key)
-    return in_order(figures.material_gaps | figures.labour_gaps)
+    return in_order(figures.material_gaps & figures.labour_gaps)
"""
UNION = Mutant("service.domain.cascade.Costing.gaps", "return in_order(figures.material_gaps | figures.labour_gaps)",
               "return in_order(figures.material_gaps & figures.labour_gaps)")


@pytest.mark.parametrize("part", PARTS, ids=lambda each: each.name)
def test_every_mutant_that_may_live_is_of_code_that_is_there_and_has_its_reason(part: Part) -> None:
    assert faults_of(part) == []


def test_there_is_a_part_about_cost_keys_signatures_and_the_chain_and_each_explains_what_lives() -> None:
    assert {part.name for part in PARTS} >= {"authorisation", "calling", "chain", "core", "identity"}
    assert all(part.explained for part in PARTS)


@pytest.mark.parametrize(("written", "instead", "fault"), [
    ("rounding.text", "rounding.texts", "has the function service.domain.rounding.texts"),
    ("return  format", "return fmt", "no such line"), ("return format(1", "return format(value if value", "nothing"),
    ("The tie is told by the remainder, so that it cannot make a difference.", "Equivalent.", "no reason"),
    ("test_rounding.py", "test_rounded.py", "tests/domain/test_rounded.py is not there"),
    ("}]", "}, { in = 'service.domain.rounding.text', was = 'return format(value if value', "
           "became = 'return format(1' }]", "told twice")])
def test_what_is_wrong_with_an_explanation_is_found(written: str, instead: str, fault: str) -> None:
    assert faults_of(part_of("trial", TEXT)) == []
    assert any(fault in each for each in faults_of(part_of("trial", TEXT.replace(written, instead))))


def test_a_mutant_is_known_by_its_function_and_its_lines() -> None:
    assert mutant_shown("service.domain.cascade.xǁCostingǁgaps__mutmut_2", SHOWN) == UNION
    of_a_function = mutant_shown("service.domain.menu.x_terms_of__mutmut_1", SHOWN)
    assert of_a_function.function == "service.domain.menu.terms_of"


def test_a_part_is_red_for_a_mutant_that_lives_unexplained_and_for_more_than_one_in_ten() -> None:
    part = Part("trial", "a trial", (), (), ((UNION, "told elsewhere"),))
    nine, other = ["killed"] * 8 + ["timeout"], Mutant("service.domain.cascade.in_order", "a", "b")
    assert judged(part, [*nine, "survived"], [UNION]).faults == ()
    assert str(other) in judged(part, [*nine, "survived"], [other]).faults[0]
    assert "80.0%" in judged(part, [*nine[1:], "survived", "no tests"], [UNION, UNION]).faults[0]
    assert judged(part, nine, []).not_needed == (UNION,)
    assert judged(part, [*nine, "suspicious"], []).faults == ("1 mutants: suspicious",)
    assert judged(part, [], []).faults, "a run of no mutants says nothing"


def test_every_part_is_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "trial.toml").write_text(TEXT)
    (part,) = every_part(tmp_path)
    assert (part.name, part.title, len(part.explained)) == ("trial", "rounding", 1)
