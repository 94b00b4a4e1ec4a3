"""No secret stands in the repository: no access key, no private key.

What shows the form of one to a reader is written so that it has not quite that form. A leak on somebody's disk is found
by the same pattern: `seam_`, eight hexadecimal digits, `_`, 43 letters of base64url.
"""

import re

import pytest

from service.use_cases.keys import PREFIX
from tests.architecture.source_tree import name_of, tracked_files
from tests.architecture.test_nothing_of_this_machine import NOT_TEXT

SECRETS = {
    "an access key": re.compile(rf"(?<![\w-]){PREFIX}_[0-9a-f]{{8}}_[A-Za-z0-9_-]{{43}}(?![\w-])", re.ASCII),
    "a private key": re.compile(r"-----BEGIN [A-Z ]*PRIVATE" + r" KEY-----"),
}


def secrets_in(text: str) -> list[str]:
    return [name for name, pattern in SECRETS.items() if pattern.search(text)]


def test_no_tracked_file_holds_a_secret() -> None:
    paths = [path for path in tracked_files() if path.suffix not in NOT_TEXT]
    assert len(paths) > 100
    found = {name_of(path): secrets_in(path.read_text(encoding="utf-8")) for path in paths}
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize("planted", [
    "KEY = 'seam_" + "0a1b2c3d_" + "Ab-_" * 10 + "xyz'", "-----BEGIN RSA PRIVATE" + " KEY-----",
    "-----BEGIN PRIVATE" + " KEY-----"])
def test_a_planted_secret_is_found(planted: str) -> None:
    assert len(secrets_in(planted)) == 1
