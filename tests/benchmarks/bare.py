"""A bare Flask view that answers with constant bytes: the rate that a service of this stack could have at best.

    BENCHMARK_ANSWERS=folder python -m tests.benchmarks.bare --port 52181 --workers 2 --threads 16

The folder has one file per answer, those that end in `.gz` being compressed; the tag is constant, and a request that
holds it gets a 304. It is served by the service's own server with the service's own settings.
"""

import argparse
import os
from pathlib import Path

from flask import Flask, Response, request

from service.cli.gunicorn_server import Server, server_settings
from service.settings import Settings

TAG = '"constant"'


def bare_app(folder: Path) -> Flask:
    """The view over the files of a folder."""
    answers = {path.name: path.read_bytes() for path in folder.iterdir()}
    app = Flask(__name__)

    @app.get("/<name>")
    def constant(name: str) -> Response:
        headers = {"ETag": TAG} | ({"Content-Encoding": "gzip"} if name.endswith(".gz") else {})
        if request.headers.get("If-None-Match") == TAG:
            return Response(status=304, headers=headers)
        return Response(answers[name], mimetype="application/json", headers=headers)

    return app


def main() -> None:
    parser = argparse.ArgumentParser(description="A bare view of constant bytes.")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--workers", type=int, required=True)
    parser.add_argument("--threads", type=int, required=True)
    parser.add_argument("--worker-class", default="gthread")
    asked = parser.parse_args()
    told = server_settings(Settings(port=asked.port, threads=asked.threads), asked.workers, lambda _address: None)
    Server(told | {"worker_class": asked.worker_class},
           lambda: bare_app(Path(os.environ["BENCHMARK_ANSWERS"]))).run()


if __name__ == "__main__":
    main()
