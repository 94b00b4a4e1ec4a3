"""Paths that were asked before lead where they led: to the same view, with the same codes, whatever came between."""

import pytest
from werkzeug.exceptions import MethodNotAllowed, NotFound
from werkzeug.routing import Map, Rule
from werkzeug.test import create_environ

from service.rest import known_paths
from service.rest.known_paths import KnownPaths
from tests.rest.trays import a_client, as_

RULES = (("/v1/trays", ("GET",)), ("/v1/trays/<code>", ("GET", "PUT")),
         ("/v1/trays/<code>/labels/<int:number>", ("POST",)))
ASKED = (("GET", "/v1/trays"), ("GET", "/v1/trays/a"), ("PUT", "/v1/trays/a"), ("HEAD", "/v1/trays/b"),
         ("POST", "/v1/trays/a/labels/7"), ("GET", "/v1/trays/caf\xc3\xa9"), ("OPTIONS", "/v1/trays/a"))


def rules() -> list[Rule]:
    return [Rule(path, endpoint=path, methods=methods) for path, methods in RULES]


def test_a_path_leads_where_the_library_leads_it_the_first_time_and_every_other() -> None:
    ours, theirs = KnownPaths(rules()), Map(rules())
    for _ in range(3):
        for method, path in ASKED:
            environ = create_environ(method=method)
            environ["PATH_INFO"] = path
            try:
                rule, values = theirs.bind_to_environ(environ).match(return_rule=True)
            except MethodNotAllowed:
                with pytest.raises(MethodNotAllowed):
                    ours.bind_to_environ(environ).match(return_rule=True)
                continue
            found, codes = ours.bind_to_environ(environ).match(return_rule=True)
            assert (found.endpoint, codes) == (rule.endpoint, values)


def test_what_a_view_does_with_its_codes_is_not_remembered() -> None:
    paths = KnownPaths(rules())
    for _ in range(3):
        _, codes = paths.bind_to_environ(create_environ("/v1/trays/a")).match(return_rule=True)
        assert codes == {"code": "a"}
        codes["code"] = "changed"


def test_a_path_that_leads_nowhere_is_not_remembered_and_neither_is_a_long_one() -> None:
    paths = KnownPaths(rules())
    with pytest.raises(NotFound):
        paths.bind_to_environ(create_environ("/v1/lids")).match(return_rule=True)
    paths.bind_to_environ(create_environ(f"/v1/trays/{'a' * 200}")).match(return_rule=True)
    assert paths._known == {}


def test_only_so_many_paths_are_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(known_paths, "MOST_REMEMBERED", 10)
    paths = KnownPaths(rules())
    for number in range(25):
        paths.bind_to_environ(create_environ(f"/v1/trays/tray-{number}")).match(return_rule=True)
    assert 0 < len(paths._known) <= 10


def test_a_known_path_is_answered_as_before_by_each_method() -> None:
    client = a_client()
    answers = [client.open("/v1/trays/a", method=method, headers=as_("reader")).status_code
               for _ in range(2) for method in ("GET", "HEAD", "PATCH")]
    assert answers == [200, 200, 405] * 2
