"""Two people accept the same proposal at the same moment: one wins, the other is told, never half of it is there.

`SEAMCOST_RACES=200` is the long run, by hand.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Barrier
from typing import Any

import requests

from tests.stories.running_service import Client, RunningService

ROUNDS = int(os.environ.get("SEAMCOST_RACES", "15"))
ITEMS = ("beef-topside", "whole-salmon", "beef-bones")


def test_of_two_acceptances_at_once_one_wins_and_none_is_half_done(service: RunningService) -> None:
    finance = service.client("read", "prices:write")
    for code in ITEMS:
        item = {"name": f"Race {code}", "ingredient": code, "priced_per": "kg",
                "pack": {"name": "bag", "count": "1", "quantity": "5", "unit": "kg"}}
        assert finance.put(f"/v1/suppliers/fenmoor/items/race-{code}", item).status_code == 201
    approvers = [replace(service.client("read", "prices:approve"), session=requests.Session()) for _ in range(2)]
    lost = 0
    with ThreadPoolExecutor(2) as pool:
        for number in range(ROUNDS):
            proposal = _propose(finance, number)
            before = finance.head_revision()
            answers = _at_once(pool, approvers, proposal)
            assert sorted(answer.status_code for answer in answers) == [200, 409], [a.text for a in answers]
            winner, loser = sorted(answers, key=lambda answer: answer.status_code)
            assert loser.json()["type"] == "/docs/problems/proposal-closed"
            assert winner.json()["acceptance"]["revision"] == before + 1 == finance.head_revision()
            recorded = [entry for entry in _entries(finance, before + 1) if entry["kind"] == "price"]
            lost += len(recorded) != len(ITEMS)
    assert lost == 0


def _propose(finance: Client, number: int) -> str:
    """Three prices that no round before has had, so that each round has something to record."""
    lines = [f"race-{code};{10 + number / 100 + place:.2f}" for place, code in enumerate(ITEMS)]
    content = "\n".join(["Item code;Price", *lines, ""]).encode()
    answer = finance.send_file(
        f"/v1/price-proposals?supplier=fenmoor&effective_from=2027-01-04&file_name=round-{number}.csv", content)
    assert answer.status_code == 201, answer.text
    counts = answer.json()["counts"]
    assert counts["rows"] - counts["blocked"] - counts["unchanged"] == len(ITEMS), answer.text
    return str(answer.json()["id"])


def _at_once(pool: ThreadPoolExecutor, approvers: list[Client], proposal: str) -> list[requests.Response]:
    gate = Barrier(len(approvers))
    body = {"overrides": [{"row": row, "reason": "A race."} for row in (1, 2, 3)]}

    def accept(approver: Client) -> requests.Response:
        gate.wait()
        return approver.post(f"/v1/price-proposals/{proposal}/acceptance", body)

    return list(pool.map(accept, approvers))


def _entries(finance: Client, revision: int) -> list[dict[str, Any]]:
    """The entries of one revision, from the end of the feed."""
    changes = finance.read(f"/v1/changes?limit=1000{_CURSOR.get(finance.key, '')}")
    _CURSOR[finance.key] = f"&after={changes['next_cursor']}"
    return [entry for entry in changes["data"] if entry["revision"] == revision]


_CURSOR: dict[str, str] = {}
