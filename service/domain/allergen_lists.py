"""The published lists of allergens that must be declared, as words for an ingredient's `allergens`.

Rules that always hold: a word that both lists have is one word; where the lists differ in what they mean, each keeps a
word of its own. Wheat is one of the EU's cereals containing gluten, and the US tree nuts are not quite the EU's nuts:
such words are related, and neither is ever taken for the other.

Source: Regulation (EU) 1169/2011, annex II (14 groups); the US Food Allergen Labeling and Consumer Protection Act and
the FASTER Act (9 allergens). Whether something must be declared, and how, is for the local code and a competent person
to say.
"""

from collections.abc import Mapping
from dataclasses import dataclass

EU_ANNEX_II = (
    "celery", "cereals-containing-gluten", "crustaceans", "eggs", "fish", "lupin", "milk", "molluscs", "mustard",
    "nuts", "peanuts", "sesame", "soybeans", "sulphur-dioxide")
US_MAJOR = ("crustaceans", "eggs", "fish", "milk", "peanuts", "sesame", "soybeans", "tree-nuts", "wheat")
ALLERGENS = tuple(sorted({*EU_ANNEX_II, *US_MAJOR}))


@dataclass(frozen=True, slots=True)
class AllergenList:
    """A published list, and where it stands."""

    code: str
    name: str
    source: str
    allergens: tuple[str, ...]


LISTS = (
    AllergenList("eu-annex-ii", "EU: substances or products causing allergies or intolerances",
                 "Regulation (EU) 1169/2011, annex II", EU_ANNEX_II),
    AllergenList("us-major", "US: major food allergens",
                 "Food Allergen Labeling and Consumer Protection Act of 2004 (Public Law 108-282, title II); FASTER "
                 "Act of 2021 (Public Law 117-11)", US_MAJOR))

NAMES: Mapping[str, str] = {
    "celery": "Celery", "cereals-containing-gluten": "Cereals containing gluten", "crustaceans": "Crustaceans",
    "eggs": "Eggs", "fish": "Fish", "lupin": "Lupin", "milk": "Milk", "molluscs": "Molluscs", "mustard": "Mustard",
    "nuts": "Nuts", "peanuts": "Peanuts", "sesame": "Sesame", "soybeans": "Soybeans",
    "sulphur-dioxide": "Sulphur dioxide and sulphites", "tree-nuts": "Tree nuts", "wheat": "Wheat"}

RELATED: Mapping[str, str] = {
    "cereals-containing-gluten": "wheat", "wheat": "cereals-containing-gluten", "nuts": "tree-nuts",
    "tree-nuts": "nuts"}
"""The word of the other list that means some of the same."""


def lists_of(allergen: str) -> tuple[str, ...]:
    """The codes of the lists that an allergen is on."""
    return tuple(one.code for one in LISTS if allergen in one.allergens)
