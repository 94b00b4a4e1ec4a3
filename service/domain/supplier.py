"""A supplier: whom prices are agreed with."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Supplier:
    """A supplier as recorded. Nothing about it is dated."""

    UNDATED: ClassVar[tuple[str, ...]] = ("name", "note")

    code: str
    name: str
    note: str = ""
