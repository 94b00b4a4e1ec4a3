"""Writers who change a kitchen at random over HTTP: prices, withdrawals, yield tests, recipes, dishes, settings.

What they write is always well-formed; a ledger that refuses one (a price that another writer has just withdrawn) says
so, and the writer goes on with the next.
"""

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import requests

from service.cli.demo_kitchen import demo_requests
from tests.stories.running_service import WEDNESDAY

TAKEN, REFUSED = (200, 201), (409, 412, 422)
DEMO = tuple(demo_requests(WEDNESDAY))
PRICED = [(asked.path, asked.body) for asked in DEMO if asked.path.endswith("/prices")]
TESTED = [(asked.path, asked.body) for asked in DEMO if asked.path.endswith("/yield-tests")]
DISHES, RECIPES, SETTINGS = (
    [(asked.path, asked.body) for asked in DEMO if asked.method == "PUT" and asked.path.startswith(f"/v1/{kind}")]
    for kind in ("dishes", "recipes", "settings"))


@dataclass
class Writer:
    """One writer with a key and a connection of its own. `came` counts the statuses of the answers."""

    address: str
    key: str
    seed: int
    today: date = WEDNESDAY
    came: Counter[int] = field(default_factory=Counter)
    posted: list[tuple[str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)
        self.session = requests.Session()

    def write(self, count: int) -> None:
        """Write until `count` requests are taken."""
        for method, path, body in self._ideas():
            answer = self._send(method, path, body)
            self.came[answer.status_code] += 1
            assert answer.status_code in (*TAKEN, *REFUSED), answer.text
            if path.endswith("/prices") and answer.status_code == 201:
                self.posted.append((path, answer.json()["id"]))
            count -= answer.status_code in TAKEN
            if count == 0:
                return

    def _send(self, method: str, path: str, body: Any) -> requests.Response:
        """Send it, and once more where the worker behind the connection was killed: a PUT may be repeated, and a POST
        with the same Idempotency-Key."""
        headers = {"Authorization": f"Bearer {self.key}", "Idempotency-Key": f"{self.chance.getrandbits(64):x}"}
        if method == "PUT":
            headers["If-Match"] = "*"
        try:
            return self.session.request(method, self.address + path, json=body, headers=headers, timeout=60)
        except requests.ConnectionError:
            return self.session.request(method, self.address + path, json=body, headers=headers, timeout=60)

    def _ideas(self) -> Iterator[tuple[str, str, Any]]:
        ideas = (self._price, self._withdrawal, self._dish, self._recipe, self._test, self._settings)
        while True:
            yield self.chance.choices(ideas, (65, 8, 14, 8, 1, 4))[0]()

    def _price(self) -> tuple[str, str, Any]:
        path, body = self.chance.choice(PRICED)
        start = self.today + timedelta(days=self.chance.choice((-1, 0, 0, 0, 0, 1, 1, 2)))
        ends = start + timedelta(days=self.chance.randint(0, 2)) if self.chance.random() < 0.2 else None
        return "POST", path, body | {"amount": f"{self.chance.randint(100, 3000) / 100:.2f}", "reference": "",
                                     "effective_from": start.isoformat(), "effective_to": ends and ends.isoformat()}

    def _withdrawal(self) -> tuple[str, str, Any]:
        if not self.posted:
            return self._price()
        path, price = self.posted.pop(self.chance.randrange(len(self.posted)))
        return "POST", f"{path}/{price}/withdrawal", {"reason": "a slip of the pen"}

    def _dish(self) -> tuple[str, str, Any]:
        path, body = self.chance.choice(DISHES)
        return "PUT", path, body | self._starts() | {"menu_price": f"{self.chance.randint(20, 80) / 2:.2f}"}

    def _recipe(self) -> tuple[str, str, Any]:
        path, body = self.chance.choice(RECIPES)
        return "PUT", path, body | self._starts() | {"labour_minutes": str(self.chance.randint(0, 60))}

    def _settings(self) -> tuple[str, str, Any]:
        path, body = SETTINGS[0]
        return "PUT", path, body | self._starts() | {"labour_rate_per_hour": f"{self.chance.randint(12, 30)}.00"}

    def _test(self) -> tuple[str, str, Any]:
        path, body = self.chance.choice(TESTED)
        return "POST", path, body | {"tested_on": self.today.isoformat()}

    def _starts(self) -> dict[str, str]:
        return {"effective_from": (self.today + timedelta(days=self.chance.choice((0, 0, 1, 2)))).isoformat()}
