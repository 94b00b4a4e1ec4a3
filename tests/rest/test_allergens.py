"""Allergens over HTTP: by which way each comes in, what is not known, and what a question that is wrong is told."""

import csv
import io
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.domain.allergen_lists import ALLERGENS
from service.use_cases.read_allergens import MOST_WAYS
from tests.rest.small_kitchen import EGG, INGREDIENT, RECIPE, Kitchen, a_use

SOUP, MENU = "/v1/dishes/soup/allergens", "/v1/allergens"
STATES = ("contains", "related_declared", "unknown", "none_declared")


@pytest.fixture(scope="module")
def declared(kitchen: Kitchen) -> Kitchen:
    """Eggs declare eggs; the leg, which the stock of the soup is made from, declares nothing; bread is of wheat."""
    kitchen.keep("/v1/ingredients/egg", EGG | {"allergens": ["eggs"]})
    kitchen.keep("/v1/ingredients/flour", INGREDIENT | {"name": "Flour", "allergens": ["wheat"]})
    kitchen.keep("/v1/dishes/bread", {"name": "=Bread", "section": "sides", "portions": "1",
                                      "lines": [a_use("ingredient flour")]})
    return kitchen


def ask(kitchen: Kitchen, path: str, **headers: str) -> TestResponse:
    """Ask, and hold the answer to the API document."""
    answer: TestResponse = kitchen.client.get(path, headers=kitchen.headers | {
        name.replace("_", "-"): value for name, value in headers.items()})
    if answer.status_code != 304:
        kitchen.validator.check_answer("GET", path.partition("?")[0], answer.status_code, answer.content_type or "",
                                       answer.data)
    return answer


def told(kitchen: Kitchen, path: str) -> Any:
    answer = ask(kitchen, path)
    assert answer.status_code == 200, answer.text
    return answer.json


def test_each_allergen_comes_with_its_way_and_what_declares_nothing_leaves_the_rest_unknown(declared: Kitchen) -> None:
    soup = told(declared, SOUP)
    by_word = {each["allergen"]: each for each in soup["allergens"]}
    assert tuple(by_word) == ALLERGENS
    eggs = by_word["eggs"]
    assert (eggs["state"], eggs["lists"], eggs["ingredients"], eggs["more"]) == (
        "contains", ["eu-annex-ii", "us-major"], 1, 0)
    assert [[step["code"] for step in way["path"]] for way in eggs["brought_in_by"]] == [["soup", "egg"]]
    assert {by_word[word]["state"] for word in ALLERGENS if word != "eggs"} == {"unknown"}
    (leg,) = soup["not_declared"]
    assert (leg["code"], leg["name"], leg["reason"], soup["allergens_complete"]) == (
        "leg", "Leg", "declares_nothing", False)
    assert [(step["kind"], step["code"]) for step in leg["path"]] == [
        ("dish", "soup"), ("recipe", "stock"), ("cut", "leg-trim"), ("breakdown", "boned"), ("ingredient", "leg")]


def test_lists_and_cautions_stand_beside_every_answer_with_their_sources(declared: Kitchen) -> None:
    for path in (SOUP, MENU):
        answer = told(declared, path)
        assert [len(one["allergens"]) for one in answer["lists"]] == [14, 9]
        assert all(one["source"] for one in answer["lists"])
        cautions = {one["code"]: one["text"] for one in answer["cautions"]}
        assert {"declarations", "not-declared", "cross-contact", "local-law"} <= cautions.keys()
        assert "unknown is not none" in cautions["not-declared"]


def test_the_menu_says_the_same_of_every_dish_as_the_dish_itself_and_its_row_of_costs(declared: Kitchen) -> None:
    rows = told(declared, MENU)["data"]
    assert [row["dish"] for row in rows] == ["bread", "soup"]
    assert rows[0]["related_declared"] == ["cereals-containing-gluten"]
    assert "nuts" in rows[0]["none_declared"]
    for row in rows:
        dish = told(declared, f"/v1/dishes/{row['dish']}/allergens")
        states = {word: state for state in STATES for word in row[state]}
        assert states == {each["allergen"]: each["state"] for each in dish["allergens"]}
        costs = declared.read(f"/v1/dish-costs/{row['dish']}")
        assert (costs["allergens"], costs["allergens_complete"], costs["allergens_not_declared"]) == (
            row["contains"], row["allergens_complete"], row["allergens_not_declared"])


def test_a_table_has_a_column_for_each_allergen_and_its_state_in_words(declared: Kitchen) -> None:
    answer = ask(declared, MENU, Accept="text/csv")
    rows = {row["dish"]: row for row in csv.DictReader(io.StringIO(answer.text))}
    assert (rows["soup"]["eggs"], rows["soup"]["milk"], rows["bread"]["milk"]) == (
        "contains", "unknown", "none_declared")
    assert (rows["bread"]["name"], rows["soup"]["allergens_not_declared"]) == ("'=Bread", "leg")
    assert set(ALLERGENS) < set(rows["soup"])
    assert "filename=\"allergens-" in answer.headers["Content-Disposition"]
    chosen = ask(declared, f"{MENU}?allergen=milk,eggs&section=sides", Accept="text/csv").text.splitlines()
    assert [line.split(",")[0] for line in chosen] == ["dish", "bread"]
    assert chosen[0].endswith(",eggs,milk")


def test_filters_choose_allergens_sections_and_states(declared: Kitchen) -> None:
    (bread,) = told(declared, f"{MENU}?section=sides&allergen=wheat,nuts")["data"]
    assert [bread[state] for state in STATES] == [["wheat"], [], [], ["nuts"]]
    assert [row["dish"] for row in told(declared, f"{MENU}?allergen=nuts&state=contains,unknown")["data"]] == ["soup"]
    assert told(declared, f"{MENU}?section=nowhere")["data"] == []
    assert [one["allergen"] for one in told(declared, f"{SOUP}?allergen=milk,eggs")["allergens"]] == ["eggs", "milk"]


def test_pages_go_on_where_they_ended_and_a_tag_saves_the_rest(declared: Kitchen) -> None:
    first = ask(declared, f"{MENU}?limit=1")
    assert [row["dish"] for row in first.json["data"]] == ["bread"]
    second = told(declared, f"{MENU}?limit=1&cursor={first.json['next_cursor']}")
    assert ([row["dish"] for row in second["data"]], second["next_cursor"]) == (["soup"], None)
    for path in (MENU, SOUP, f"{MENU}?limit=1"):
        tag = ask(declared, path).headers["ETag"]
        assert ask(declared, path, If_None_Match=tag).status_code == 304
    assert len({ask(declared, path).headers["ETag"] for path in (MENU, f"{MENU}?allergen=milk", SOUP)}) == 3


def test_a_declaration_changes_what_is_known_from_its_revision_on(declared: Kitchen) -> None:
    before, tag = declared.ledger.head().revision, ask(declared, SOUP).headers["ETag"]
    declared.keep("/v1/ingredients/leg", INGREDIENT | {"allergens": []})
    now = told(declared, f"{SOUP}?allergen=milk")
    assert (now["allergens"][0]["state"], now["allergens_complete"], now["not_declared"]) == ("none_declared", True, [])
    assert ask(declared, SOUP, If_None_Match=tag).status_code == 200
    known = told(declared, f"{SOUP}?allergen=milk&known_at={before}")
    assert (known["allergens"][0]["state"], known["revision"]) == ("unknown", before)
    declared.keep("/v1/ingredients/leg", INGREDIENT)


def test_what_is_cut_short_says_how_much_more_there_is(declared: Kitchen) -> None:
    many = [f"cheese-{place:02}" for place in range(MOST_WAYS + 3)]
    for code in many:
        declared.keep(f"/v1/ingredients/{code}", INGREDIENT | {"allergens": ["milk"]})
    declared.keep("/v1/recipes/board", RECIPE | {"lines": [a_use(f"ingredient {code}") for code in many]})
    declared.keep("/v1/dishes/cheese", {"name": "Cheese", "portions": "1", "lines": [a_use("recipe board", "1", "l")]})
    (milk,) = told(declared, "/v1/dishes/cheese/allergens?allergen=milk")["allergens"]
    assert (milk["ingredients"], len(milk["brought_in_by"]), milk["more"]) == (MOST_WAYS + 3, MOST_WAYS, 3)
    declared.retire("/v1/dishes/cheese")


@pytest.mark.parametrize(("path", "status", "what"), [
    ("/v1/dishes/no-such/allergens", 404, "no-such"), (f"{SOUP}?allergen=gluten", 422, "allergen"),
    (f"{SOUP}?allergen=", 422, "allergen"), (f"{SOUP}?as_of=today", 422, "as_of"),
    (f"{SOUP}?section=sides", 422, "section"), (f"{MENU}?state=maybe", 422, "state"),
    (f"{MENU}?allergens=milk", 422, "allergens"), (f"{MENU}?known_at=999999", 422, "known_at"),
    (f"{MENU}?limit=0", 422, "limit"), (f"{MENU}?cursor=AAAA", 422, "cursor")])
def test_a_question_that_cannot_be_right_is_told_what_is_wrong(declared: Kitchen, path: str, status: int, what: str
                                                                ) -> None:
    answer = ask(declared, path)
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json"), answer.text
    assert what in answer.text


def test_a_form_that_is_not_served_is_refused(declared: Kitchen) -> None:
    assert ask(declared, MENU, Accept="text/html").status_code == 406
