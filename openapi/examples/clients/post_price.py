"""Record what an ingredient costs from today on, and show what it does to a dish. Needs the package requests.

    SEAMCOST_URL=http://127.0.0.1:8000 SEAMCOST_KEY=seam_... \
        python post_price.py beef-topside fenmoor 14.90 1 kg grilled-cap

The key needs the scopes read and prices:write. Whatever is wrong is told field by field, and the exit status is 1.
"""

import os
import sys
import uuid

import requests

URL = os.environ["SEAMCOST_URL"].rstrip("/")
session = requests.Session()
session.headers["Authorization"] = f"Bearer {os.environ['SEAMCOST_KEY']}"


def food_cost(dish):
    """What a portion costs, as text: an amount is never put through a binary number on its way."""
    answer = session.get(f"{URL}/v1/dish-costs/{dish}", timeout=30)
    answer.raise_for_status()
    return answer.json()["food_cost"]


def post_price(ingredient, supplier, amount, quantity, unit):
    """Post it, and after no answer once more: under one Idempotency-Key it is recorded once."""
    once = {"Idempotency-Key": f'"{uuid.uuid4()}"'}
    price = {"supplier": supplier, "amount": amount, "pack_quantity": quantity, "pack_unit": unit}
    url = f"{URL}/v1/ingredients/{ingredient}/prices"
    try:
        return session.post(url, json=price, headers=once, timeout=30)
    except (requests.ConnectionError, requests.Timeout):
        return session.post(url, json=price, headers=once, timeout=30)


def main(ingredient, supplier, amount, quantity, unit, dish):
    before = food_cost(dish)
    answer = post_price(ingredient, supplier, amount, quantity, unit)
    if answer.status_code >= 400:  # a problem document (RFC 9457)
        problem = answer.json()
        print(problem["title"], file=sys.stderr)
        for fault in problem.get("errors", []):
            place = fault.get("pointer") or fault.get("parameter") or fault.get("header")
            print(place, fault["detail"], file=sys.stderr)
        return 1
    print(f"price {answer.json()['id']}")
    print(f"{dish} {before} {food_cost(dish)}")
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
