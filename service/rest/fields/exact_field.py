"""What the fields of bodies, queries and answers share: each reads exactly one form, bounds it first, says the mend.

Rules that always hold, for every field of this folder: no number passes through a float; text is matched as ASCII
before any conversion; a value is what was meant or a fault, never a guess (no "yes" for true, no 20260105 for a date).
Each field documents itself: `facts()` is its JSON Schema beside the type.
"""

from typing import Any, ClassVar

import marshmallow as ma

from service.rest.sentences import NULL, REQUIRED, Sentence

_LONGEST_SHOWN = 40


def says(description: str) -> dict[str, str]:
    """What the API document says of a field: `Code(metadata=says("Whose price decides."))`."""
    return {"description": description}


class ExactField(ma.fields.Field[Any]):
    """What the fields share: our sentences for what is missing or null, and a refusal that carries a code."""

    default_error_messages: ClassVar[dict[str, str]] = {"required": REQUIRED, "null": NULL}

    def read(self, value: Any) -> Any:
        """The value that came in, exactly, or a refusal."""
        return value

    def write(self, value: Any) -> Any:
        """The value as JSON has it."""
        return value

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:  # noqa: ARG002
        return self.read(value)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:  # noqa: ARG002
        return self.write(value)

    def refusal(self, code: str, sentence: str) -> ma.ValidationError:
        """The refusal of a value: a sentence that says the mend, and its code."""
        return ma.ValidationError([Sentence(sentence, code)])

    def facts(self) -> dict[str, Any]:
        """The field's JSON Schema, beside its type and format."""
        return {}


def shown(text: str) -> str:
    """A client's text inside a sentence: short, quoted, and in ASCII so that nothing hides in it."""
    return ascii(text if len(text) <= _LONGEST_SHOWN else text[:_LONGEST_SHOWN] + "...")
