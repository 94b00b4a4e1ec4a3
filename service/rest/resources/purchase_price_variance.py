"""Purchase price variance over HTTP: what was bought against the prices in force on a chosen day. Nothing is stored."""

from collections.abc import Mapping
from typing import Any

from service.rest.api_keys import needs
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.places import takes_long
from service.rest.position import Positions
from service.rest.schemas.purchase_price_variance import PurchasePriceVarianceAnswer, PurchasePriceVarianceRequest
from service.use_cases.read_purchase_price_variance import read_purchase_price_variance as variance_of


def purchase_price_variance(positions: Positions) -> Blueprint:
    """`/v1/purchase-price-variance`."""
    blueprint = Blueprint("purchase-price-variance", "What was bought against standard prices.",
                          url_prefix="/v1/purchase-price-variance")

    @blueprint.post("")
    @takes_long
    @needs("read")
    @blueprint.arguments(PurchasePriceVarianceRequest)
    @blueprint.response(200, PurchasePriceVarianceAnswer)
    def read_purchase_price_variance(body: Mapping[str, Any]) -> Any:
        """Read the purchase price variance of what was bought.

        (actual price - standard price) x actual quantity, adverse positive; the standard is the price that decides on
        `standard_on`. Nothing is stored.
        """
        position = positions.asked_in_body({**body, "as_of": body["standard_on"]})
        return variance_of(positions.kitchen(position), body["standard_on"], body["purchases"])

    return blueprint
