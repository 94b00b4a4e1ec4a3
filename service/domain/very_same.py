"""What is not the very same in two mappings: a comparison of identities, which is all that taking over needs to know.

A copy that remembers what it was copied from, and what was put in it since, is compared with that in no time; other
mappings that were copied from one another have their keys in one order, and are compared without a look-up.
"""

from collections.abc import Iterable, Mapping
from itertools import compress
from operator import is_not
from typing import Any, TypeVar

V = TypeVar("V")


class Copied(dict[str, V]):
    """A copy of a mapping in which entries are put, one by one and before it is handed on; none is taken out.

    Of what it was copied from it keeps no more than a token where that is a copy itself: a series of copies, each of
    the one before, must not hold on to all of them.
    """

    def __init__(self, of: Mapping[str, V]) -> None:
        super().__init__(of)
        self.token = object()
        self._of = _token(of)
        self.since: dict[str, None] = {}

    def __setitem__(self, key: str, value: V) -> None:
        self.since[key] = None
        super().__setitem__(key, value)

    def is_of(self, other: Mapping[str, Any]) -> bool:
        """Whether this is a copy of that mapping."""
        return self._of is _token(other)


def _token(mapping: Mapping[str, Any]) -> object:
    return mapping.token if isinstance(mapping, Copied) else mapping


def others(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[str]:
    """The keys of `after` whose values are not the very same in `before`."""
    if before is after:
        return ()
    if isinstance(after, Copied) and after.is_of(before):
        return [key for key in after.since if before.get(key) is not after[key]]
    keys = list(after)
    if _in_one_order(before, keys):
        return list(compress(keys, map(is_not, before.values(), after.values())))
    return [key for key, value in after.items() if before.get(key) is not value]


def others_of_either(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[str]:
    """The same, and the keys that only `before` has."""
    gone = () if _copied(before, after) or _in_one_order(before, list(after)) else before.keys() - after.keys()
    return [*others(before, after), *gone]


def same_keys(before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    """Whether both have the same keys."""
    return before.keys() == after.keys() if not _copied(before, after) else len(before) == len(after)


def _copied(before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    return before is after or (isinstance(after, Copied) and after.is_of(before))


def _in_one_order(before: Mapping[str, Any], keys: list[str]) -> bool:
    return len(before) == len(keys) and list(before) == keys
