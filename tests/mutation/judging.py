"""What a run of mutants says: how many the tests noticed, and of which others nobody has said why they may live."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tests.mutation.parts import LEAST_KILLED, Mutant, Part

NOTICED = ("killed", "timeout", "segfault", "caught by type check")
"""What mutmut calls a mutant that a test failed for, one that made the tests hang, and one that ended the process."""
TRIED = (*NOTICED, "survived", "no tests")


@dataclass(frozen=True)
class Judgement:
    """`counts` are of mutants by what became of them, `share` is what part of all was noticed; `not_needed` are
    explained, and are not among those that live."""

    counts: Mapping[str, int]
    share: float
    faults: tuple[str, ...]
    not_needed: tuple[Mutant, ...]


def lived(status: str) -> bool:
    """Whether no test noticed the mutant: none failed, or none reaches it."""
    return status in ("survived", "no tests")


def judged(part: Part, statuses: Iterable[str], living: Iterable[Mutant]) -> Judgement:
    """What to say of a part, of what became of each mutant, and of the mutations of those that live."""
    counts, alive, explained = Counter(statuses), Counter(living), {mutant for mutant, _ in part.explained}
    share = sum(counts[each] for each in NOTICED) / max(counts.total(), 1)
    faults = [f"{share:.1%} were noticed, which is below {LEAST_KILLED:.0%}"] if share < LEAST_KILLED else []
    faults += [f"{count} mutants: {status}" for status, count in counts.items() if status not in TRIED]
    faults += [f"lives, and nothing says why: {mutant}" for mutant in alive if mutant not in explained]
    return Judgement(counts, share, tuple(faults), tuple(each for each in explained if each not in alive))


def mutant_shown(name: str, shown: str) -> Mutant:
    """The mutation that `mutmut show` tells of: a name as service.domain.menu.xǁTermsǁof__mutmut_3, and a diff."""
    module, _, mangled = name.partition("__mutmut_")[0].rpartition(".")
    function = mangled.replace("ǁ", ".").removeprefix("x.") if "ǁ" in mangled else mangled.removeprefix("x_")
    body = shown.partition("\n@@")[2].splitlines()[1:]
    was, became = (" ".join(" ".join(line[1:].split()) for line in body if line.startswith(sign)) for sign in "-+")
    return Mutant(f"{module}.{function}", was.strip(), became.strip())
