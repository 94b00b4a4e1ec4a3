"""Whether a ledger is whole: nothing is found where nothing is wrong, and a figure published wrongly is named."""

import pytest
from sqlalchemy import select, update

from service.persistence.tables.margin_alerts import margin_alert, margin_alert_cursor
from service.persistence.tables.webhooks import webhook
from service.persistence.whole import what_is_wrong
from service.use_cases import verify_figures
from tests.reliability.small_ledger import fill, fill_with_all


@pytest.fixture
def recorded(engines):
    return fill(engines)


def test_a_ledger_that_is_whole_is_said_to_be_and_how_far_it_has_been_looked_at(recorded, engines):
    told = []
    assert what_is_wrong(engines, progress=lambda what, done: told.append((what, done))) == []
    assert ("dishes recomputed", 1) in told


def test_a_figure_that_is_published_wrongly_is_named(recorded, engines, monkeypatch):
    """A planted fault: the last digit of one figure of one dish."""
    rows = verify_figures.rows_of_today

    def off_by_one_digit(snapshot):
        return [row | {"food_cost": cost[:-1] + ("1" if cost[-1] != "1" else "2")}
                for row in rows(snapshot) if (cost := row["food_cost"] or "0.0000")]

    monkeypatch.setattr(verify_figures, "rows_of_today", off_by_one_digit)
    told = what_is_wrong(engines)
    assert told
    assert all("dish plate" in one and "food_cost is published as" in one for one in told)
    assert any(f"revision {recorded.head().figures_revision}," in one for one in told)
    assert what_is_wrong(engines, quick=True) == []


def told_of(told, name, value):
    return told | {"after": told["after"] | {name: value}}


PLANTED = {
    "a figure that it tells": (lambda row: {"told": told_of(row.told, "food_cost", "0.0100")}, "tells food_cost"),
    "what it was, whether it was": (lambda row: {"told": told_of(
        row.told, "within_target", not row.told["after"]["within_target"])}, "tells within"),
    "its section": (lambda row: {"section": f"{row.section}x"}, "is of section"),
    "the other dish": (lambda row: {"dish": "soup"}, "has an id that is not that"),
    "open no more": (lambda row: {"open": not row.open}, "marked open"),
    "another day": (lambda row: {"day": row.day.replace(year=2031)}, "has an id that is not that"),
    "closing none": (lambda row: {"crossed": "outside", "closes": None}, "closes none, where"),
}


@pytest.mark.parametrize("last", [True, False])
def test_a_margin_alert_that_is_planted_is_named(engines, last):
    fill_with_all(engines)
    assert what_is_wrong(engines) == []
    with engines.read() as connection:
        rows = connection.execute(select(margin_alert).order_by(margin_alert.c.number)).all()
    assert [(row.crossed, row.open) for row in rows] == [("outside", False), ("back_within", False), ("outside", True)]
    row = rows[-1] if last else rows[1]
    for what, (change, words) in PLANTED.items():
        if (what, last) in (("closing none", True), ("open no more", False)):
            continue
        with engines.write() as connection:
            connection.execute(update(margin_alert).where(margin_alert.c.number == row.number).values(change(row)))
        assert any(words in told for told in what_is_wrong(engines)), what
        with engines.write() as connection:
            connection.execute(update(margin_alert).where(margin_alert.c.number == row.number).values(row._asdict()))
    assert what_is_wrong(engines) == []


def test_a_walk_and_a_webhook_that_say_otherwise_are_named(engines):
    fill_with_all(engines)
    with engines.write() as connection:
        connection.execute(update(margin_alert_cursor).values(last_number=margin_alert_cursor.c.last_number + 1))
        connection.execute(update(webhook).values(url="https://elsewhere.example/"))
    told = what_is_wrong(engines)
    assert any("the walk says that alert 4 was the last" in one for one in told)
    assert sum("its row says receiver" in one for one in told) == 2
