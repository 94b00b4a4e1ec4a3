"""Signing in to the pages over HTTP. Not part of the API: programs send a key with each request.

    POST /session        a key, as a form's field or as JSON: {"key": "..."}; sets the cookie; a form is sent on to the
                         page that it names as `next`, if that is one of ours
    GET /session         whether somebody is signed in, and the token that the page needs for what it changes
    DELETE /session      signs out; POST /session/end does so for a form without scripts

Source:  RFC 9110 section 15.4.4 (303 after a form).
"""

from typing import Any
from urllib.parse import parse_qsl

import flask
from flask import Response, json, jsonify, request

from service.domain.errors import WrongValue
from service.rest.api_keys import open_to_all
from service.rest.http_faults import NotAuthenticated
from service.rest.own_paths import own_path
from service.rest.reading import hold_to_media_type, kept_body, parsed_json
from service.rest.same_site import hold_to_same_origin
from service.rest.sessions import Sessions

_FORM = "application/x-www-form-urlencoded"
_BODY_LIMIT = 4096


def session_views(sessions: Sessions, home: str) -> flask.Blueprint:
    """`/session`. A form that names no page is sent on to `home`."""
    blueprint = flask.Blueprint("session", "service.rest", url_prefix="/session")

    @blueprint.post("")
    @open_to_all
    def sign_in() -> Any:
        hold_to_same_origin(request)
        body = _body()
        key = _key_given(body)
        if request.mimetype == _FORM:
            answer = _sent_on(own_path(body.get("next"), home))
            sessions.open(key, request, answer)
            return answer
        answer = Response(None, 200, content_type="application/json")
        answer.data = json.dumps(sessions.about(sessions.open(key, request, answer)))
        return answer

    @blueprint.get("")
    @open_to_all
    def read_session() -> Any:
        try:
            return jsonify(sessions.told(request))
        except NotAuthenticated:
            answer = jsonify({"signed_in": False})
            sessions.close(request, answer)
            return answer

    @blueprint.delete("")
    @open_to_all
    def sign_out() -> Any:
        return _signed_out(sessions, Response(None, 204))

    @blueprint.post("/end")
    @open_to_all
    def sign_out_by_form() -> Any:
        return _signed_out(sessions, _sent_on(home))

    return blueprint


def _signed_out(sessions: Sessions, answer: Response) -> Response:
    hold_to_same_origin(request)
    sessions.close(request, answer)
    answer.headers["Clear-Site-Data"] = '"cache"'  # what was read goes from a shared computer too
    return answer


def _sent_on(home: str) -> Response:
    return Response(None, 303, {"Location": home})


def _body() -> Any:
    if request.mimetype == _FORM:
        return dict(parse_qsl(kept_body(request, _BODY_LIMIT).decode("utf-8", "replace")))
    hold_to_media_type(request)
    return parsed_json(kept_body(request, _BODY_LIMIT))


def _key_given(body: Any) -> str:
    """The key in the body.

    Raises:  WrongValue when it has none.
    """
    key = body.get("key") if isinstance(body, dict) else None
    if type(key) is not str or not key.strip():
        raise WrongValue("Give the key as text.", "#/key", error_code="required")
    return key.strip()
