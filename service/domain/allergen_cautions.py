"""Cautions that stand beside every answer about allergens: what it rests on, what it does not cover, and who decides.

They are reminders, not a food-safety plan.

Source:  Regulation (EU) 1169/2011, articles 8, 9(1)(c) and 44 and annex II; Commission Notice 2017/C 428/01 on
         information about substances causing allergies; FALCPA (Public Law 108-282, title II) and the FASTER Act
         (Public Law 117-11); Codex Alimentarius, CXC 80-2020, Code of Practice on Food Allergen Management.
"""

from service.domain.cautions import Caution

ALLERGEN_CAUTIONS: tuple[Caution, ...] = (
    Caution("declarations",
            "These are the kitchen's own declarations, rolled up through its recipes: they are as right as what is "
            "recorded. The supplier's specification and the label of what is in the hand come first.",
            "Regulation (EU) 1169/2011, article 8; Codex CXC 80-2020"),
    Caution("not-declared",
            "An ingredient that declares nothing is not free of anything: unknown is not none. Have it declared before "
            "anybody is told that a dish is without an allergen."),
    Caution("cross-contact",
            "Cross-contact is not covered: shared fryers, boards and knives, flour in the air, and what a supplier's "
            "label says may be present.",
            "Codex CXC 80-2020; Commission Notice 2017/C 428/01"),
    Caution("lists-differ",
            "The two lists do not use the same words: wheat is one of the EU's cereals containing gluten, and the US "
            "tree nuts are not quite the EU's nuts. An ingredient told by a word of one list alone leaves the other's "
            "open: that is shown as related_declared.",
            "Regulation (EU) 1169/2011, annex II; FALCPA"),
    Caution("local-law",
            "Which allergens have to be told, from which amount on (sulphites above 10 mg per kg or l in the EU), with "
            "which exceptions and how, is for the local law and a competent person to say. Guests may react to what is "
            "on no list.",
            "Regulation (EU) 1169/2011, articles 9 and 44 and annex II; FALCPA; FASTER Act"),
)
