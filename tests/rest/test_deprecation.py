"""An operation that is announced to end says so in the document and on every answer of its view, and works as before.

Source: RFC 9745 sections 2.1 (an `@` and the seconds since 1970, RFC 9651), 3 (the relation) and 4 (Sunset is not
earlier); RFC 8594 section 3 (an HTTP date); RFC 9110 section 5.6.7 for HTTP dates, read by the standard library; RFC
8288 for links, read by the library requests.
"""

import html
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
from flask import Response, request
from openapi_spec_validator import OpenAPIV31SpecValidator
from requests.utils import parse_header_links

from service.rest.api_keys import needs
from service.rest.conditional import Prebuilt, prebuilt_answer
from service.rest.http_faults import NoSuchPath
from service.rest.openapi_layer.blueprint import Blueprint
from service.rest.openapi_layer.deprecation import PAGE, deprecated, twelve_months_after
from service.rest.openapi_layer.document import document, operations
from service.use_cases.allowances import Allowances
from tests.bookings import BookedInMemory
from tests.rest.trays import CALLERS, an_app, as_
from tests.versioning.openapi_breaks import breaks

SINCE, UNTIL, INSTEAD = date(2027, 3, 1), date(2028, 3, 1), "/v1/dish-costs"
NEXT = ("Link", '</v1/lids?cursor=a>; rel="next"')
FIELDS = ("Deprecation", "Sunset", "Link")


def lids(ends: bool) -> Blueprint:
    """An invented resource, with or without an end."""
    blueprint = Blueprint("lids", "Lids.", url_prefix="/v1/lids")
    announced = deprecated(since=SINCE, until=UNTIL, instead=INSTEAD) if ends else lambda view: view

    @blueprint.get("")
    @announced
    @needs("read")
    @blueprint.response(200, headers={"ETag": {"schema": {"type": "string"}}})
    def list_lids() -> Response:
        """List the lids there are."""
        return prebuilt_answer(Prebuilt(b"[]", None, '"1"', extra=(NEXT,)), request)

    @blueprint.get("/<code:code>")
    @announced
    @needs("read")
    @blueprint.response(200)
    def read_lid(code: str) -> Any:
        """Read one lid, which is never there."""
        raise NoSuchPath(f"There is no lid {code}.")

    return blueprint


AFTER, BEFORE = an_app(lids(ends=True)), an_app(lids(ends=False))


def told(status: int, path: str = "/v1/lids", **headers: str) -> Any:
    answer = AFTER.test_client().get(path, headers=as_("reader", **headers))
    assert answer.status_code == status
    return answer


def test_every_answer_of_its_view_says_so_and_is_otherwise_as_before() -> None:
    for answer in (told(200), told(304, If_None_Match='"1"'), told(404, "/v1/lids/a")):
        assert answer.headers["Deprecation"] == f"@{int(datetime(2027, 3, 1, tzinfo=UTC).timestamp())}"
        assert parsedate_to_datetime(answer.headers["Sunset"]) == datetime(2028, 3, 1, tzinfo=UTC)
    before = BEFORE.test_client().get("/v1/lids", headers=as_("reader"))
    assert before.data == told(200).data
    assert [name for name in FIELDS[:2] if name in before.headers] == []


def test_what_is_refused_before_its_view_does_not_say_so_and_the_page_names_it() -> None:
    page = " ".join(html.unescape(AFTER.test_client().get(PAGE).text).split())
    named = page.partition("every answer of it, but a refusal of ")[2].partition(", carries")[0]
    allowances = Allowances(BookedInMemory(), lambda: datetime(2027, 3, 2, 10, tzinfo=UTC))
    poor = an_app(lids(ends=True), allowances=allowances,
                  authenticate=lambda _: replace(CALLERS["reader"], requests_per_minute=1))
    assert poor.test_client().get("/v1/lids", headers=as_("reader")).headers["Deprecation"]
    for answer, words in (
            (AFTER.test_client().get("/v1/lids"), "the key"), (told(422, "/v1/lids?x=1"), "the query"),
            (told(404, "/v1/lids/Not_A_Code"), "a code in the path"),
            (poor.test_client().get("/v1/lids", headers=as_("reader")), "its allowance")):
        assert answer.status_code in (401, 404, 422, 429)
        assert ("Deprecation" in answer.headers, words in named) == (False, True), words


def test_links_lead_to_the_page_and_to_what_takes_its_place_beside_the_next_page() -> None:
    links = {each["rel"]: each["url"] for each in parse_header_links(", ".join(told(200).headers.getlist("Link")))}
    assert links == {"next": "/v1/lids?cursor=a", "deprecation": PAGE, "sunset": PAGE, "successor-version": INSTEAD}
    assert AFTER.test_client().get(PAGE).status_code == 200


def test_the_page_shows_the_fields_as_they_are_sent() -> None:
    page = html.unescape(AFTER.test_client().get(PAGE).text)
    shown = re.search(r"<code>(Deprecation: .*?)</code>", page, re.DOTALL)
    assert shown is not None
    sent = [f"{name}: {told(404, '/v1/lids/a').headers[name]}" for name in FIELDS]
    assert shown[1].split() == " ".join(sent).split()


def test_the_document_says_so() -> None:
    after = document(AFTER)
    operation = {each["operationId"]: each for _, _, each in operations(after)}["list_lids"]
    assert (operation["deprecated"], operation["x-deprecated-on"], operation["x-sunset"]) == (
        True, SINCE.isoformat(), UNTIL.isoformat())
    assert UNTIL.isoformat() in operation["description"]
    assert set(FIELDS) <= set(operation["responses"]["200"]["headers"])
    assert list(OpenAPIV31SpecValidator(after).iter_errors()) == []


def test_announcing_an_end_breaks_no_client_and_the_operation_may_go_then() -> None:
    without = document(an_app())
    assert breaks(document(BEFORE), document(AFTER), SINCE) == []
    assert len(breaks(document(AFTER), without, UNTIL - timedelta(days=1))) == 2
    assert breaks(document(AFTER), without, UNTIL) == []


@pytest.mark.parametrize(("since", "earliest"), [
    (date(2027, 3, 1), date(2028, 3, 1)), (date(2028, 2, 29), date(2029, 3, 1)),
    (date(2027, 12, 31), date(2028, 12, 31))])
def test_an_end_is_twelve_months_away_or_more(since: date, earliest: date) -> None:
    assert twelve_months_after(since) == earliest
    deprecated(since=since, until=earliest)
    with pytest.raises(ValueError, match="twelve months"):
        deprecated(since=since, until=earliest - timedelta(days=1))
