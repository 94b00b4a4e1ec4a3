"""A bare Flask view that answers with constant bytes: the rate that a service of this stack could have at best.

BENCHMARK_ANSWERS names a folder with one file per answer; its tag is constant, and a request that holds it gets a 304.
"""

import os
from pathlib import Path

from flask import Flask, Response, request

TAG = '"constant"'
ANSWERS = {path.name: path.read_bytes() for path in Path(os.environ["BENCHMARK_ANSWERS"]).iterdir()}
app = Flask(__name__)


@app.get("/<name>")
def constant(name: str) -> Response:
    if request.headers.get("If-None-Match") == TAG:
        return Response(status=304, headers={"ETag": TAG})
    return Response(ANSWERS[name], mimetype="application/json", headers={"ETag": TAG})
