"""Units, codes, rounding and names of cuts against published tables; each sheet names its source."""

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from service.cli.demo_kitchen import demo_requests
from service.domain.quantity import convert, unit_of_code
from service.domain.rounding import published, text
from tests.worked.sheets import sheet

UNITS, HALF_UP, CUTS = sheet("units"), sheet("half_up"), sheet("standard_cuts")


@pytest.mark.parametrize(("unit", "grams"), UNITS["grams"].items())
def test_a_unit_of_mass_is_exactly_so_many_grams(unit: str, grams: str) -> None:
    """NIST SP 811, appendix B."""
    assert convert(Fraction(1), unit, "g", ()) == Fraction(grams)


@pytest.mark.parametrize(("unit", "millilitres"), UNITS["millilitres"].items())
def test_a_unit_of_volume_is_exactly_so_many_millilitres(unit: str, millilitres: str) -> None:
    """NIST Handbook 44, appendix C."""
    assert convert(Fraction(1), unit, "ml", ()) == Fraction(millilitres)


@pytest.mark.parametrize(("code", "unit"), UNITS["codes"].items())
def test_a_trade_code_names_its_unit(code: str, unit: str) -> None:
    """UN/ECE Recommendation 20."""
    found = unit_of_code(code)
    assert found is not None
    assert found.name == unit


@pytest.mark.parametrize(("ounces", "pounds"), list(enumerate(HALF_UP["pounds_of_ounces"], 1)))
def test_ounces_round_half_up_to_hundredths_of_a_pound(ounces: int, pounds: str) -> None:
    """US Army TM 10-412, card A-1(2): 2 oz are .13 lb, and not .12."""
    shown = text(published(convert(Fraction(ounces), "oz", "lb", ()), 2))
    assert shown.removeprefix("0") == pounds


def test_a_working_factor_scales_a_card_to_the_hundredth() -> None:
    """US Army TM 10-412, card A-1(2)."""
    card: dict[str, Any] = HALF_UP["working_factor"]
    factor = Fraction(card["portions"]) / Fraction(card["card"])
    assert text(published(factor, 2)) == card["factor"]
    assert text(published(factor * Fraction(card["card_lb"]), 2)) == card["lb"]


def test_the_demo_kitchen_names_its_primals_by_published_codes() -> None:
    """UNECE Bovine Meat and IMPS: a topside is 2000, and no scheme or code is made up."""
    bodies = [request.body for request in demo_requests(date(2026, 11, 25)) if "standard_codes" in request.body]
    codes = [(code["scheme"], code["code"]) for body in bodies for code in body["standard_codes"]]
    known = {(scheme, code) for scheme, names in CUTS["schemes"].items() for code in names}
    assert ("UNECE-BOVINE", "2000") in codes
    assert set(codes) <= known
