"""Every resource that looks at what a breakdown gives and costs, and records nothing."""

from collections.abc import Iterator

from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.resources.breakdown_comparison import breakdown_comparison
from service.rest.resources.cutting_sheets import cutting_sheets
from service.rest.resources.food_cost_uncertainty import food_cost_uncertainty
from service.rest.resources.lean_loss import lean_loss


def every_breakdown_figure(positions: Positions) -> Iterator[Blueprint]:
    """Its cutting sheet and yields, its comparison, what lost lean costs, and how sure food costs are of its yields."""
    yield cutting_sheets(positions)
    yield breakdown_comparison(positions)
    yield lean_loss(positions)
    yield food_cost_uncertainty(positions)
