"""Numbers as people write them: with a decimal point or comma, and thousands set apart or not.

Rules that always hold: ASCII digits alone; thousands are set apart in threes, by one and the same sign; at most 12
digits before the decimal mark and 6 after it. Whether "1.234" is a little more than one or more than a thousand cannot
be told from it: the decimal mark is said by whoever reads a whole column.

Source: CLDR's number patterns for the signs that set thousands apart: comma, point, apostrophe, blank, no-break blanks.
"""

from decimal import Decimal

MARKS = ".,"
BLANKS = " \u00a0\u2009\u202f"
APOSTROPHES = "'\u2019"
GROUP_SIGNS = BLANKS + APOSTROPHES
MOST_WHOLE_DIGITS = 12
MOST_DECIMALS = 6
_ONE_SIGN = str.maketrans(dict.fromkeys(BLANKS, " ") | dict.fromkeys(APOSTROPHES, "'"))


def other_mark(mark: str) -> str:
    """A comma for a point, a point for a comma."""
    return "," if mark == "." else "."


def telling_mark(number: str) -> str:
    """The decimal mark that a number gives away; empty when it could be either, or has none.

    Example: "," for "14,20", "1.234,5" and "1.234.567"; "." for "0.125" and "1 234.5"; empty for "1.234" and "12".
    """
    points, commas = number.count("."), number.count(",")
    if points and commas:
        return "," if number.rfind(",") > number.rfind(".") else "."
    if not points and not commas:
        return ""
    mark = "." if points else ","
    if points + commas > 1:
        return other_mark(mark)
    whole, _, decimals = number.partition(mark)
    could_be_thousands = len(decimals) == 3 and 1 <= len(whole) <= 3 and whole[0] != "0" and whole.isdigit()
    return "" if could_be_thousands else mark


def value_of(number: str, mark: str) -> Decimal | None:
    """The number, read with that decimal mark; None: it does not read so, or has more digits than are kept.

    Example: "1.234" is 1.234 with a point for its mark, 1234 with a comma; "14.20" is nothing with a comma.
    """
    whole, found, decimals = number.partition(mark)
    if found and not (decimals.isdigit() and decimals.isascii() and len(decimals) <= MOST_DECIMALS):
        return None
    if not (whole.isdigit() and whole.isascii()):
        whole = "0" if whole == "" and decimals else _without_group_signs(whole, other_mark(mark))
    if not whole or len(whole) > MOST_WHOLE_DIGITS:
        return None
    return Decimal(f"{whole}.{decimals}" if decimals else whole)


def has_too_many_digits(number: str, mark: str) -> bool:
    """Whether a number fails `value_of` for its length alone."""
    whole, _, decimals = number.partition(mark)
    return len(decimals) > MOST_DECIMALS or sum(map(str.isdigit, whole)) > MOST_WHOLE_DIGITS


def _without_group_signs(whole: str, sign: str) -> str:
    """The digits, when they are set apart in threes by one sign; else nothing."""
    whole = whole.translate(_ONE_SIGN)
    signs = {each for each in whole if not each.isdigit()}
    if len(signs) != 1 or not signs <= {sign, " ", "'"}:
        return ""
    first, *groups = whole.split(signs.pop())
    well_set = 1 <= len(first) <= 3 and first[0] != "0" and all(len(group) == 3 for group in groups)
    digits = first + "".join(groups)
    return digits if well_set and digits.isascii() and digits.isdigit() else ""
