"""Keys: no wrong one opens, no good one is refused in rotation, and the time of a refusal tells nothing (T13).

Wrong keys of every kind (another secret behind an id that exists, an id that does not, one letter changed, cut, longer,
revoked, expired) are refused in the same words; threads ask without a pause with whichever key is the newest while keys
are made and revoked; and, in the long run alone, the times of refusals of an id that exists and one that does not are
held to each other by a rank test (Mann and Whitney). At p over 0.01 nothing can be told; at less they are timed anew,
and it is a fault if these, too, are told apart: of times that tell nothing one long run in 10 000 is. No time is judged
in a test.
"""

import random
import string
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from statistics import median

from flask.testing import FlaskClient
from scipy.stats import mannwhitneyu

from service import operating, wiring
from service.persistence.ledger import SqlLedger
from service.settings import Settings
from service.use_cases import asking_key as asking
from service.use_cases.keys import create_key, revoke_key
from service.use_cases.ports import Asker
from tests.reliability.programme import Programme, Run, Verdict
from tests.reliability.sabotage import broken

ASKER = Asker("cli", "keys", "keys")
PATH = "/v1/dish-costs"
ROTATIONS, ASKING = 20, 3
TIMED_FROM = 20_000
"""With so many cases as many pairs are timed."""
FEWEST_PAIRS = 5_000
"""That are timed, though the time is up: some seconds."""
TOLD_APART = 0.01
LETTERS = string.ascii_letters + string.digits + "-_"


def run(told: Run) -> Verdict:
    """Try so many wrong keys; rotate; time refusals where there are enough cases."""
    settings = Settings(database_url=told.database_url, requests_per_minute=0)
    with operating.opened_ledger(settings) as ledger, broken(told.sabotage):
        client = wiring.app_on(ledger, settings).test_client()
        rotations = min(ROTATIONS, max(1, told.cases // ROTATIONS))
        tried, faults = _guessed(client, ledger, told)
        faults += _rotated(client, ledger, rotations)
        figures: dict[str, object] = {"rotations": rotations}
        if told.cases >= TIMED_FROM:
            timed, wrong = _timed(ledger, told)
            figures |= timed
            faults += wrong
    return Verdict(tried, tuple(faults), figures)


def _made(ledger: SqlLedger) -> tuple[str, str]:
    document = create_key(ledger, "till", ["costs:read"], None, ASKER).document
    return document["id"], document["key"]


def expired_key(ledger: SqlLedger) -> str:
    """An admin's key that was made two days ago and ended an hour later."""
    then = wiring.system_clock() - timedelta(days=2)
    key: str = create_key(SqlLedger(ledger._engines, lambda: then), "expired", ["admin"], then + timedelta(hours=1),
                          ASKER).document["key"]
    return key


def _guessed(client: FlaskClient, ledger: SqlLedger, told: Run) -> tuple[int, list[str]]:
    """How many wrong keys were tried, and what was wrong."""
    known, good = _made(ledger)
    revoked_id, revoked = _made(ledger)
    expired = expired_key(ledger)
    revoke_key(ledger, revoked_id, ASKER)
    chance = random.Random(told.seed)
    kinds: list[Callable[[], str]] = [
        lambda: f"seam_{known}_{_letters(chance)}", lambda: f"seam_{chance.randrange(16**8):08x}_{_letters(chance)}",
        lambda: _one_letter_changed(chance, good), lambda: good[:-chance.randrange(1, 20)],
        lambda: good + chance.choice(LETTERS), lambda: good.swapcase(), lambda: revoked, lambda: expired]
    words, tried, faults = set(), 0, list[str]()
    while tried < told.cases and told.in_time and not faults:
        kind = tried % len(kinds)
        answer = client.get(PATH, headers={"Authorization": f"Bearer {kinds[kind]()}"})
        words.add((answer.status_code, answer.json.get("detail"), answer.headers.get("WWW-Authenticate")))
        if answer.status_code != 401:
            faults.append(f"a key of kind {kind} was answered with {answer.status_code}")
        tried += 1
    if not faults and len(words) > 1:
        faults.append(f"refusals differ: {sorted(map(str, words))}")
    if client.get(PATH, headers={"Authorization": f"Bearer {good}"}).status_code != 200:
        faults.append("after all that the good key is refused")
    return tried, faults


def _letters(chance: random.Random) -> str:
    return "".join(chance.choices(LETTERS, k=43))


def _one_letter_changed(chance: random.Random, key: str) -> str:
    place = chance.randrange(len("seam_12345678_"), len(key))
    return key[:place] + chance.choice(LETTERS.replace(key[place], "")) + key[place + 1:]


def _rotated(client: FlaskClient, ledger: SqlLedger, rotations: int) -> Iterator[str]:
    """Two keys are good at a time: the newest, which is asked with, and the one before, until it is revoked."""
    key_id, key = _made(ledger)
    newest, refused, asked, done = [key], list[int](), [0] * ASKING, threading.Event()

    def ask(number: int) -> None:
        while not done.is_set():
            status = client.application.test_client().get(
                PATH, headers={"Authorization": f"Bearer {newest[0]}"}).status_code
            asked[number] += 1
            if status != 200:
                refused.append(status)

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(ASKING)]
    for thread in threads:
        thread.start()
    for _ in range(rotations):
        next_id, next_key = _made(ledger)
        newest[0] = next_key
        before, until = list(asked), time.monotonic() + 30
        while time.monotonic() < until and any(now < old + 2 for now, old in zip(asked, before, strict=True)):
            time.sleep(0.001)
        revoke_key(ledger, key_id, ASKER)
        key_id = next_id
    done.set()
    for thread in threads:
        thread.join(30)
    if refused:
        yield f"{len(refused)} of {sum(asked)} good requests were refused while keys were rotated: {set(refused)}"
    if min(asked) < rotations:
        yield f"too little was asked during the rotation to say anything: {asked}"


def _timed(ledger: SqlLedger, told: Run) -> tuple[dict[str, object], list[str]]:
    """Time refusals, once more where they seem to tell the kinds apart; figures, and a fault where they do again."""
    chance, known = random.Random(told.seed), _made(ledger)[0]
    callers = asking.Callers(ledger, wiring.system_clock, 0)
    seconds = _seconds(callers, known, chance, told)
    if (first := _chance_of(seconds)) > TOLD_APART:
        return _said(seconds, first), []
    seconds = _seconds(callers, known, chance, told)
    again = _chance_of(seconds)
    faults = [f"the time tells a known id from an unknown one: p = {first:.2g}, and {again:.2g} when timed anew"]
    return _said(seconds, again) | {"p before": f"{first:.2g}"}, faults if again <= TOLD_APART else []


def _seconds(callers: asking.Callers, known: str, chance: random.Random, told: Run) -> dict[str, list[float]]:
    """Seconds of refusals, in turns, by kind."""
    seconds: dict[str, list[float]] = {"known id": [], "unknown id": []}
    while len(seconds["known id"]) < told.cases and (told.in_time or len(seconds["known id"]) < FEWEST_PAIRS):
        ids = {"known id": known, "unknown id": f"{chance.randrange(16**8):08x}"}
        for name in chance.sample(sorted(ids), 2):
            key = f"seam_{ids[name]}_{_letters(chance)}"
            begun = time.perf_counter()
            callers.with_key(key)
            seconds[name].append(time.perf_counter() - begun)
    return seconds


def _chance_of(seconds: dict[str, list[float]]) -> float:
    """What the rank test says: how likely as great a difference is where there is none."""
    return float(mannwhitneyu(seconds["known id"], seconds["unknown id"]).pvalue)


def _said(seconds: dict[str, list[float]], p: float) -> dict[str, object]:
    medians: dict[str, object] = {f"median of {name}, microseconds": f"{median(times) * 1e6:.1f}"
                                  for name, times in seconds.items()}
    return {**medians, "pairs timed": len(seconds["known id"]), "p of known and unknown id": f"{p:.2g}"}


PROGRAMME = Programme(
    "keys", "T13", "no wrong key opens, no good one is refused in rotation", "wrong keys", 400, 100_000, run,
    sabotages=("expired_keys_open", "keys_found_by_their_id"))
