"""Fields of which only certain values can be right: true or false, one of some words, always the same word.

A value that is none of them is refused with the list of those that are; nothing is taken for what it resembles.
"""

from enum import StrEnum
from typing import Any

from service.rest.fields.exact_field import ExactField


class Flag(ExactField):
    """true or false, and nothing that only looks like it. In a query, the words `true` and `false`."""

    def read(self, value: Any) -> bool:
        if isinstance(value, bool):
            return value
        if value in ("true", "false") and getattr(self.root, "IS_QUERY", False):
            return bool(value == "true")
        raise self.refusal("not-a-boolean", "Give true or false, without quotes.")


class Choice(ExactField):
    """One of an enumeration's values, loaded as its member."""

    def __init__(self, enumeration: type[StrEnum], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.enumeration = enumeration

    def read(self, value: Any) -> StrEnum:
        if isinstance(value, str) and value in self.enumeration._value2member_map_:
            return self.enumeration(value)
        raise self.refusal("not-a-choice", f"Give one of {', '.join(member.value for member in self.enumeration)}.")

    def write(self, value: Any) -> str | None:
        return None if value is None else self.enumeration(value).value

    def facts(self) -> dict[str, Any]:
        values: list[str | None] = [member.value for member in self.enumeration]
        return {"enum": [*values, None] if self.allow_none else values}


class OneOf(ExactField):
    """One of some words, loaded as text: for lists that are data (units, allergens) and not an enumeration."""

    def __init__(self, words: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.words = words

    def read(self, value: Any) -> str:
        if isinstance(value, str) and value in self.words:
            return value
        raise self.refusal("not-a-choice", f"Give one of {', '.join(self.words)}.")

    def facts(self) -> dict[str, Any]:
        return {"enum": [*self.words, None] if self.allow_none else list(self.words)}


class Fixed(ExactField):
    """Always the same word: what tells one shape from another."""

    def __init__(self, word: str, **kwargs: Any) -> None:
        super().__init__(required=True, **kwargs)
        self.word = word

    def read(self, value: Any) -> str:
        if value != self.word or not isinstance(value, str):
            raise self.refusal("not-a-choice", f"Give {self.word!r}.")
        return self.word

    def write(self, value: Any) -> str:  # noqa: ARG002
        return self.word

    def facts(self) -> dict[str, Any]:
        return {"const": self.word}
