"""The closest names: held against the standard library's way of holding each name against each; names are invented."""

import difflib
import random
import time

from service.use_cases.closest_names import CLOSEST, LIKE_ENOUGH, ClosestNames

CUTS = ("Topside", "Silverside", "Rump cap", "Fillet", "Chuck", "Shin", "Brisket", "Flank", "Shallot, banana", "Leek")
MAKES = ("PAD", "bone in", "aged 21 days", "diced", "minced", "rolled", "whole", "chilled", "frozen", "organic")


def test_names_are_found_through_slips_of_the_pen_and_other_case() -> None:
    names = ClosestNames(CUTS)
    assert [CUTS[place] for place in names.to("TOPSDE")] == ["Topside"]
    assert CUTS[names.to("Shallots, banana")[0]] == "Shallot, banana"
    assert names.to("Quinoa") == []
    assert (names.to(""), ClosestNames([]).to("Leek")) == ([], [])


def test_the_closest_is_the_one_that_holding_all_against_it_finds() -> None:
    """The reference is difflib.get_close_matches of Python's standard library, over all names."""
    drawn = random.Random(7)
    names = sorted({f"{cut} {make} {number}".casefold() for cut in CUTS for make in MAKES for number in (1, 2, 5)})
    found = ClosestNames(names)
    for _ in range(60):
        name = drawn.choice(names)
        at = drawn.randrange(len(name))
        slipped = name[:at] + name[at + 1:]
        best = difflib.get_close_matches(slipped, names, CLOSEST, LIKE_ENOUGH)[0]
        ours = names[found.to(slipped)[0]]
        ratios = [difflib.SequenceMatcher(None, each, slipped, autojunk=False).ratio() for each in (ours, best)]
        assert ratios[0] >= ratios[1], (slipped, ours, best)


def test_a_page_of_unknown_items_among_ten_thousand_names_is_answered_in_seconds() -> None:
    names = ClosestNames([f"{CUTS[number % 10]} {MAKES[number // 10 % 10]} {number}" for number in range(10_000)])
    begun = time.process_time()
    found = [names.to(f"{CUTS[number % 10]} {MAKES[number % 7]} of {number}") for number in range(1_000)]
    found.append(names.to("x" * 1_000_000))
    assert all(found[:1_000])
    assert time.process_time() - begun < 20
