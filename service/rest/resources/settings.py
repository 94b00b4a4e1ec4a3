"""The kitchen's settings over HTTP."""

from collections.abc import Mapping
from typing import Any

from service.domain.kitchen_settings import KitchenSettings
from service.rest.api_keys import needs
from service.rest.asking import asker
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.position import Positions
from service.rest.schemas.records import PositionQuery, record
from service.rest.schemas.settings import SettingsAnswer, SettingsRequest
from service.use_cases.conditions import Condition
from service.use_cases.keep_record import keep_record
from service.use_cases.kept_kinds import settings_kind
from service.use_cases.kinds import SETTINGS
from service.use_cases.read_settings import read_settings as settings_on


def settings(positions: Positions) -> Blueprint:
    """`/v1/settings`."""
    blueprint = Blueprint("settings", "Currency, business day, tax, labour rate and targets.",
                          url_prefix="/v1/settings")

    @blueprint.get("")
    @needs("read")
    @blueprint.arguments(PositionQuery, location="query")
    @blueprint.response(200, SettingsAnswer, tagged=True)
    def read_settings(query: Mapping[str, Any]) -> Any:
        """Read the settings as they stand on a day."""
        position = positions.asked(query)
        return settings_on(positions.kitchen(position), position.day)

    @blueprint.put("")
    @needs("admin")
    @blueprint.arguments(SettingsRequest)
    @blueprint.conditional
    @blueprint.response(200, SettingsAnswer)
    def keep_settings(body: dict[str, Any], condition: Condition) -> Any:
        """Record or replace the settings, from a day on."""
        start = body.pop("effective_from", None)
        return keep_record(positions.ledger, settings_kind, SETTINGS, record(KitchenSettings, body), start, condition,
                           asker()).document

    return blueprint
