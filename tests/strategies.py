"""Hypothesis strategies: what a kitchen may record, edges included."""

from fractions import Fraction

from hypothesis import strategies as st

from service.domain.allocation import Carrier


def amounts(highest: int = 40) -> st.SearchStrategy[Fraction]:
    """An amount as recorded: not below zero, at most 6 decimals; zero comes up often."""
    recorded = st.integers(1, highest * 10**6).map(lambda millionths: Fraction(millionths, 10**6))
    return st.one_of(st.just(Fraction(0)), recorded)


def yield_fractions(highest: Fraction = Fraction(1, 4)) -> st.SearchStrategy[Fraction]:
    """A yield as tests give it: a ratio of whole grams, seldom a round number; sometimes zero."""
    return st.builds(lambda part, whole: highest * Fraction(min(part, whole), whole),
                     st.integers(0, 9000), st.integers(1, 9000))


def carriers(missing_values: bool = False, smallest: int = 2, largest: int = 6) -> st.SearchStrategy[list[Carrier]]:
    """Main and trim outputs with values at the edge: nil, below the finishing, and (where asked for) missing."""
    value = st.one_of(st.none(), amounts()) if missing_values else amounts()
    facts = st.tuples(yield_fractions(), amounts(8), value, st.one_of(st.none(), amounts()), value)
    return st.lists(facts, min_size=smallest, max_size=largest).map(
        lambda rows: [Carrier(f"cut-{position}", *row) for position, row in enumerate(rows)])
