"""A JSON number as it was written. It becomes a Decimal or an int only in a field that has bounded it first."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NumberText:
    """The text of a JSON number, of any length; never a float, never converted unseen."""

    text: str
