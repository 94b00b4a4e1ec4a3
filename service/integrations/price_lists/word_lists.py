"""Lists of words as they are written down in this package: parted by bars where some have blanks, else by blanks."""


def listed(words: str) -> list[str]:
    """The words, in their order.

    Example: "net|list price" is ["net", "list price"], "net list" is ["net", "list"].
    """
    if "|" not in words:
        return words.split()
    return [" ".join(each.split()) for each in words.split("|")]
