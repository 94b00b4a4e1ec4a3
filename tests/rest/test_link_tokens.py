"""The token of a feed link is told to nobody a second time: no problem, no line of a log.

Source: RFC 9457 section 5 (nothing secret in a problem); gunicorn 27, whose access lines and warnings are as here.
"""

import logging

import pytest

from service.rest.link_tokens import LOGGERS, keep_tokens_out_of_logs
from tests.rest.trays import a_client

TOKEN = "Zk3_" + "x-9" * 13


@pytest.mark.parametrize("path", [
    "/feeds/{}", "/feeds/{}/dish-costs.csv", "/Feeds/{}/a.csv", "/feeds//{}/a.csv", "/menu/feeds/{}/dish-costs.csv",
    "/./feeds/{}/a.csv", "/v1/feeds/{}/dish-costs.csv", "/v1//feeds/{}"])
def test_an_address_that_was_put_together_wrongly_is_not_told_again(path: str) -> None:
    answer = a_client().get(path.format(TOKEN))
    assert (answer.status_code, answer.json["instance"]) == (404, "/feeds")
    assert TOKEN not in answer.text + str(answer.headers)


@pytest.mark.parametrize("path", ["/v1/feeds/0a1b2c3d", "/v1/feeds", "/feeds", "/v1/feedstuffs/a"])
def test_a_path_without_a_token_is_told_as_ever(path: str) -> None:
    assert a_client().get(path).json["instance"] == path


@pytest.mark.parametrize("name", LOGGERS)
def test_the_server_logs_that_a_link_was_asked_and_not_which(name: str, caplog: pytest.LogCaptureFixture) -> None:
    for each in [*logging.getLogger(name).filters]:
        logging.getLogger(name).removeFilter(each)
    keep_tokens_out_of_logs()
    keep_tokens_out_of_logs()
    with caplog.at_level(logging.INFO):
        logging.getLogger(name).warning(
            f"Invalid request from ip=192.0.2.1: Invalid HTTP request line: 'GET /feeds/{TOKEN}/a.csv?refresh=\u00e9'")
        logging.getLogger(name).info('%(h)s "%(r)s" %(s)s', {
            "h": "192.0.2.1", "r": f"GET /feeds/{TOKEN}/dish-costs.csv HTTP/1.1", "s": 200})
        logging.getLogger(name).info("GET /FEEDS//%s/a.csv HTTP/1.1", TOKEN)
        logging.getLogger(name).info("%s of %s", "nothing", "that kind")
    assert [record.getMessage() for record in caplog.records] == [
        "Invalid request from ip=192.0.2.1: Invalid HTTP request line: 'GET /feeds/.../a.csv?refresh=\u00e9'",
        '192.0.2.1 "GET /feeds/.../dish-costs.csv HTTP/1.1" 200', "GET /FEEDS//.../a.csv HTTP/1.1",
        "nothing of that kind"]
    assert len([each for each in logging.getLogger(name).filters if type(each).__name__ == "WithoutTokens"]) == 1
