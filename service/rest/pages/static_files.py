"""The files that the pages load: finished bytes that hold nobody's figures, open to all, asked for again each time.

A page and its scripts belong together, so each load asks whether a file is still the one it has, and is told 304.
"""

from collections.abc import Mapping

import flask
from flask import Response, request

from service.rest.api_keys import open_to_all
from service.rest.conditional import prebuilt_answer
from service.rest.finished_files import finished
from service.rest.http_faults import NoSuchPath

_CURRENT = (("Cache-Control", "public, no-cache"),)
_MEDIA_TYPES = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8", "txt": "text/plain"}


def static_files(contents: Mapping[str, bytes]) -> flask.Blueprint:
    """`/static/<path>`."""
    blueprint = flask.Blueprint("static-files", "service.rest", url_prefix="/static")
    files = {name: finished(content, _MEDIA_TYPES[name.rpartition(".")[2]], _CURRENT)
             for name, content in contents.items()}

    @blueprint.get("/<path:name>")
    @open_to_all
    def read_static_file(name: str) -> Response:
        if name not in files:
            raise NoSuchPath("The pages load no such file.")
        return prebuilt_answer(files[name], request)

    return blueprint
