"""A resource's blueprint: each view says who may call, what comes in and what goes out, and is documented by that.

Example: a resource is a factory that receives its use cases.

    def suppliers(ledger: Ledger) -> Blueprint:
        blueprint = Blueprint("suppliers", "Who things are bought from.", url_prefix="/v1/suppliers")

        @blueprint.get("/<code:code>")
        @needs("read")
        @blueprint.response(200, SupplierAnswer, tagged=True)
        def read_supplier(code):
            '''Read a supplier.'''
            return read_record(ledger, SUPPLIER, code)

        @blueprint.put("/<code:code>")
        @needs("prices:write")
        @blueprint.arguments(SupplierRequest)
        @blueprint.conditional
        @blueprint.response(200, SupplierAnswer, created=True)
        def keep_supplier(supplier, condition, code):
            '''Create or replace a supplier.'''
            return kept(keep_record(ledger, SUPPLIER, code, supplier, None, condition, asker()))

        return blueprint

What comes in is given in the order of the decorators, then the path's parts by name. The function's name is the
operationId; its docstring the summary and, after a blank line, the description; `openapi/examples/<operationId>.json`
its examples. Which problems it can answer with follows from the decorators; `refuses(409)` adds what they cannot know.

Corrections: only query, body and header schemas, so that no document gets invalid `formData` (12, 13); a null default
in a query is refused (15); the true set of problems, by our own names (18, 21); no hashed tags, page numbers (8, 23).
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial, wraps
from typing import Any, TypeVar

import flask_smorest
import marshmallow as ma
from flask import Response, request

from service.rest.asking import note_idempotency_key
from service.rest.comma_lists import CommaList
from service.rest.conditional import condition_of, record_tag, tagged
from service.rest.every_answer import Prepared
from service.rest.openapi_layer.components import PROBLEM_RESPONSES, header_ref
from service.rest.openapi_layer.parser import ArgumentParser
from service.rest.openapi_layer.schemas import STOCK_FIELDS_REFUSED
from service.rest.query_faults import faults_of_values
from service.rest.reading import FileKind, hold_to_file, kept_body

View = TypeVar("View", bound=Callable[..., Any])
JSON = "application/json"
READ_LOCATIONS = ("json", "query", "headers")


class Blueprint(flask_smorest.Blueprint):
    """flask-smorest's blueprint, corrected."""

    ARGUMENTS_PARSER = ArgumentParser()

    def __init__(self, name: str, description: str, *, url_prefix: str) -> None:
        super().__init__(name, "service.rest", url_prefix=url_prefix, description=description)
        self._prepare_doc_cbks = [self._prepare_arguments_doc, self._prepare_response_doc, _problems_doc]

    def arguments(self, schema: Any, *, location: str = "json", **options: Any) -> Callable[[View], View]:
        """What comes in: a `Request` (the JSON body) or, with location="query", a `Query`."""
        if location not in READ_LOCATIONS:
            raise ValueError(f"{location!r} is not read here; use one of {', '.join(READ_LOCATIONS)}")
        instance = schema() if isinstance(schema, type) else schema
        _hold_to_exact_fields(instance, location)
        outer = super().arguments(instance, location=location, **options)

        def decorator(view: View) -> View:
            wrapper = outer(view)
            if location == "query":
                wrapper.parameters = {f.data_key or name: isinstance(f, CommaList) for name, f in
                                      instance.fields.items()}
                wrapper.faults_of_values = partial(faults_of_values, instance)
            return _with_problems(wrapper, {"json": (400, 413, 415, 422), "query": (422,), "headers": (400,)}[location])

        return decorator

    def response(self, status_code: int, schema: Any = None, *, tagged: bool = False, created: bool = False,
                 paged: bool = False, headers: dict[str, Any] | None = None, **options: Any) -> Callable[[View], View]:
        """What goes out. `tagged` gives a read its ETag (from the answer's `revision`) and answers 304.

        `created` documents 201 with Location beside 200, for a PUT; `paged` the Link field of a list.
        """
        told = dict(headers or {}) | {name: header_ref(name) for name, given in (("ETag", tagged), ("Link", paged))
                                      if given}
        outer = super().response(status_code, schema, headers=told or None, **options)

        def decorator(view: View) -> View:
            wrapper = outer(view)
            if created:
                wrapper = self.alt_response(201, schema=schema, success=True, headers={
                    "Location": header_ref("Location")})(wrapper)
            return _tagging(_with_not_modified(wrapper)) if tagged else wrapper

        return decorator

    def file(self, kind: FileKind) -> Callable[[View], View]:
        """Pass the body to the view as the bytes of a file, and document what may be sent."""

        def decorator(view: View) -> View:
            @wraps(view)
            def wrapper(*args: Any, **kwargs: Any) -> Any:
                hold_to_file(request, kind)
                return view(*args, kept_body(request, kind.limit), **kwargs)

            documented = self.doc(requestBody={"required": True, "description": kind.description, "content": {
                media_type: {"schema": {"type": "string", "format": "binary"}} for media_type in kind.media_types}})
            return _with_problems(documented(wrapper), (400, 413, 415, 422))

        return decorator

    def json_or_file(self, schema: type[ma.Schema], kind: FileKind) -> Callable[[View], View]:
        """Pass the body to the view: loaded by a `Request` where it is announced as JSON, else the bytes of a file."""
        loaded = schema()
        _hold_to_exact_fields(loaded, "json")

        def decorator(view: View) -> View:
            @wraps(view)
            def wrapper(*args: Any, **kwargs: Any) -> Any:
                if request.mimetype == JSON:
                    return view(*args, self.ARGUMENTS_PARSER.parse(loaded, request, location="json"), **kwargs)
                hold_to_file(request, replace(kind, media_types=(JSON, *kind.media_types)))
                return view(*args, kept_body(request, kind.limit), **kwargs)

            documented = self.doc(requestBody={"required": True, "description": kind.description, "content": {
                JSON: {"schema": schema}} | {name: {"schema": {"type": "string"}} for name in kind.media_types}})
            return _with_problems(documented(wrapper), (400, 413, 415, 422))

        return decorator

    def conditional(self, view: View) -> View:
        """Pass the request's `Condition` (If-Match, If-None-Match) to the view, and document it."""

        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            return view(*args, condition_of(request), **kwargs)

        _add_parameters(wrapper, "IfMatch", "IfNoneMatch")
        return _with_problems(wrapper, (400, 412, 428))

    def idempotent(self, view: View) -> View:
        """Read the optional Idempotency-Key (it reaches the use case in `asker()`), and document it."""

        @wraps(view)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            note_idempotency_key()
            return view(*args, **kwargs)

        _add_parameters(wrapper, "IdempotencyKey")
        return _with_problems(_noting_repeats(wrapper), (400, 422))

    def refuses(self, *statuses: int) -> Callable[[View], View]:
        """Document problems that the other decorators cannot know of: 404, 406, 409."""
        return lambda view: _with_problems(view, statuses)

    def etag(self, *_args: Any, **_options: Any) -> Any:
        """Not served: a hash of the body gives one state two tags."""
        raise TypeError("use response(..., tagged=True): a tag is a revision, not a hash of the body")

    def paginate(self, *_args: Any, **_options: Any) -> Any:
        """Not served: page numbers skip and repeat while others write."""
        raise TypeError("use paging.Cursors: pages go by cursor")

    def check_etag(self, *_args: Any, **_options: Any) -> Any:
        """Not served: the use case holds to the condition, under the ledger's lock."""
        raise TypeError("use @blueprint.conditional and pass the condition to the use case")


def kept(document: Any, created: bool) -> Any:
    """The answer to a PUT: 201 with Location when it made the record, else 200."""
    return (document, 201, {"Location": request.path}) if created else document


def _tagging(view: View) -> View:
    @wraps(view)
    def wrapper(*args: Any, **kwargs: Any) -> Response:
        answer = view(*args, **kwargs)
        if isinstance(answer, Prepared) or answer.status_code != 200 or "ETag" in answer.headers:
            return answer
        told = flask_smorest.utils.get_appcontext()["result_dump"]
        started = told.get("in_force_from") not in told.get("scheduled", ())
        return tagged(answer, record_tag(told["revision"], told.get("version_revision"), started), request)

    return wrapper  # type: ignore[return-value]


def _with_not_modified(view: View) -> View:
    responses = view._apidoc["response"]["responses"]  # type: ignore[attr-defined]
    responses.setdefault(304, []).append("NotModified")
    _add_parameters(view, "IfNoneMatchRead")
    return view


def _noting_repeats(view: View) -> View:
    responses = view._apidoc["response"]["responses"]  # type: ignore[attr-defined]
    for status in (200, 201):
        for told in responses.get(status, ()):
            told.setdefault("headers", {})["Idempotency-Replayed"] = header_ref("Replayed")
    return view


def _with_problems(view: View, statuses: tuple[int, ...]) -> View:
    """Note that the view can answer with these problems."""
    documented = dict(getattr(view, "_apidoc", {}))
    documented["problems"] = frozenset(documented.get("problems", ())) | frozenset(statuses)
    view._apidoc = documented  # type: ignore[attr-defined]
    return view


def _add_parameters(view: Any, *names: str) -> None:
    documented = dict(getattr(view, "_apidoc", {}))
    documented["shared_parameters"] = (*documented.get("shared_parameters", ()), *names)
    view._apidoc = documented


def _problems_doc(doc: dict[str, Any], doc_info: dict[str, Any], **_kwargs: Any) -> dict[str, Any]:
    """What the library takes from the decorators, with our names for problems and shared parameters."""
    responses = {status: told for status, told in doc.get("responses", {}).items()
                 if not (isinstance(told, str) and int(status) >= 400)}
    doc["responses"] = responses | {status: PROBLEM_RESPONSES[status] for status in doc_info.get("problems", ())}
    shared = list(doc_info.get("shared_parameters", ()))
    if shared:
        doc["parameters"] = [*doc.get("parameters", []), *shared]
    return doc


def _hold_to_exact_fields(schema: ma.Schema, location: str) -> None:
    """Refuse, when the app is made, a schema that would read inexactly or document null in an address."""
    for name, field in _all_fields(schema):
        if isinstance(field, STOCK_FIELDS_REFUSED):
            raise TypeError(f"{name} is a stock {type(field).__name__}: it reads more than one form; use rest/fields")
        if location == "query" and field.load_default is None:
            raise TypeError(f"{name} has a null default: leave it out, and treat absence in code")


def _all_fields(schema: ma.Schema) -> Iterator[tuple[str, ma.fields.Field[Any]]]:
    for name, field in schema.fields.items():
        inner = field.inner if isinstance(field, ma.fields.List) else field
        yield name, inner
        if isinstance(inner, ma.fields.Nested):
            yield from _all_fields(inner.schema)
