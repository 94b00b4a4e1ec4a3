"""What is not the very same in two mappings, however they came from one another."""

import gc
from typing import Any

import pytest

from service.domain.very_same import Copied, others, others_of_either, same_keys

BASE = {"beef": object(), "salt": object(), "veal": object()}


def copied(of: Any, **entries: object) -> Copied[object]:
    copy: Copied[object] = Copied(of)
    for key, value in entries.items():
        copy[key] = value
    return copy


@pytest.mark.parametrize("entries", [
    {}, {"salt": object()}, {"salt": BASE["salt"]}, {"mint": object()}, {"veal": object(), "beef": object()},
])
def test_a_copy_says_what_a_look_at_every_entry_says(entries: dict[str, object]) -> None:
    after = copied(BASE, **entries)
    for before, then in ((BASE, after), (after, copied(after, **entries)), (copied(BASE, salt=object()), after)):
        plain = dict(then)
        assert sorted(others(before, then)) == sorted(key for key in plain if before.get(key) is not plain[key])
        assert sorted(others_of_either(before, then)) == sorted(others_of_either(dict(before), plain))
        assert same_keys(before, then) == (before.keys() == plain.keys())


def test_a_series_of_copies_does_not_hold_on_to_those_before() -> None:
    class Price:
        """Anything that can be counted."""

    last: Copied[object] = copied(BASE)
    for _ in range(5):
        last = copied(last, salt=Price())
    gc.collect()
    assert sum(isinstance(one, Price) for one in gc.get_objects()) == 1
