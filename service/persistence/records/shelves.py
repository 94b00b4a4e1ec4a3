"""All shelves: the kinds of record that have versions, in an order in which references point backwards."""

from service.persistence.records.breakdown import BREAKDOWN
from service.persistence.records.dish import DISH
from service.persistence.records.ingredient import INGREDIENT
from service.persistence.records.kitchen_settings import SETTINGS
from service.persistence.records.recipe import RECIPE
from service.persistence.records.shelf import Shelf
from service.persistence.records.supplier import SUPPLIER
from service.persistence.records.supplier_item import SUPPLIER_ITEM
from service.persistence.tables import records

SHELVES: dict[str, Shelf] = {
    shelf.kind: shelf for shelf in (SETTINGS, SUPPLIER, INGREDIENT, BREAKDOWN, RECIPE, DISH, SUPPLIER_ITEM)
}

IDENTITIES = (
    records.kitchen_settings,
    records.supplier,
    records.ingredient,
    records.cut,
    records.breakdown,
    records.recipe,
    records.dish,
    records.supplier_item,
)
