"""Why an alert was raised, as a sentence: the causes that were noted with it, by the names that are recorded now."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.domain.history import recorded_last
from service.domain.kitchen import PLURALS, Kitchen
from service.use_cases.documents import Document

MOST_NAMED = 3
_NOUNS = {
    "price": "a price of {}", "yield_test": "a yield test of {}", "ingredient": "the ingredient {}",
    "supplier": "the supplier {}", "breakdown": "the breakdown {}", "recipe": "the recipe {}", "dish": "the dish {}"}
_IS_OF = {"price": "ingredient", "yield_test": "breakdown"}
_HAPPENED = {"keep": "changed", "retire": "was retired", "starts": "came into force", "ends": "ended",
             "withdraw_price": "was withdrawn", "set_aside_yield_test": "was set aside"}


def causes_in_a_sentence(causes: Sequence[Document], more: int, kitchen: Kitchen, new: str | None) -> str:
    """The first few causes, and how many more there are beside those given; `new` is a dish that was not there before.

    Example: "A price of Beef topside came into force; the recipe Jus changed; and 2 more."
    """
    told = [_in_words(cause, kitchen, new) for cause in causes[:MOST_NAMED]]
    left = len(causes) - len(told) + more
    sentence = "; ".join([*told, *([f"and {left} more"] if left else [])])
    return f"{sentence[:1].upper()}{sentence[1:]}." if sentence else ""


def _in_words(cause: Document, kitchen: Kitchen, new: str | None) -> str:
    happened = _HAPPENED.get(cause["action"], "was recorded")
    if new is not None and (cause["kind"], cause["code"]) == ("dish", new):
        happened = "came onto the menu"
    noun = _NOUNS.get(cause["kind"])
    if noun is None:
        return f"the kitchen's settings {happened.replace('was', 'were')}"
    return f"{noun.format(_name(cause['kind'], cause['code'], kitchen))} {happened}"


def _name(kind: str, code: str, kitchen: Kitchen) -> str:
    histories: Mapping[str, Any] = getattr(kitchen, PLURALS[_IS_OF.get(kind, kind)])
    return str(recorded_last(histories[code]).record.name) if code in histories else code
