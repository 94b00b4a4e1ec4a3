"""The fields of what comes in and goes out: each reads exactly one form, bounds it first, and says the mend.

Rules that always hold: no number passes through a float; text is matched as ASCII before any conversion; a value is
what was meant or a fault, never a guess (no "yes" for true, no 20260105 for a date). Each field documents itself:
`facts()` is its JSON Schema beside the type.

Source: RFC 8259 section 6 (numbers), RFC 3339 section 5.6 (dates), Unicode Standard Annex 15 (NFC) and Technical
Report 36 (direction overrides).
"""

import re
import unicodedata
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any, ClassVar

import marshmallow as ma

from service.domain.business_day import FIRST_DAY, LAST_DAY
from service.rest.json_numbers import NumberText
from service.rest.sentences import MOST_TOLD, NOT_A_LIST, NOT_AN_OBJECT, NOT_TEXT, NULL, REQUIRED, Sentence

CODE_PATTERN = "[a-z0-9]+(-[a-z0-9]+)*"
CODE_LENGTH = 64
RESERVED_CODES = frozenset({"changes"})

_CODE = re.compile(CODE_PATTERN, re.ASCII)
_WHOLE = re.compile(r"-?[0-9]{1,15}(\.0{1,6})?", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})",
                     re.ASCII)
_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
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


class ExactDecimal(ExactField):
    """A decimal, read from JSON text or from a JSON number as it was written, at most 12 digits before the point.

    Shape:   loads a Decimal; dumps plain text, without trailing zeros beyond `shown_decimals`, so that one value has
             one text whichever way it came.
    Exact:   bounded and matched as text first: `1E400`, NaN, `1_000`, blanks and other scripts' digits are refused.
    Example: "14.20" and 14.20 both load Decimal("14.20"), dumped as "14.2", or "14.20" with shown_decimals=2.
    """

    def __init__(
        self, *, min: str | None = None, max: str | None = None, positive: bool = False, non_negative: bool = False,
        decimals: int = 6, shown_decimals: int = 0, **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.least = Decimal(min) if min is not None else (Decimal(0) if non_negative or positive else None)
        self.most = Decimal(max) if max is not None else None
        self.positive = positive
        self.decimals = decimals
        self.shown_decimals = shown_decimals
        sign = "" if self.least is not None and self.least >= 0 else "-?"
        point = rf"(\.[0-9]{{1,{decimals}}})?" if decimals else ""
        self.pattern = rf"{sign}[0-9]{{1,12}}{point}"
        self._read = re.compile(rf"-?[0-9]{{1,12}}{point}", re.ASCII)

    def read(self, value: Any) -> Decimal:
        text = value.text if isinstance(value, NumberText) else value
        if not isinstance(text, str):
            raise self.refusal("not-a-decimal", f"Give a decimal as text, such as {self._example()!r}.")
        if len(text) > 20 or not self._read.fullmatch(text):
            raise self.refusal(
                "not-a-decimal", f"{shown(text)} is not a decimal as read here: plain digits, at most 12 before the "
                f"point and {self.decimals} after it, such as {self._example()!r}.")
        number = Decimal(text)
        return self._within(abs(number) if number == 0 else number)

    def _within(self, number: Decimal) -> Decimal:
        if self.positive and number <= 0:
            raise self.refusal("too-small", "Give a value above 0.")
        if self.least is not None and number < self.least:
            raise self.refusal("too-small", f"Give at least {self.least:f}.")
        if self.most is not None and number > self.most:
            raise self.refusal("too-large", f"Give at most {self.most:f}.")
        return number

    def write(self, value: Any) -> str | None:
        if value is None or isinstance(value, str):
            return value
        if not isinstance(value, Decimal | int) or isinstance(value, bool):
            raise TypeError(f"{self.name} is {type(value).__name__}, not a Decimal: it would not be exact")
        whole, _, fraction = format(Decimal(value), "f").partition(".")
        fraction = fraction.rstrip("0").ljust(self.shown_decimals, "0")
        return f"{whole}.{fraction}" if fraction else whole

    def _example(self) -> str:
        return "8" if self.decimals == 0 else "8.5" if self.most is None or self.most >= 9 else "0.5"

    def facts(self) -> dict[str, Any]:
        bounds = {"exclusiveMinimum" if self.positive else "minimum": self.least, "maximum": self.most}
        return {"pattern": f"^{self.pattern}$"} | {
            name: int(value) if value == int(value) else float(value)
            for name, value in bounds.items() if value is not None and self.accepts_numbers}

    @property
    def accepts_numbers(self) -> bool:
        """Answers hold text alone; requests may hold numbers."""
        return not self.dump_only and getattr(self.root, "IS_REQUEST", False)


class Figure(ExactField):
    """A published figure: a Decimal with exactly its decimals, or text that is one already. Answers only."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(dump_only=True, **kwargs)

    def write(self, value: Any) -> str | None:
        if value is None or isinstance(value, str):
            return value
        if not isinstance(value, Decimal):
            raise TypeError(f"{self.name} is {type(value).__name__}, not a Decimal: it would not be exact")
        return format(value, "f")

    def facts(self) -> dict[str, Any]:
        return {"pattern": r"^-?[0-9]+(\.[0-9]+)?$"}


class Code(ExactField):
    """A public identifier that people choose: `beef-topside`. `named` says of what, for the sentence."""

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise self.refusal("not-a-code", "Give a code as text, such as 'beef-topside'.")
        fault = code_fault(value)
        if fault is not None:
            raise self.refusal("not-a-code", fault)
        return value

    def facts(self) -> dict[str, Any]:
        return {"pattern": f"^{CODE_PATTERN}$", "maxLength": CODE_LENGTH}


class Text(ExactField):
    """Free text, normalised to NFC and without blanks around it; line ends only where `lines` allows them."""

    def __init__(self, *, max: int = 1000, min: int = 0, lines: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.shortest, self.longest, self.lines = min, max, lines

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise ma.ValidationError([NOT_TEXT])
        if len(value) > 4 * self.longest + 64:
            raise self.refusal("too-long", f"Give at most {self.longest} characters.")
        text = unicodedata.normalize("NFC", value).strip()
        if len(text) > self.longest:
            raise self.refusal("too-long", f"Give at most {self.longest} characters.")
        if len(text) < self.shortest:
            raise self.refusal("too-short", f"Give at least {self.shortest} character{'s' * (self.shortest > 1)}.")
        if not (text.isascii() and text.isprintable()):
            self._hold_to_plain(text)
        return text

    def _hold_to_plain(self, text: str) -> None:
        for character in text:
            if unprintable(character) and not (self.lines and character == "\n"):
                raise self.refusal(
                    "unprintable-character", f"Leave out the character U+{ord(character):04X}: control characters, "
                    "surrogates and direction overrides are not kept.")

    def facts(self) -> dict[str, Any]:
        if getattr(self.root, "IS_ANSWER", False):
            return {}
        return {"maxLength": self.longest} | ({"minLength": self.shortest} if self.shortest else {})


class Name(Text):
    """What people call a thing: 1 to 120 characters on one line."""

    def __init__(self, *, max: int = 120, **kwargs: Any) -> None:
        super().__init__(min=1, max=max, **kwargs)


class Day(ExactField):
    """A calendar day, RFC 3339 full-date: 2026-01-05."""

    def read(self, value: Any) -> date:
        try:
            day = date.fromisoformat(value) if isinstance(value, str) and _DAY.fullmatch(value) else None
        except ValueError:
            day = None
        if day is None:
            raise self.refusal("not-a-date", "Give a day that exists as YYYY-MM-DD, such as '2026-01-05'.")
        if not FIRST_DAY <= day <= LAST_DAY:
            raise self.refusal("not-a-date", f"Give a day from {FIRST_DAY} to {LAST_DAY}.")
        return day

    def write(self, value: Any) -> str | None:
        return value.isoformat() if isinstance(value, date) else value


class Moment(ExactField):
    """An instant, RFC 3339 date-time with its offset; always in UTC with Z in answers."""

    def read(self, value: Any) -> datetime:
        try:
            moment = datetime.fromisoformat(value) if isinstance(value, str) and _MOMENT.fullmatch(value) else None
            moment = moment and moment.astimezone(UTC)
        except (ValueError, OverflowError):
            moment = None
        if moment is None or not FIRST_DAY <= moment.date() <= LAST_DAY:
            raise self.refusal("not-a-date-time", "Give an instant with its offset, such as '2026-01-05T10:00:00Z'.")
        return moment

    def write(self, value: Any) -> str | None:
        if not isinstance(value, datetime):
            return value
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


class Flag(ExactField):
    """true or false, and nothing that only looks like it. In a query, the words `true` and `false`."""

    def read(self, value: Any) -> bool:
        if isinstance(value, bool):
            return value
        if value in ("true", "false") and getattr(self.root, "IS_QUERY", False):
            return bool(value == "true")
        raise self.refusal("not-a-boolean", "Give true or false, without quotes.")


class Whole(ExactField):
    """A whole number within bounds, at most 15 digits. `5.0` is one, as JSON Schema says; `5.5` is none."""

    def __init__(self, *, min: int = 0, max: int = 999_999_999_999_999, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.least, self.most = min, max

    def read(self, value: Any) -> int:
        in_query = isinstance(value, str) and getattr(self.root, "IS_QUERY", False)
        text = value.text if isinstance(value, NumberText) else value if in_query else None
        if text is None or len(text) > 24 or not _WHOLE.fullmatch(text):
            raise self.refusal("not-a-whole-number", f"Give a whole number from {self.least} to {self.most}.")
        number = int(text.partition(".")[0])
        if not self.least <= number <= self.most:
            raise self.refusal("out-of-range", f"Give a whole number from {self.least} to {self.most}.")
        return number

    def facts(self) -> dict[str, Any]:
        return {"minimum": self.least, "maximum": self.most}


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


def code_fault(text: str) -> str | None:
    """What is wrong with a code, as a sentence, or None."""
    if len(text) > CODE_LENGTH:
        return f"A code has at most {CODE_LENGTH} characters."
    if not _CODE.fullmatch(text):
        return f"{shown(text)} is not a code: lower-case letters and digits, joined by single hyphens: 'beef-topside'."
    if text in RESERVED_CODES:
        return f"{text!r} is reserved; choose another code."
    return None


def unprintable(character: str) -> bool:
    """Control characters, surrogates, line and paragraph separators, non-characters and direction overrides."""
    return (unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp") or character in _OVERRIDES
            or ord(character) & 0xFFFE == 0xFFFE)


def shown(text: str) -> str:
    """A client's text inside a sentence: short, quoted, and in ASCII so that nothing hides in it."""
    return ascii(text if len(text) <= _LONGEST_SHOWN else text[:_LONGEST_SHOWN] + "...")
