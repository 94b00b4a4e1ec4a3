"""What being watched costs a poll that found nothing new (304): the same requests with metrics and logs, and without.

    python -m tests.benchmarks.watched [--turns 300] [--requests 60] [--dishes 200]

In one process, by WSGI, without a socket: what is added is a larger part of this than of a request over HTTP. Sides are
asked in turns so short that what else the machine does meets all of them; the ratio of their processor time is taken
per turn, and told are its median and its quartiles. A second side without metrics says how far that can be trusted:
its ratio should be 1. Counts are kept in memory, as the server keeps them.
"""

import argparse
import io
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from flask import Flask

from service import wiring
from service.cli.gunicorn_server import MEMORY_FOLDER
from service.settings import Settings
from tests.benchmarks.kitchens import filled
from tests.benchmarks.results import Asked, Result

PLAIN, AGAIN, METRICS = "neither", "neither, again", "metrics"
PORT = 9_464
AIM = 1.03
Polls = Mapping[str, Callable[[], str]]


def sides(database_url: str) -> Mapping[str, Flask]:
    """The service without metrics, the same once more, and with them."""
    settings = Settings(database_url=database_url, log_format="json")
    return {PLAIN: wiring.web_app(settings), AGAIN: wiring.web_app(settings),
            METRICS: wiring.web_app(replace(settings, metrics_port=PORT))}


def poll(app: Flask, key: str, path: str, tag: str) -> Callable[[], str]:
    """One request, as gunicorn would hand it over; gives the status."""
    environ = {"REQUEST_METHOD": "GET", "SCRIPT_NAME": "", "PATH_INFO": path, "QUERY_STRING": "", "SERVER_NAME": "x",
               "SERVER_PORT": "8765", "SERVER_PROTOCOL": "HTTP/1.1", "wsgi.version": (1, 0), "wsgi.url_scheme": "http",
               "wsgi.input": io.BytesIO(), "wsgi.errors": io.StringIO(), "wsgi.multithread": True,
               "wsgi.multiprocess": True, "wsgi.run_once": False, "HTTP_AUTHORIZATION": f"Bearer {key}",
               "HTTP_IF_NONE_MATCH": tag}
    told: list[Any] = []

    def ask() -> str:
        told.clear()
        for _ in app.wsgi_app(dict(environ), lambda status, fields, _exc=None: told.extend((status, fields))):
            pass
        return str(told[0])

    ask()
    environ["HTTP_IF_NONE_MATCH"] = dict(told[1]).get("ETag", tag)
    return ask


@contextmanager
def polls_of_all(dishes: int) -> Iterator[Polls]:
    """A poll of one dish of a menu by each side."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder)}/ledger.db"
        kitchen = filled(url, dishes)
        from service.watching.worker_files import make_folder

        counts = make_folder(MEMORY_FOLDER if MEMORY_FOLDER.is_dir() else Path(folder))
        try:
            yield {name: poll(app, kitchen.till, f"/v1/dish-costs/{kitchen.dish}", '""')
                   for name, app in sides(url).items()}
        finally:
            shutil.rmtree(counts)


def spent(polls: Polls, turns: int, requests: int) -> dict[str, list[float]]:
    """Microseconds of processor time a poll, by side and turn. Who comes first changes from turn to turn."""
    found: dict[str, list[float]] = {name: [] for name in polls}
    names = list(polls)
    for turn in range(turns):
        for name in (*names[turn % 3:], *names[:turn % 3]):
            ask = polls[name]
            if not (status := ask()).startswith("304"):
                raise SystemExit(f"{name}: {status}")
            begun = time.process_time()
            for _ in range(requests):
                ask()
            found[name].append((time.process_time() - begun) / requests * 1e6)
    return found


def over_plain(times: Mapping[str, list[float]], side: str) -> list[float]:
    """A side's time over that of the side without metrics, turn by turn."""
    return [one / plain for one, plain in zip(times[side], times[PLAIN], strict=True)]


def results(asked: Asked) -> Iterator[Result]:
    """What counting adds, and how far that can be trusted: each value is the median of a round's turns."""
    turns, requests = asked.of(5, 60, 300), asked.of(5, 60, 60)
    with polls_of_all(asked.of(20, 200, 200)) as polls:
        rounds = [spent(polls, turns, requests) for _ in range(asked.rounds)]
    for side, what, aim in ((METRICS, "a poll of 304 that is counted", AIM),
                            (AGAIN, "the same once more, not counted", None)):
        yield Result(what, "one that is not counted", tuple(median(over_plain(times, side)) for times in rounds),
                     at_most=aim)


def main(asked: argparse.Namespace) -> None:
    with polls_of_all(asked.dishes) as polls:
        times = spent(polls, asked.turns, asked.requests)
    for name, each in times.items():
        low, middle, high = quantiles(over_plain(times, name), n=4)
        print(f"{name:16}{median(each):8.1f} us CPU a poll   {middle:5.3f} ({low:.3f}..{high:.3f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--turns", type=int, default=300)
    parser.add_argument("--requests", type=int, default=60)
    parser.add_argument("--dishes", type=int, default=200)
    main(parser.parse_args())
