"""The repository holds for every machine: no path of somebody's computer, no address of a network, in any tracked file.

Addresses of documentation (example.com, 192.0.2.0/24 and such, RFC 2606 and RFC 5737), of the loopback, of the
unspecified address and of blocks that are set apart by protocols are everybody's.
"""

import re

import pytest

from tests.architecture.source_tree import name_of, tracked_files

NOT_TEXT = {".png", ".ico", ".woff2", ".gz"}
HOME = re.compile(r"(?<![\w.$}~])/(?:home|Users|root|tmp|work|opt|mnt)/[\w.-]+|\b[A-Z]:\\\\?Users\b")
"""A folder of one person or one machine. Where the service lives by itself is under /var/lib or /srv."""
NUMBERED = re.compile(r"(?<![\w.])(\d{1,3}\.\d{1,3}\.\d{1,3}\.\d{1,3})(?![\w.])")
EVERYBODYS = re.compile(r"127\.|0\.0\.0\.0|255\.255\.255\.255|192\.0\.2\.|198\.51\.100\.|203\.0\.113\.|192\.0\.0\.0$|"
                        r"192\.88\.99\.0$|6\.3\.2\.2$")
"""Of everybody; the last is no address but a page of the NIST/SEMATECH handbook that the control charts cite."""
ABOUT_ADDRESSES = "tests/integrations/webhooks/"
"""Tests of which addresses may be called: they name one of every kind that there is."""
ADDRESS = re.compile(r"\bhttps?://([A-Za-z0-9.-]+)")
HOSTS = {
    "127.0.0.1", "localhost", "example.com", "example.org", "www.example.com",
    # What a document must name to be one: the home of a vocabulary, a licence, a cited standard.
    "spec.openapis.org", "json-schema.org", "www.w3.org", "www.sqlite.org", "www.rfc-editor.org", "docs.python.org",
    "datatracker.ietf.org", "www.postgresql.org", "keepachangelog.com", "d3js.org",
    "github.com",  # the home that a vendored script names in its first line
}


def private_paths(text: str) -> list[str]:
    return HOME.findall(text)


def network_addresses(text: str) -> list[str]:
    numbered = [found for found in NUMBERED.findall(text) if not EVERYBODYS.match(found)
                and all(int(part) < 256 for part in found.split("."))]
    named = [host for host in ADDRESS.findall(text)
             if host not in HOSTS and not host.endswith((".example", ".example.com", ".invalid", ".test"))]
    return numbered + named


def test_no_tracked_file_knows_a_machine_or_a_network() -> None:
    paths = [path for path in tracked_files() if path.suffix not in NOT_TEXT]
    assert len(paths) > 100
    texts = {name_of(path): path.read_text(encoding="utf-8") for path in paths}
    found = {name: private_paths(text) + ([] if name.startswith(ABOUT_ADDRESSES) else network_addresses(text))
             for name, text in texts.items()}
    assert {name: what for name, what in found.items() if what} == {}


@pytest.mark.parametrize("planted", ["see /" + "home/ann/kitchen.db", "/" + "tmp/plan.txt", "C:" + "\\Users\\ann"])
def test_a_planted_path_is_found(planted: str) -> None:
    assert private_paths(planted) != []


@pytest.mark.parametrize("planted", ["http" + "://packages.internal-host.net/simple", "at 10" + ".1.2.3"])
def test_a_planted_address_is_found(planted: str) -> None:
    assert network_addresses(planted) != []
