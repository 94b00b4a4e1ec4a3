"""The names closest to one that is not known: what a row of a price list may have been meant for.

A list can have a thousand unknown items on a page, and a kitchen ten thousand names; holding each against each letter
by letter takes minutes. So names are found by the groups of three letters that they share, rare ones first, and only
the few that share most are held against the name in full.
"""

import difflib
from collections import Counter, defaultdict
from collections.abc import Sequence

CLOSEST = 3
LIKE_ENOUGH = 0.5
CANDIDATES = 24
LONGEST = 120
"""Letters that are looked at: a cell may hold thousands."""
MOST_LOOKED_UP = 4_000
"""Names that are counted for one look-up; groups of letters that most names have tell nothing."""


class ClosestNames:
    """Names, asked which of them are most like another. Case does not count; reading changes nothing."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = [name.casefold()[:LONGEST] for name in names]
        self._with: defaultdict[str, list[int]] = defaultdict(list)
        for number, name in enumerate(self._names):
            for group in _groups(name):
                self._with[group].append(number)

    def to(self, name: str) -> list[int]:
        """The places of the closest names, the closest first; none where none is like it."""
        asked = name.casefold()[:LONGEST]
        matcher = difflib.SequenceMatcher(b=asked, autojunk=False)
        found = []
        for number in self._candidates(asked):
            matcher.set_seq1(self._names[number])
            ratio = matcher.ratio()
            if ratio >= LIKE_ENOUGH:
                found.append((-ratio, number))
        return [number for _, number in sorted(found)[:CLOSEST]]

    def _candidates(self, asked: str) -> list[int]:
        """The names that share most groups of letters with the one asked for."""
        shared: Counter[int] = Counter()
        looked_up = 0
        for names in sorted((self._with[group] for group in _groups(asked) if group in self._with), key=len):
            if looked_up and looked_up + len(names) > MOST_LOOKED_UP:
                break
            shared.update(names)
            looked_up += len(names)
        return [number for number, _ in shared.most_common(CANDIDATES)]


def _groups(name: str) -> set[str]:
    """The groups of three letters in a name; its first and last letters count as groups too."""
    padded = f"  {name} "
    return {padded[at:at + 3] for at in range(len(padded) - 2)}
