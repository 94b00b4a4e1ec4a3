"""The open margin alert on the board and on the dish's page: since when, by what, and who took note.

Sources: the API's own alerts; the kitchen is invented (board_kitchen).
"""

from typing import Any

import pytest

from tests.stories.running_service import WEDNESDAY, RunningService, a_key
from tests.web.board_kitchen import THURSDAY
from tests.web.browser import DESK
from tests.web.conftest import OpenBrowser
from tests.web.signed import Signed
from tests.web.test_board_for_everybody import signed_in

ROAST = "topside-roast"


@pytest.fixture(scope="module")
def alert(morning: RunningService) -> Any:
    """The open alert of the roast, once all that has happened was gone through."""
    page = morning.admin.read(f"/v1/margin-alerts?open=true&dish={ROAST}")
    while not page["up_to_date"]:
        page = morning.admin.read(f"/v1/margin-alerts?open=true&dish={ROAST}")
    (found,) = page["data"]
    return found


def test_the_pages_of_now_say_since_when_and_by_what(reader: Signed, alert: Any) -> None:
    assert alert["as_of"] == THURSDAY.isoformat()
    assert "since Thu 26 Nov" in reader.ask("GET", "/").text
    page = reader.ask("GET", f"/dishes/{ROAST}").text
    assert alert["because"] in page
    assert "Nobody has taken note of it yet" in page


def test_pages_of_another_day_show_no_alert_of_now(reader: Signed, alert: Any) -> None:
    assert alert["open"]
    for path in ("/", f"/dishes/{ROAST}"):
        page = reader.ask("GET", f"{path}?as_of={WEDNESDAY}").text
        assert "since Thu 26 Nov" not in page
        assert "taken note" not in page


def test_a_chef_takes_note_on_the_dish_s_page_and_the_board_says_so(
        open_browser: OpenBrowser, morning: RunningService, admin_key: str, reader: Signed, alert: Any) -> None:
    browser = signed_in(open_browser(DESK), admin_key, f"/dishes/{ROAST}")
    browser.click("#acknowledge button")
    browser.says("#note-problem", "what is to be done")
    browser.write("#note", "Smaller plates from Friday")
    browser.click("#acknowledge button")
    browser.says("#noted", "Smaller plates from Friday")
    told = morning.admin.read(f"/v1/margin-alerts/{alert['id']}")["acknowledgement"]
    assert told["note"] == "Smaller plates from Friday"
    assert "noted: Smaller plates from Friday" in reader.ask("GET", "/").text


def test_who_may_not_take_note_sees_no_form(open_browser: OpenBrowser, morning: RunningService, alert: Any) -> None:
    browser = signed_in(open_browser(DESK), a_key(morning.settings, "read"), f"/dishes/{ROAST}")
    browser.says(".note h2", "Since")
    assert browser.is_hidden("#acknowledge")
    assert alert["open"]
