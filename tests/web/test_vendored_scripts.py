"""Scripts of others that the pages load: the very bytes that were published, pinned by version and hash, each with its
licence, and everything there that one of them asks for.

Source: the packages themselves, as npm gives them at these versions; the list of them is static/vendor/VENDORED.txt.
"""

import hashlib
import re
from importlib.resources import files
from typing import NamedTuple

import pytest

from tests.node_packages import needs_node, node_packages

FOLDER = files("service.web").joinpath("static", "vendor")


class Vendored(NamedTuple):
    """A line of the list."""

    file: str
    package: str
    version: str
    published_as: str
    sha256: str


LISTED = [Vendored(*line.split()) for line in FOLDER.joinpath("VENDORED.txt").read_text().splitlines()[1:]]


def test_the_list_names_every_script_there() -> None:
    assert sorted(each.file for each in LISTED) == sorted(
        file.name for file in FOLDER.iterdir() if file.name.endswith(".js"))
    assert len(LISTED) >= 9


@pytest.mark.parametrize("each", LISTED, ids=lambda each: each.file)
def test_a_script_has_the_hash_listed_its_licence_and_what_it_needs(each: Vendored) -> None:
    content = FOLDER.joinpath(each.file).read_bytes()
    assert hashlib.sha256(content).hexdigest() == each.sha256
    licence = FOLDER.joinpath(each.file.replace(".js", ".LICENSE.txt")).read_text()
    assert "Permission to use, copy, modify, and/or distribute" in licence or "Redistribution and use" in licence
    needed = set(re.findall(r'require\("([^"]+)"\)', content.decode()))
    assert needed <= {other.package for other in LISTED}


@needs_node
def test_the_scripts_are_those_that_were_published() -> None:
    packages = node_packages({each.package: each.version for each in LISTED})
    for each in LISTED:
        published = packages / each.package / each.published_as
        assert published.read_bytes() == FOLDER.joinpath(each.file).read_bytes(), each.file
