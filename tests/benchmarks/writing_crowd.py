"""Writers in a process of their own: half of them post prices, half put dishes, each as soon as it was answered.

    python -m tests.benchmarks.writing_crowd < plan.json

The plan: `port`, `key`, `seconds`, `writers` (how many), `goods` and `dishes` (codes, of which each writer of dishes
has its own part, so that no two meet on one), `pause` (seconds between two writes of a writer). A dish is read with its
tag and put back under it with another menu price. Prints what crowd.py does, for prices, reads before a put, and puts.
"""

import http.client
import json
import sys
import threading
import time
from collections import Counter
from collections.abc import Mapping
from random import Random
from typing import Any

from tests.benchmarks.crowd import LOST, told

PRICE, BEFORE, PUT = "price posted", "dish read before its put", "dish put"


class Writer:
    """One who writes, on a connection of its own."""

    def __init__(self, plan: Mapping[str, Any], number: int) -> None:
        self._plan, self._number, self._chance = plan, number, Random(number)
        self._connection = http.client.HTTPConnection("127.0.0.1", plan["port"], timeout=60)
        self.took: dict[str, list[float]] = {PRICE: [], BEFORE: [], PUT: []}
        self.statuses: dict[str, Counter[str]] = {kind: Counter() for kind in self.took}

    def write_until(self, until: float) -> None:
        while time.monotonic() < until:
            if self._number % 2:
                self._put_dish()
            else:
                self._post_price()
            time.sleep(self._plan.get("pause", 0))
        self._connection.close()

    def _post_price(self) -> None:
        good = self._chance.choice(self._plan["goods"])
        self._ask(PRICE, "POST", f"/v1/ingredients/{good}/prices", {
            "supplier": "fenmoor", "amount": f"{self._chance.randint(50, 4_000) / 100:.2f}", "pack_quantity": "1",
            "pack_unit": "kg"})

    def _put_dish(self) -> None:
        own = self._plan["dishes"][self._number // 2::max(1, self._plan["writers"] // 2)]
        path = f"/v1/dishes/{self._chance.choice(own)}"
        found, tag = self._ask(BEFORE, "GET", path)
        if found is not None:
            self._ask(PUT, "PUT", path, found | {"menu_price": f"{self._chance.randint(12, 180) / 2:.2f}"}, tag)

    def _ask(self, kind: str, method: str, path: str, body: object = None, tag: str = "") -> tuple[Any, str]:
        """The body and the tag of an answer; no body where it is refused or lost."""
        sent = {"Authorization": f"Bearer {self._plan['key']}", "Content-Type": "application/json"} | (
            {"If-Match": tag} if tag else {})
        began = time.monotonic()
        try:
            self._connection.request(method, path, json.dumps(body) if body else None, sent)
            answer = self._connection.getresponse()
            found = answer.read()
        except (OSError, http.client.HTTPException):
            self._connection.close()
            self.statuses[kind][LOST] += 1
            return None, ""
        self.took[kind].append((time.monotonic() - began) * 1e3)
        self.statuses[kind][str(answer.status)] += 1
        return (json.loads(found), answer.headers.get("ETag", "")) if answer.status < 300 else (None, "")


def write(plan: Mapping[str, Any]) -> dict[str, Any]:
    """Carry out a plan."""
    writers = [Writer(plan, number) for number in range(plan["writers"])]
    began = time.monotonic()
    threads = [threading.Thread(target=writer.write_until, args=(began + plan["seconds"],)) for writer in writers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    seconds = time.monotonic() - began
    return {kind: told([one for writer in writers for one in writer.took[kind]],
                       sum((writer.statuses[kind] for writer in writers), Counter()), seconds)
            for kind in (PRICE, BEFORE, PUT)}


if __name__ == "__main__":
    print(json.dumps(write(json.load(sys.stdin))))
