"""The resources of all that is recorded and of all that is computed from it: one list, in the order of the document."""

from collections.abc import Mapping
from typing import NamedTuple

from service.rest.cost_lists import COST_LISTS
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.changes import changes
from service.rest.resources.costs import costs
from service.rest.resources.every_breakdown_figure import every_breakdown_figure
from service.rest.resources.every_kept import every_kept
from service.rest.resources.every_menu_figure import every_menu_figure
from service.rest.resources.impact import impact
from service.rest.resources.keys import keys
from service.rest.resources.price_list_templates import MakeTemplate, price_list_templates
from service.rest.resources.price_movements import price_movements
from service.rest.resources.price_proposals import price_proposals
from service.rest.resources.prices import prices
from service.rest.resources.purchase_price_variance import purchase_price_variance
from service.rest.resources.sales import sales
from service.rest.resources.settings import settings
from service.rest.resources.supplier_items import supplier_items
from service.rest.resources.workbook import workbook
from service.rest.resources.yield_tests import yield_tests
from service.use_cases.price_files import ReadPriceFile
from service.use_cases.read_proposals import Proposals
from service.use_cases.read_workbook import WriteWorkbook
from service.use_cases.sales_files import ReadSalesFile


class Files(NamedTuple):
    """How files are read and written: what the outside world's layer gives, and wiring passes in."""

    read_prices: ReadPriceFile
    read_sales: ReadSalesFile
    price_templates: Mapping[str, MakeTemplate]
    write_workbook: WriteWorkbook


def every_record(positions: Positions, reviewing: Proposals, files: Files) -> list[Blueprint]:
    """All of them, on one ledger."""
    suppliers, ingredients, breakdowns, recipes, dishes = every_kept(positions)
    return [
        settings(positions), suppliers, supplier_items(positions), ingredients, impact(positions),
        prices(positions), price_proposals(positions, reviewing, files.read_prices),
        price_list_templates(positions, files.price_templates),
        price_movements(positions), purchase_price_variance(positions),
        sales(positions, files.read_sales), *every_menu_figure(positions),
        breakdowns, yield_tests(positions), *every_breakdown_figure(positions), recipes, dishes,
        workbook(positions, files.write_workbook), *(costs(costs_of, positions) for costs_of in COST_LISTS),
        changes(positions), keys(positions.ledger)]
