"""Whether what is told to a person is a sentence: for tests of what a refusal says, which need not repeat its words.

No source: common practice of English typography.
"""

import re

_QUOTED = re.compile(r"`[^`]*`|'[^']*'(?!\w)|\"[^\"]*\"|<[^>]*>")
_TORN = re.compile(r"[a-z][A-Z]|[A-Z]{2,}[a-z]")
_NAMES = re.compile(r"OpenAPI|IPv[46]")
_LOUD = re.compile(r"\b[A-Z]+\b(?:[^a-z.]*\b[A-Z]+\b){3}")


def is_a_sentence(text: str) -> bool:
    """Begins with a capital and ends with a full stop; no word has capitals amid it, and no run of words is all of
    them. What stands in quotation marks is not looked at.
    """
    plain = _QUOTED.sub("x", text[1:]) if text else ""
    return text[:1].isupper() and text.endswith(".") and not _TORN.search(_NAMES.sub("", plain)) \
        and not re.match(r"[A-Z]{2}[a-z]", text) and not _LOUD.search(plain)
