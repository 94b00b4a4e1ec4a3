"""Finance says what suppliers' codes stand for, and closes a month: over HTTP, with several workers, on both engines.

Source: RFC 3986 section 2.2: a slash inside a code is percent-encoded; servers hand it on decoded.
"""

import pytest

from tests.stories.running_service import WEDNESDAY, Client, RunningService

BUTTER = "/v1/suppliers/harrowick/items/D%20710"


def test_a_code_with_a_slash_is_read_encoded_or_not(service: RunningService) -> None:
    """The document has it encoded, as it must; who writes it as it is gets the same."""
    finance = service.client("read")
    items = "/v1/suppliers/harrowick/items"
    encoded = finance.read(f"{items}/V%2F014")
    assert (encoded["code"], encoded["ingredient"]) == ("V/014", "shallot")
    plain = finance.session.get(f"{service.address}{items}/V/014", headers={"Authorization": f"Bearer {finance.key}"})
    assert plain.json() == encoded


def test_every_worker_tells_an_item_at_once_and_costs_keep_their_tag(service: RunningService) -> None:
    finance = service.client("read", "prices:write")
    tag = finance.get("/v1/dish-costs").headers["ETag"]
    butter = finance.read(BUTTER)
    pack = butter["pack"] | {"count": "20"}
    answer = finance.put(BUTTER, butter | {"pack": pack}, if_match=f'"{butter["revision"]}"')
    assert answer.status_code == 200, answer.text
    clients = service.clients_of_every_worker(finance)
    assert len(clients) == service.workers
    for client in clients.values():
        assert client.read(BUTTER)["pack"] == pack
        assert client.get("/v1/dish-costs", if_none_match=tag).status_code == 304
        known_before = client.read(f"{BUTTER}?known_at={butter['revision']}")
        assert known_before == butter


@pytest.mark.parametrize("scopes", [("read", "prices:write"), ("read", "kitchen:write", "menu:write")])
def test_who_records_prices_or_recipes_does_not_close_periods(service: RunningService, scopes: tuple[str, ...]) -> None:
    somebody = service.client(*scopes)
    settings = somebody.read("/v1/settings")
    answer = somebody.put("/v1/settings", settings | {"closed_through": "2026-10-31"}, if_match="*")
    assert answer.status_code == 403


def test_a_closed_month_keeps_its_figures(service: RunningService) -> None:
    admin, finance = service.client("admin"), service.client("read", "prices:write")
    settings = admin.read("/v1/settings")
    before = figures_of(finance, "2026-10-31")
    kept = admin.put("/v1/settings", settings | {"closed_through": "2026-10-31"}, if_match=f'"{settings["revision"]}"')
    assert (kept.status_code, kept.json()["closed_through"]) == (200, "2026-10-31")
    price = {"supplier": "fenmoor", "amount": "15.10", "pack_quantity": "1", "pack_unit": "kg"}
    path = "/v1/ingredients/beef-topside/prices"
    late = finance.post(path, price | {"effective_from": "2026-10-31"})
    assert (late.status_code, late.json()["type"]) == (422, "/docs/problems/period-closed")
    assert "2026-11-01" in late.json()["detail"]
    assert finance.post(path, price | {"effective_from": "2026-11-01"}).status_code == 201
    assert figures_of(finance, "2026-10-31") == before
    assert figures_of(finance, WEDNESDAY) != figures_of(finance, WEDNESDAY, known_at=settings["revision"])


def figures_of(client: Client, day: object, known_at: int | None = None) -> dict[str, str]:
    """What each dish costs on a day."""
    known = "" if known_at is None else f"&known_at={known_at}"
    return {row["dish"]: row["food_cost"] for row in client.read(f"/v1/dish-costs?as_of={day}{known}")["data"]}
