"""What being watched costs a poll that found nothing new (304): the same requests with metrics and logs, and without.

    python -m tests.benchmarks.watched [--rounds 300] [--requests 60]

In one process, by WSGI, without a socket: what is added is a larger part of this than of a request over HTTP. Sides are
asked in turns so short that what else the machine does meets all of them; the ratio of their processor time is taken
per round, and told are its median and its quartiles. A second side without metrics says how far that can be trusted:
its ratio should be 1. Counts are kept in memory, as the server keeps them.
"""

import argparse
import io
import shutil
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from flask import Flask

from service import wiring
from service.cli.gunicorn_server import MEMORY_FOLDER
from service.settings import Settings
from tests.benchmarks.kitchens import filled

PLAIN, AGAIN = "neither", "neither, again"
PORT = 9_464


def sides(database_url: str) -> Mapping[str, Flask]:
    """The service without metrics, the same once more, and with them."""
    settings = Settings(database_url=database_url, log_format="json")
    return {PLAIN: wiring.web_app(settings), AGAIN: wiring.web_app(settings),
            "metrics": wiring.web_app(replace(settings, metrics_port=PORT))}


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


def main(asked: argparse.Namespace) -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder)}/ledger.db"
        kitchen = filled(url, asked.dishes)
        from service.watching.worker_files import make_folder

        counts = make_folder(MEMORY_FOLDER if MEMORY_FOLDER.is_dir() else Path(folder))
        polls = {name: poll(app, kitchen.till, f"/v1/dish-costs/{kitchen.dish}", '""')
                 for name, app in sides(url).items()}
        spent: dict[str, list[float]] = {name: [] for name in polls}
        for round_ in range(asked.rounds):
            names = list(polls)
            for name in (*names[round_ % 3:], *names[:round_ % 3]):
                ask = polls[name]
                if not ask().startswith("304"):
                    raise SystemExit(f"{name}: {ask()}")
                begun = time.process_time()
                for _ in range(asked.requests):
                    ask()
                spent[name].append((time.process_time() - begun) / asked.requests * 1e6)
        shutil.rmtree(counts)
        for name, times in spent.items():
            ratios = [one / plain for one, plain in zip(times, spent[PLAIN], strict=True)]
            low, middle, high = quantiles(ratios, n=4)
            print(f"{name:16}{median(times):8.1f} us CPU a poll   {middle:5.3f} ({low:.3f}..{high:.3f})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=300)
    parser.add_argument("--requests", type=int, default=60)
    parser.add_argument("--dishes", type=int, default=200)
    main(parser.parse_args())
