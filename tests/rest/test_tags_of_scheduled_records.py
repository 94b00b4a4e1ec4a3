"""Tags of records that are scheduled: what comes into force at midnight has another tag, without a write."""

from datetime import timedelta

from tests.rest.small_kitchen import DISH, Kitchen


def test_a_record_that_is_still_to_start_has_another_tag_once_it_has_started(kitchen: Kitchen) -> None:
    start = (kitchen.ledger.today() + timedelta(days=7)).isoformat()
    kitchen.keep("/v1/dishes/next-week", DISH | {"effective_from": start})
    waiting = kitchen.client.get("/v1/dishes/next-week", headers=kitchen.headers)
    started = kitchen.client.get(f"/v1/dishes/next-week?as_of={start}", headers=kitchen.headers)
    assert (waiting.json["scheduled"], started.json["scheduled"]) == ([start], [])
    assert waiting.headers["ETag"] != started.headers["ETag"]


def test_either_tag_is_taken_for_a_change(kitchen: Kitchen) -> None:
    start = (kitchen.ledger.today() + timedelta(days=7)).isoformat()
    kitchen.keep("/v1/dishes/week-after", DISH | {"effective_from": start})
    for change, query in enumerate(("", f"?as_of={start}")):
        tag = kitchen.client.get(f"/v1/dishes/week-after{query}", headers=kitchen.headers).headers["ETag"]
        answer = kitchen.client.put("/v1/dishes/week-after", headers=kitchen.headers | {"If-Match": tag}, json=DISH | {
            "effective_from": start, "name": f"Soup {change}"})
        assert answer.status_code == 200, answer.text


def test_one_tag_never_stands_for_two_documents_while_days_go_by(kitchen: Kitchen) -> None:
    """Also where the version that starts next is not the one that was recorded last."""
    today, path = kitchen.ledger.today(), "/v1/dishes/seasons"
    for start, name in ((2, "Thin soup"), (4, "Soup"), (3, "Thick soup")):
        kitchen.keep(path, DISH | {"name": name, "portions": str(start),
                                   "effective_from": (today + timedelta(days=start)).isoformat()})
    documents: dict[str, set[str]] = {}
    for later in range(6):
        answer = kitchen.client.get(f"{path}?as_of={today + timedelta(days=later)}", headers=kitchen.headers)
        documents.setdefault(answer.headers["ETag"], set()).add(answer.text)
    assert len(documents) == 4
    assert [told for told in documents.values() if len(told) > 1] == []
