"""The lock file pins all that runs, by hash, for every Python that is promised, and knows no place it came from.

Made by: uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-emit-find-links
--no-header --only-binary :all: pyproject.toml -o requirements.lock
"""

import re
import tomllib

from tests.architecture.source_tree import TOP

LOCK = (TOP / "requirements.lock").read_text(encoding="utf-8")
PIN = r"^([a-z0-9-]+)(?:\[[a-z,]+\])?==(\S+)(?: ; [^\\]+)? \\\n"
HASHES = r"((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)"
PINS = re.findall(PIN + HASHES, LOCK, flags=re.MULTILINE)


def test_every_line_is_a_pin_with_hashes_or_a_comment() -> None:
    pinned = re.findall(r"^[^\s#].*$", LOCK, flags=re.MULTILINE)
    assert len(pinned) == len(PINS) > 15


def test_what_the_package_needs_is_pinned() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needed = {re.split(r"[\[<>=!;~ ]", dependency)[0] for dependency in project["dependencies"]}
    assert needed <= {name for name, _, _ in PINS}


def test_no_address_and_no_path_is_in_it() -> None:
    assert re.findall(r"https?:|file:|--index-url|--extra-index-url|--find-links|@ ", LOCK) == []
    without_comments = re.sub(r"#.*", "", LOCK)
    assert "/" not in without_comments
