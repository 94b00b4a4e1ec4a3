"""What a reader in the cage says when it will not read on."""


class Refusal(Exception):
    """`word` is one that the other side has a sentence for; `text` is for that sentence, `limit` what was passed."""

    def __init__(self, word: str, text: str = "", limit: int = 0) -> None:
        super().__init__(text)
        self.word = word
        self.limit = limit
