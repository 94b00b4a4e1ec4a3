"""T06: one request, one effect, over a network that loses requests, answers and connections.

Four writers (steady_writers.py) send prices with an Idempotency-Key and notes with If-Match through a proxy
(unreliable_proxy.py) that drops, cuts and resets, and send each again until it is answered; some they send once more
when they have been answered. A case is an acknowledged write. Held afterwards: as many effects as words, each repeat
answered as the first, and the whole ledger (whole_ledger.py). A key that stands for another request is refused, and
has no effect.
"""

import threading
import time

import requests

from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.served import served
from tests.reliability.steady_writers import INGREDIENT, Crew, Writer, prepare
from tests.reliability.unreliable_proxy import unreliable_proxy
from tests.reliability.whole_ledger import look_at

WRITERS = 4


def one_effect(run: Run) -> Verdict:
    """Write through the proxy until `run.cases` writes are acknowledged."""
    prepare(run.database_url)
    with served(run.database_url, run.folder, run.sabotage) as service:
        key = service.a_key("admin")
        with unreliable_proxy(service.address, run.seed) as proxy:
            crew = Crew([Writer(proxy.address, key, f"writer-{number}", run.seed) for number in range(WRITERS)],
                        threading.Event())
            crew.begin()
            while crew.acknowledged < run.cases and run.in_time and not crew.faults:
                time.sleep(0.02)
            crew.end()
            lost = sum(count for fate, count in proxy.came.items() if fate != "passed")
            came = dict(proxy.came)
        faults = [*crew.faults, *_other_request(service.address, key)]
    look = look_at(run.database_url, crew.writers)
    if lost == 0:
        faults.append("the proxy lost nothing: it was no test")
    effects = f"{look.stored} of {crew.acknowledged} words"
    return Verdict(crew.acknowledged, tuple((faults + look.faults)[:20]), {
        "effects": effects, "repeats": sum(writer.repeated for writer in crew.writers),
        "tries without answer": sum(writer.unanswered for writer in crew.writers), **came})


def _other_request(address: str, key: str) -> list[str]:
    """What is wrong with the answers when a key is used for another request."""
    body = {"supplier": "fenmoor", "amount": "1.00", "pack_quantity": "1", "pack_unit": "kg"}
    headers = {"Authorization": f"Bearer {key}", "Idempotency-Key": "writer-0-1".zfill(16)}
    other = requests.post(f"{address}/v1/ingredients/{INGREDIENT}/prices", json=body, headers=headers, timeout=60)
    return [] if other.status_code == 422 and other.json()["type"].endswith("idempotency-key-reused") else [
        f"a key of another request was answered {other.status_code} {other.text[:200]}"]


PROGRAMME = Programme(
    "one_effect", "T06", "one request has one effect, however often it is sent", "acknowledged writes", 400, 20_000,
    one_effect, sabotages=("no_idempotency", "lost_write"))
