"""What comes in, by schema: bodies through our reader, queries strictly, every fault told at once.

Corrections: unknown query parameters are refused and not dropped (14); a body of another media type is 415 and not an
empty body (16); duplicate names, NaN and surrogates do not get in (17).
"""

from typing import Any, NoReturn

import marshmallow as ma
from flask import Request
from webargs.flaskparser import FlaskParser

from service.domain.errors import Refused
from service.rest.good_queries import remember
from service.rest.reading import BODY_LIMIT, hold_to_media_type, kept_body, parsed_json
from service.rest.sentences import faults_of


class ArgumentParser(FlaskParser):
    """The parser behind `Blueprint.arguments`."""

    DEFAULT_UNKNOWN_BY_LOCATION = {**FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION, "query": ma.RAISE, "json": None}  # noqa: RUF012

    def load_json(self, req: Request, schema: ma.Schema) -> Any:
        """The body as JSON; a schema may set its own `BODY_LIMIT`."""
        hold_to_media_type(req)
        return parsed_json(kept_body(req, getattr(schema, "BODY_LIMIT", BODY_LIMIT)))

    def load_querystring(self, req: Request, schema: ma.Schema) -> Any:  # noqa: ARG002
        """The query. What is given twice is a list, or the gate has refused it: many clients write a list so."""
        return {name: ",".join(values) for name, values in req.args.lists()}

    def parse(self, argmap: Any, req: Request | None = None, **options: Any) -> Any:
        """As the library does, but a query that was good before costs no schema work again: tills ask the same."""
        request = req if req is not None else self.get_default_request()
        if options.get("location") != "query" or not isinstance(argmap, ma.Schema):
            return super().parse(argmap, req, **options)
        remembered: dict[bytes, Any] = argmap.__dict__.setdefault("_good_queries", {})
        loaded = remembered.get(request.query_string)
        if loaded is None:
            loaded = super().parse(argmap, req, **options)
            remember(remembered, request.query_string, loaded)
        return dict(loaded)

    def handle_error(self, error: ma.ValidationError, req: Request, schema: ma.Schema, **options: Any) -> NoReturn:  # noqa: ARG002
        """All that is wrong, as one fault."""
        raise Refused([fault for location, messages in error.normalized_messages().items()
                       for fault in faults_of(messages, location)])
