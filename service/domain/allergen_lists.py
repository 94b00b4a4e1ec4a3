"""The published lists of allergens that must be declared, as words for an ingredient's `allergens`.

Source: Regulation (EU) 1169/2011, annex II (14 groups); the US Food Allergen Labeling and Consumer Protection Act and
the FASTER Act (9 allergens). The US names wheat and tree nuts, which are narrower than the EU's groups, are kept as
words of their own. Whether something must be declared, and how, is for the local code and a competent person to say.
"""

EU_ANNEX_II = (
    "celery", "cereals-containing-gluten", "crustaceans", "eggs", "fish", "lupin", "milk", "molluscs", "mustard",
    "nuts", "peanuts", "sesame", "soybeans", "sulphur-dioxide")
US_MAJOR = ("crustaceans", "eggs", "fish", "milk", "peanuts", "sesame", "soybeans", "tree-nuts", "wheat")
ALLERGENS = tuple(sorted({*EU_ANNEX_II, *US_MAJOR}))
