"""Global Trade Item Numbers: how long they are, and their check digit.

A GTIN has 8, 12, 13 or 14 digits; filled with zeros on the left to 14 it is one number, however it was printed. From
the right, the digits before the last weigh 3, 1, 3 ...; the last digit brings their sum to a multiple of ten.

Source: GS1 General Specifications, section 7.9.1 "Standard check digit calculations for GS1 data structures".
"""

LENGTHS = (8, 12, 13, 14)


def gtin_fault(text: str) -> str | None:
    """What is wrong with a GTIN, as a sentence that says the mend, or None.

    Example: 6291041500213 is one; 6291041500214 is not, its last digit should be 3.
    """
    if not (text.isascii() and text.isdigit() and len(text) in LENGTHS):
        return "A GTIN has 8, 12, 13 or 14 digits and nothing else; leave it empty if there is none."
    due = check_digit(text[:-1])
    if text[-1] != due:
        return f"The last digit of this GTIN does not check: after {text[:-1]} comes {due}. Read it again."
    return None


def check_digit(digits: str) -> str:
    """The digit that ends a GTIN which begins with `digits`."""
    weighed = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return str(-weighed % 10)


def in_fourteen_digits(gtin: str) -> str:
    """The GTIN as it is compared: two that differ in leading zeros alone are the same."""
    return gtin.rjust(14, "0")
