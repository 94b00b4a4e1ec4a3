"""Hold what every dish costs, by following the feed of changes alone. Needs the package requests.

    SEAMCOST_URL=http://127.0.0.1:8000 SEAMCOST_KEY=seam_... python follow_dish_costs.py dish-costs.json

Any key with the scope costs:read will do. The file holds the cursor and the dishes; they are written together, so
whenever this is stopped and started again, nothing is missed and nothing counts twice. With --once it ends when there
is nothing new.
"""

import json
import os
import sys
import time
from pathlib import Path

import requests

URL = os.environ["SEAMCOST_URL"].rstrip("/")
WAIT_SECONDS = 25  # the service holds the request for so long, until something moves


def kept(path):
    """What the file holds; without one, the feed begins, and brings the whole menu first."""
    return json.loads(path.read_text("utf-8")) if path.exists() else {"cursor": None, "dishes": {}}


def keep(path, state):
    """Replace the file in one step."""
    fresh = path.with_suffix(".new")
    fresh.write_text(json.dumps(state, indent=1, sort_keys=True), "utf-8")
    fresh.replace(path)


def take(state, page):
    """Bring the dishes to where a page of the feed leads."""
    for change in page["data"]:
        if change["after"] is None:  # no longer on the menu
            state["dishes"].pop(change["dish"], None)
        else:
            state["dishes"][change["dish"]] = change["after"]
        kinds = ", ".join(cause["kind"] for cause in change["causes"])
        print(change["as_of"], change["dish"], (change["after"] or {}).get("food_cost"), kinds, flush=True)
    state["cursor"] = page["next_cursor"]


def follow(path, once):
    state, session = kept(path), requests.Session()
    session.headers["Authorization"] = f"Bearer {os.environ['SEAMCOST_KEY']}"
    while True:
        asked = {"limit": 500, "wait": 0 if once else WAIT_SECONDS}
        if state["cursor"] is not None:
            asked["after"] = state["cursor"]
        try:
            answer = session.get(f"{URL}/v1/dish-costs/changes", params=asked, timeout=WAIT_SECONDS + 30)
        except (requests.ConnectionError, requests.Timeout):
            time.sleep(5)
            continue
        if answer.status_code not in (429, 503):  # those two say when to come back, and the cursor is still good
            answer.raise_for_status()
            page = answer.json()
            take(state, page)
            keep(path, state)
            if once and not page["more"]:
                return
        time.sleep(int(answer.headers.get("Retry-After", 0)))


if __name__ == "__main__":
    follow(Path(sys.argv[1]), "--once" in sys.argv[2:])
