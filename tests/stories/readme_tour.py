"""The README's tour as it stands there: its Python, and the answers printed beneath each piece.

`python -m tests.stories.readme_tour URL KEY` runs it against a demo that has just been loaded, and writes the answers
into the README; the test only compares.
"""

import contextlib
import io
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"
_PIECE = re.compile(r"```python\n(?P<code>.*?)```\n\n```text\n(?P<printed>.*?)```\n", re.DOTALL)


@dataclass(frozen=True)
class Piece:
    """A piece of the tour: what is typed, and what the README says is printed."""

    code: str
    printed: str


def pieces(text: str) -> list[Piece]:
    """The pieces in their order."""
    return [Piece(found["code"], found["printed"]) for found in _PIECE.finditer(text)]


def run(tour: list[Piece], url: str, key: str) -> Iterator[str]:
    """What each piece prints, run one after the other in one namespace, as a reader would."""
    os.environ["SEAMCOST_URL"], os.environ["SEAMCOST_KEY"] = url, key
    namespace: dict[str, object] = {}
    for piece in tour:
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(piece.code, "README.md", "exec"), namespace)
        yield printed.getvalue()


def main(url: str, key: str) -> None:
    """Write what is printed into the README."""
    text = README.read_text(encoding="utf-8")
    printed = run(pieces(text), url, key)
    README.write_text(_PIECE.sub(
        lambda found: f"```python\n{found['code']}```\n\n```text\n{next(printed)}```\n", text), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
