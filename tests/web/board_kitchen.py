"""The priced kitchen a day later: a topside that went up overnight, a dish that lacks a price, one that joined the
menu, and a rise that is recorded for Monday. Invented."""

from datetime import timedelta

from tests.stories.running_service import MONDAY, WEDNESDAY, RunningService
from tests.web.priced_kitchen import SUPPLIER

THURSDAY = WEDNESDAY + timedelta(days=1)
RISE, ON_MONDAY = "15.20", "16.00"


def a_rise(service: RunningService, ingredient: str, amount: str, first_day: str) -> None:
    service.admin.keep(f"/v1/ingredients/{ingredient}/prices", {
        "supplier": SUPPLIER, "amount": amount, "pack_quantity": "1", "pack_unit": "kg", "effective_from": first_day})


def the_next_morning(service: RunningService) -> None:
    """Move on to Thursday, and record what came in."""
    service.admin.keep("/v1/dishes/egg-mayonnaise", {
        "name": "Egg mayonnaise", "section": "larder", "portions": "1", "menu_price": "5.00",
        "lines": [{"ingredient": "egg", "quantity": "2", "unit": "each"}]})
    service.admin.keep("/v1/ingredients/butter", {
        "name": "Butter", "kind": "larder", "base_unit": "kg", "allergens": ["milk"]})
    service.move_to(THURSDAY)
    a_rise(service, "beef-topside", RISE, THURSDAY.isoformat())
    a_rise(service, "beef-topside", ON_MONDAY, MONDAY.isoformat())
    service.admin.keep("/v1/dishes/shin-broth", {
        "name": "Shin broth", "section": "stove", "portions": "1", "menu_price": "7.00",
        "lines": [{"ingredient": "beef-shin", "quantity": "50", "unit": "g"}]})
