"""Cautions that stand beside the steps of a breakdown: what published guidance says, and who decides.

They are reminders, not a food-safety plan: local codes, the kitchen's own HACCP plan and a competent person come first.

Source:  mince: U.S. FDA, Food Code, 3-401.11 (68.3 C for 17 s); USDA FSIS (71.1 C); UK guidance (70 C for 2 minutes);
         what may become mince in approved plants: Regulation (EC) 853/2004, annex III, section V. Scales: OIML R 76.
         Chilling at 5 C or below and care with knives are good practice.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution. `source` names what it is from; empty: good practice."""

    code: str
    text: str
    source: str = ""


CAUTIONS: tuple[Caution, ...] = (
    Caution("knives",
            "Sharp knives: cut away from yourself, wear a cut-resistant glove and a mesh apron where the work asks for "
            "it, and let only trained hands seam and bone."),
    Caution("cold",
            "Keep what is chilled at 5 C or below, bring out only what is being worked on, and put it back at once."),
    Caution("mince",
            "Whatever is minced is to be cooked through: published core temperatures are 68.3 C (155 F) for 17 s, "
            "71.1 C (160 F), or 70 C for 2 minutes, by place. In approved EU and UK plants, scrap trimmings other than "
            "whole-muscle cuttings may not become mince. Follow local codes and the kitchen's own HACCP plan.",
            "FDA Food Code 3-401.11; USDA FSIS; UK guidance; Regulation (EC) 853/2004, annex III, section V"),
    Caution("scales",
            "A kitchen scale will do for a yield test; a price charged by weight needs one that is legal for trade.",
            "OIML R 76, class III"),
    Caution("plan",
            "Follow local codes, the kitchen's own HACCP plan and a competent person: these lines replace none."),
)
