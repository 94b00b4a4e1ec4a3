"""Health: does the process answer, and can it do its work. Open, never stored, and without detail to the outside.

Source: the shape (status pass or fail) of the lapsed health-check draft, which orchestrators' users know.
"""

import logging
from collections.abc import Callable, Mapping

from flask import Response, json

from service.rest.api_keys import open_to_all
from service.rest.exact_fields import OneOf, says
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.schemas import Answer

MEDIA_TYPE = "application/health+json"
_LOG = logging.getLogger("seamcost.health")


class Health(Answer):
    """Whether all is well."""

    status = OneOf(("pass", "fail"), metadata=says("pass: all is well."))


def health(readiness: Callable[[], Mapping[str, bool]], unavailable: tuple[type[Exception], ...] = ()) -> Blueprint:
    """`/health/live` touches nothing; `/health/ready` asks `readiness`, and answers 503 when something is not well.

    `unavailable` are the errors that mean so too.
    """
    blueprint = Blueprint("health", "Whether the service is up and ready.", url_prefix="/health")

    @blueprint.get("/live")
    @open_to_all
    @blueprint.response(200, Health, content_type=MEDIA_TYPE)
    def check_live() -> Response:
        """Ask whether the process answers.

        Touches nothing else: for what restarts a process that hangs.
        """
        return _answer(True)

    @blueprint.get("/ready")
    @open_to_all
    @blueprint.response(200, Health, content_type=MEDIA_TYPE)
    @blueprint.alt_response(503, schema=Health, content_type=MEDIA_TYPE, description="Service Unavailable")
    def check_ready() -> Response:
        """Ask whether the service can do its work.

        503 while the database cannot be reached or is not migrated: for what sends requests only to who can answer.
        """
        try:
            unwell = sorted(name for name, well in readiness().items() if not well)
        except unavailable as error:
            unwell = [str(error)]
        if unwell:
            _LOG.warning("not ready: %s", ", ".join(unwell))
        return _answer(not unwell)

    return blueprint


def _answer(well: bool) -> Response:
    return Response(json.dumps({"status": "pass" if well else "fail"}), 200 if well else 503, content_type=MEDIA_TYPE)
