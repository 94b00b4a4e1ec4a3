"""What is not the very same in two mappings: a comparison of identities, which is all that taking over needs to know.

Mappings that were copied from one another have their keys in one order, and are compared without a look-up.
"""

from collections.abc import Iterable, Mapping
from itertools import compress
from operator import is_not
from typing import Any


def others(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[str]:
    """The keys of `after` whose values are not the very same in `before`."""
    if before is after:
        return ()
    keys = list(after)
    if _in_one_order(before, keys):
        return list(compress(keys, map(is_not, before.values(), after.values())))
    return [key for key, value in after.items() if before.get(key) is not value]


def others_of_either(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterable[str]:
    """The same, and the keys that only `before` has."""
    gone = () if before is after or _in_one_order(before, list(after)) else before.keys() - after.keys()
    return [*others(before, after), *gone]


def _in_one_order(before: Mapping[str, Any], keys: list[str]) -> bool:
    return len(before) == len(keys) and list(before) == keys
