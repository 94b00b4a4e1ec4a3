"""A tag from before a restore never stands for costs of afterwards. A record's is its revision alone: see the README.

A restore goes back to the revision of the backup, and what is recorded next is given the numbers that the lost ledger
had given too. Source: RFC 9110 section 8.8.3 (a validator changes with what it stands for).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service import operating, wiring
from service.settings import Settings
from tests.rest.small_kitchen import Kitchen, small_kitchen

PRICES = "/v1/ingredients/leg/prices"
COSTS = ("/v1/dish-costs/soup", "/v1/dish-costs", "/v1/dish-costs/soup/working", "/v1/dish-costs/soup/mends",
         "/v1/cut-costs", "/v1/cut-costs/leg-meat", "/v1/recipe-costs", "/v1/recipe-costs/stock",
         "/v1/ingredients/leg/impact", "/v1/allergens", "/v1/margin-alerts", "/v1/food-cost-uncertainty",
         "/v1/workbook.xlsx")


@contextmanager
def kitchen_and_its_backup(folder: Path) -> Iterator[tuple[Kitchen, Path]]:
    """A kitchen, and a backup of it that was taken before anything else is recorded."""
    settings = Settings(database_url=f"sqlite:///{folder}/before.db")
    operating.migrate(settings)
    with small_kitchen(folder / "before.db") as kitchen:
        operating.backup(settings, folder / "kept.jsonl", lambda _rows: None)
        yield kitchen, folder / "kept.jsonl"


@contextmanager
def restored(kitchen: Kitchen, backup: Path) -> Iterator[None]:
    """The kitchen's client asks what was restored."""
    settings = Settings(database_url=f"sqlite:///{backup.parent}/after.db")
    operating.migrate(settings)
    operating.restore(settings, backup, lambda _rows: None)
    with operating.opened_ledger(settings) as ledger:
        kitchen.client = wiring.app_on(ledger, settings).test_client()
        yield


def recorded(kitchen: Kitchen, amount: str) -> int:
    """Record a price; its revision."""
    answer = kitchen.put(PRICES, {"supplier": "mill", "amount": amount, "pack_quantity": "1", "pack_unit": "kg"})
    assert answer.status_code == 201, answer.text
    return int(answer.json["revision"])  # type: ignore[index]


def test_a_tag_of_costs_from_before_never_stands_for_what_is_recorded_after(tmp_path: Path) -> None:
    """The same revision of the same day, and another price."""
    with kitchen_and_its_backup(tmp_path) as (kitchen, backup):
        revision = recorded(kitchen, "31")
        tags = {path: kitchen.client.get(path, headers=kitchen.headers).headers["ETag"] for path in COSTS}
        for path, tag in tags.items():
            known = kitchen.client.get(path, headers={**kitchen.headers, "If-None-Match": tag})
            assert known.status_code == 304, path
        with restored(kitchen, backup):
            assert recorded(kitchen, "32") == revision
            for path, tag in tags.items():
                known = kitchen.client.get(path, headers={**kitchen.headers, "If-None-Match": tag})
                assert known.status_code == 200, path
