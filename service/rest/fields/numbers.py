"""Fields of numbers: a decimal as it was written, a whole number, and a figure as it is published.

No number passes through a float. It comes as text, of which the length and the form are held before it is converted.

Source: RFC 8259 section 6 (numbers).
"""

import re
from decimal import Decimal
from typing import Any

from service.rest.fields.exact_field import ExactField, shown
from service.rest.json_numbers import NumberText

_WHOLE = re.compile(r"-?[0-9]{1,15}(\.0{1,6})?", re.ASCII)


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
