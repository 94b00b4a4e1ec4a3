"""An ingredient: anything bought. A primal is an ingredient that is broken down."""

from dataclasses import dataclass
from typing import ClassVar

from service.domain.quantity import Conversion


@dataclass(frozen=True, slots=True)
class StandardCode:
    """The ingredient's code in a published scheme of cuts, e.g. UNECE-BOVINE 2000."""

    scheme: str
    code: str


@dataclass(frozen=True, slots=True)
class Ingredient:
    """An ingredient as recorded. Only `preferred_supplier` is dated.

    Units: `base_unit` is kg, l or each; unit prices are per base unit.
    `allergens` None means not declared, which is not none.
    """

    UNDATED: ClassVar[tuple[str, ...]] = ("name", "kind", "base_unit", "conversions", "allergens", "standard_codes")

    code: str
    name: str
    kind: str
    base_unit: str
    conversions: tuple[Conversion, ...] = ()
    allergens: tuple[str, ...] | None = None
    standard_codes: tuple[StandardCode, ...] = ()
    preferred_supplier: str | None = None
