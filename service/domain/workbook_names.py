"""The names that formulas of a workbook use instead of cell addresses.

Rules that always hold: two things never have one name; no name can be read as a cell's address, since each has an
underscore; each is valid in every spreadsheet, since codes are of `a` to `z`, digits and hyphens.

Example: the unit price of `beef-topside` is `price_beef_topside`.
"""

from service.domain.network import Key
from service.domain.quantity import Dimension

LABOUR_RATE = "labour_rate"
DEFAULT_TAX = "default_tax"
DEFAULT_TARGET = "default_target"
PRICES_INCLUDE_TAX = "menu_prices_include_tax"
PRICE_STEP = "menu_price_step"

POOL_MATERIAL = "pool_material"
POOL_LABOUR = "pool_labour"
METHOD = "method"
WEIGHED = "weighed"
SHARED_ON = "shared_on"
FINISHING_SHARED = "finishing_shared"
CREDITS_WITHIN_COST = "credits_within_cost"
CHAIN_PRICE = "chain_price"
CHAIN_YIELD = "chain_yield"
PORTION = "portion"


def section_target(place: int) -> str:
    """The target of a section of the menu, by its place among the targets of sections: sections are free text."""
    return f"section_target_{place + 1}"


def name_of(what: str, code: str) -> str:
    """The name of one figure of one record: `pool_labour_topside_seamed`."""
    return f"{what}_{code.replace('-', '_')}"


def material_of(key: Key) -> str:
    """What a unit of something costs in material. An ingredient's is its price."""
    kind, code = key
    return name_of("price" if kind == "ingredient" else f"{kind}_material", code)


def labour_of(key: Key) -> str:
    """What a unit of a cut or recipe costs in labour."""
    kind, code = key
    return name_of(f"{kind}_labour", code)


def known_of(recipe: str) -> str:
    """What a unit of a recipe costs in material at least."""
    return name_of("recipe_at_least", recipe)


def conversion_of(key: Key, left: Dimension, right: Dimension) -> str:
    """How many base units of one dimension a base unit of another is, of something."""
    kind, code = key
    return name_of(f"{kind}_{left}_to_{right}", code)
