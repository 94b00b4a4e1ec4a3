"""The API document's maker: flask-smorest's, with every correction that is not a blueprint's.

Corrections: decimals and enumerations by type (1, 3), constants as `const` (4), problems instead of private errors (6),
no catch-all default (18), closed requests and open answers (19), our own component names (21), no pagination leftovers
(22), no docs pages from elsewhere (24), bounded integers in paths (25).
"""

from collections.abc import Mapping
from inspect import cleandoc
from typing import Any
from unicodedata import normalize

import flask_smorest
import marshmallow as ma
from apispec.ext.marshmallow import MarshmallowPlugin
from apispec.ext.marshmallow.openapi import OpenAPIConverter
from flask import Flask
from werkzeug.routing import BaseConverter, ValidationError

from service.domain.supplier_item import LONGEST_CODE
from service.rest.comma_lists import CommaList, as_one_parameter
from service.rest.fields.choices import Choice, Fixed, Flag, OneOf
from service.rest.fields.numbers import ExactDecimal, Figure, Whole
from service.rest.fields.texts import Code, Text
from service.rest.fields.times import Day, Moment
from service.rest.openapi_layer.components import (
    CODE_SCHEMA,
    HEADERS,
    PARAMETERS,
    PROBLEM_RESPONSES,
    SECURITY_SCHEMES,
    WEBHOOK_HEADERS,
    problem_response,
)
from service.rest.openapi_layer.schemas import Problem, WholeOrSparse

OPENAPI_VERSION = "3.1.0"
TITLE = "Seamcost"
VERSION = "1.0.0"
_TYPES: Mapping[type, tuple[str, str | None]] = {
    ExactDecimal: ("string", "decimal"), Figure: ("string", "decimal"), Code: ("string", None), Text: ("string", None),
    Day: ("string", "date"), Moment: ("string", "date-time"), Flag: ("boolean", None), Whole: ("integer", None),
    Choice: ("string", None), OneOf: ("string", None), Fixed: ("string", None), CommaList: ("array", None)}
_DESCRIPTION = """What every cut, trim and dish costs, from the price of the primal.

Amounts are decimal text in answers, in the kitchen's one currency: costs to 4 decimals, percentages to 2, yields and
shares to 4. In requests they may be text or plain JSON numbers, which are read exactly. What is not known is `null`,
never 0, and `gaps` says what is missing.

A till polls `/v1/dish-costs` with a key that has `costs:read`. That key opens dish costs alone, of today and the last
35 days, at the head of the ledger. A dish's total is not anonymous: with one ingredient it gives that ingredient's
price by division. Keep the `ETag` and send it as `If-None-Match`: 304 says that nothing has moved. `/v1/changes` tells
what did.

Every figure is as of a day (`as_of`, the business day today unless given) and as known at a revision of the ledger
(`known_at`, the newest unless given). The same two always give the same digits. A price, a recipe or a menu price can
be recorded ahead: it counts from its first day on.

Lists come in pages: follow `next_cursor`, or the `Link` field, with the same parameters and key until it is null.
Every page is of one revision and one day, whoever writes meanwhile.

To replace or retire a record, send its revision as `If-Match`; a record that is new needs none. To be safe against a
lost answer, give a POST an `Idempotency-Key`, and repeat it.

Whatever goes wrong is answered as a problem document (RFC 9457) that lists everything that is wrong, each with its
place. Unknown parameters and members are refused. Answers may gain members, and lists of codes new words where a
description says that more may come: skip those that you do not know. What else may change within v1, what may not,
and how an end is announced twelve months ahead, stands at `/docs/versioning`. Errors of the HTTP server itself (400,
414 and 431 for a request line or header field that is no HTTP or too long) are short HTML pages."""


class CodeConverter(BaseConverter):
    """A code in a path. The gate says what is wrong with one that is none."""

    regex = "[^/]+"


class ItemCodeConverter(BaseConverter):
    """A supplier's own code for an item, in a path: slashes too, which look the same once decoded.

    In NFC, as all text that comes in; the use case says what is wrong with one that is none.
    """

    regex = "(?s:.+)"
    part_isolating = False

    def to_python(self, value: str) -> str:
        return normalize("NFC", value)


class BoundedInteger(BaseConverter):
    """A whole number in a path, at most 15 ASCII digits: never beyond what 64 bits hold."""

    regex = "[0-9]{1,15}"

    def to_python(self, value: str) -> int:
        if not value.isascii():
            raise ValidationError
        return int(value)


class ExactConverter(OpenAPIConverter):
    """Schemas as JSON Schema: with the fields' own facts, and the members that a PUT accepts and ignores."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.field_mapping = dict(self.field_mapping) | _TYPES
        self.add_attribute_function(exact_facts)
        self.add_parameter_attribute_function(as_one_parameter)

    def schema2jsonschema(self, schema: Any) -> dict[str, Any]:
        """The library's, with the class's docstring, and `readOnly` members where the schema names some."""
        told = super().schema2jsonschema(schema)
        told.setdefault("description", cleandoc(type(schema).__doc__ or ""))
        if getattr(schema, "HAS_FURTHER_MEMBERS", False):
            told["additionalProperties"] = True
        if hasattr(schema, "ASKED_BY"):
            told["x-asked-by"] = schema.ASKED_BY
        for name in getattr(schema, "READ_ONLY", ()):
            told["properties"].setdefault(name, {"readOnly": True, "description": "Given in answers; ignored here."})
        return told


class ExactPlugin(MarshmallowPlugin):
    """The library's plugin with our converter."""

    Converter = ExactConverter


class Api(flask_smorest.Api):
    """flask-smorest's Api, corrected."""

    ERROR_SCHEMA = Problem
    DEFAULT_ERROR_RESPONSE_NAME = None

    def __init__(self, app: Flask) -> None:
        app.config.update(API_TITLE=TITLE, API_VERSION=VERSION, OPENAPI_VERSION=OPENAPI_VERSION,
                          OPENAPI_URL_PREFIX=None)
        self._undescribed: list[flask_smorest.Blueprint] = []
        app.url_map.converters |= {"code": CodeConverter, "item": ItemCodeConverter, "int": BoundedInteger}
        super().__init__(app, spec_kwargs={
            "marshmallow_plugin": ExactPlugin(),
            "info": {"description": _DESCRIPTION, "license": {"name": "MIT", "identifier": "MIT"},
                     "contact": {"name": "The Seamcost project"}},
            "servers": [{"url": "/", "description": "The host that serves this document."}]})
        self.register_converter(CodeConverter, lambda _converter: dict(CODE_SCHEMA))
        self.register_converter(ItemCodeConverter, lambda _converter: {
            "type": "string", "minLength": 1, "maxLength": LONGEST_CODE})
        self.register_converter(BoundedInteger, lambda _converter: {
            "type": "integer", "minimum": 0, "maximum": 10**15 - 1})

    def register_blueprint(self, blp: flask_smorest.Blueprint, **options: Any) -> None:
        """Take a blueprint's views; `describe` puts them in the document."""
        self._app.extensions["flask-smorest"]["blp_name_to_api"][blp.name] = self
        self._app.register_blueprint(blp, **options)
        self._undescribed.append(blp)

    def describe(self) -> dict[str, Any]:
        """The document as the library collects it, of every blueprint so far. It takes most of the time in which an
        application is made, and few who are started are ever asked for it."""
        for blp in self._undescribed:
            blp.register_views_in_doc(self, self._app, self.spec, name=blp.name, parameters=None)
            self.spec.tag({"name": blp.name, "description": blp.description})
        self._undescribed.clear()
        return self.spec.to_dict()

    def _register_error_handlers(self) -> None:
        """Problems are answered by service.rest.problems, for faults and HTTP errors alike (6, 7)."""

    def _register_responses(self) -> None:
        for status, name in PROBLEM_RESPONSES.items():
            self.spec.components.response(name, problem_response(status))
        self.spec.components.response("NotModified", {"description": "Not Modified"})
        for name, header in HEADERS.items():
            self.spec.components.header(name, dict(header))
        for name, parameter in (PARAMETERS | WEBHOOK_HEADERS).items():
            self.spec.components.parameter(name, "header", dict(parameter))
        for name, scheme in SECURITY_SCHEMES.items():
            self.spec.components.security_scheme(name, dict(scheme))

    def _register_etag_headers(self) -> None:
        """Ours are registered with the responses."""

    def _register_pagination_header(self) -> None:
        """Pages go by cursor; its schema would be a leftover in the document (22, 23)."""


def exact_facts(converter: Any, field: ma.fields.Field[Any], ret: dict[str, Any], **_options: Any) -> dict[str, Any]:
    """A field's own facts in the document; the numbers that a request may hold; no default that is null."""
    facts = dict(field.facts()) if hasattr(field, "facts") else {}
    if isinstance(field, CommaList):
        facts["items"] = converter.field2property(field.inner)
    if isinstance(field, WholeOrSparse):
        facts["anyOf"] = [{"$ref": ret.pop("$ref")}, converter.resolve_nested_schema(field.sparse)]
    if isinstance(field, ExactDecimal) and field.accepts_numbers:
        kinds = ret["type"] if isinstance(ret["type"], list) else [ret["type"]]
        facts["type"] = [kinds[0], "number", *kinds[1:]]
    if "default" in ret and ret["default"] is None:
        del ret["default"]
    return facts
