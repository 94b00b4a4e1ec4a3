"""Fields that hold others: a list of several, and an object of its own schema.

A list is counted before any of its elements is read, and reading ends where no more faults would be told.
"""

from typing import Any, ClassVar

import marshmallow as ma

from service.rest.sentences import MOST_TOLD, NOT_A_LIST, NOT_AN_OBJECT, NULL, REQUIRED, Sentence


class Several(ma.fields.List[Any]):
    """A list, its length held before any of its elements is read.

    `read_up_to` reads more than the `max` that is documented, where a use case holds to the limit and names it.
    """

    default_error_messages: ClassVar[dict[str, str]] = {"required": REQUIRED, "null": NULL, "invalid": NOT_A_LIST}

    def __init__(self, inner: Any, *, max: int = 100, min: int = 0, read_up_to: int = 0, **kwargs: Any) -> None:
        super().__init__(inner, **kwargs)
        self.fewest, self.most, self.documented = min, read_up_to or max, max

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:  # noqa: ARG002
        if not isinstance(value, list):
            raise ma.ValidationError([NOT_A_LIST])
        if not self.fewest <= len(value) <= self.most:
            code = "too-few" if len(value) < self.fewest else "too-many"
            raise ma.ValidationError([Sentence(f"Give {self.fewest} to {self.most} entries; here are {len(value)}.",
                                               code)])
        return self._read(value, kwargs)

    def _read(self, entries: list[Any], options: dict[str, Any]) -> list[Any]:
        """The entries, until so many of them are wrong that no more will be told of."""
        read: list[Any] = []
        wrong: dict[int, Any] = {}
        for place, entry in enumerate(entries):
            try:
                read.append(self.inner.deserialize(entry, **options))
            except ma.ValidationError as fault:
                wrong[place] = fault.messages
                if len(wrong) == MOST_TOLD:
                    break
        if wrong:
            raise ma.ValidationError(wrong)  # type: ignore[arg-type]
        return read

    def facts(self) -> dict[str, Any]:
        if getattr(self.root, "IS_ANSWER", False):
            return {}
        return {"maxItems": self.documented} | ({"minItems": self.fewest} if self.fewest else {})


class Group(ma.fields.Nested):
    """An object inside an object, by its own schema."""

    default_error_messages: ClassVar[dict[str, str]] = {"required": REQUIRED, "null": NULL, "type": NOT_AN_OBJECT}
