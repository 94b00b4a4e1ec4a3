"""The URL of a webhook: its form, and the parts of it that a call needs.

It is read by our own patterns, and only these parts are used to call it: no second reader could see another host in the
same text. Refused before anything is read: every character that no URL has (line ends, blanks, back-slashes, controls,
other scripts). A name in another script is given as its registry has it (`xn--...`): two ways of encoding it are in
use, and they differ. A host that ends in a number is an address in its one plain form, never `2130706433` or `127.1`.

Source: RFC 3986 (characters in section 2, the pattern of the whole in appendix B); RFC 1123 section 2.1 (host names);
RFC 5891 (`xn--`).
"""

import re
from dataclasses import dataclass
from ipaddress import AddressValueError, IPv4Address, IPv6Address

from service.domain.errors import WrongValue

POINTER = "#/url"
LONGEST_URL, LONGEST_HOST = 2_000, 253
OWN_PORT = {"https": 443, "http": 80}

CHARACTERS = re.compile(r"(?:[A-Za-z0-9._~:/?#\[\]@!$&'()*+,;=-]|%[0-9A-Fa-f]{2})*")
WHOLE = re.compile(r"(?P<scheme>[^:/?#]+)://(?P<authority>[^/?#]*)(?P<path>[^?#]*)(?P<query>\?[^#]*)?(?P<fragment>#.*)?")
AUTHORITY = re.compile(r"(?P<host>\[[0-9A-Fa-f:.]+\]|[^:\[\]]*)(?::(?P<port>[0-9]{1,5}))?")
LABEL = re.compile(r"(?!-)[A-Za-z0-9_-]{1,63}(?<!-)")
NUMBER = re.compile(r"0[xX][0-9A-Fa-f]*|[0-9]+")
"""What some resolvers take for the last part of an address."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where a call goes. Shape: `host` is a name in small letters, or an address without brackets."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def secure(self) -> bool:
        """Over TLS."""
        return self.scheme == "https"

    @property
    def on_its_own_port(self) -> bool:
        """Whether the port is the one that its scheme has."""
        return self.port == OWN_PORT[self.scheme]

    @property
    def host_field(self) -> str:
        """The header field Host."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.on_its_own_port else f"{host}:{self.port}"


def target_of(url: str) -> Target:
    """The parts of a URL.

    Raises:  WrongValue at `#/url`.
    """
    _refuse(len(url) > LONGEST_URL, f"A webhook's URL has at most {LONGEST_URL} characters.")
    _refuse(not CHARACTERS.fullmatch(url),
            "The URL holds characters that no URL has. Write a name in another script as its registry has it "
            "(xn--...), and anything else with % and two hexadecimal digits.")
    whole = WHOLE.fullmatch(url)
    scheme = whole["scheme"].lower() if whole else ""
    if whole is None or scheme not in OWN_PORT:
        raise WrongValue("A webhook's URL is written in full: https://www.example.com/path.", POINTER)
    _refuse(whole["fragment"] is not None, "Leave out of the URL what follows '#': it is never sent.")
    _refuse("@" in whole["authority"],
            "Leave user name and password out of the URL; the signature says who sends the message.")
    authority = AUTHORITY.fullmatch(whole["authority"])
    if authority is None:
        raise WrongValue("After the host name may come one ':' and a port; an IPv6 address stands in [ ].", POINTER)
    return Target(scheme, _host(authority["host"]), _port(authority["port"], OWN_PORT[scheme]),
                  (whole["path"] or "/") + (whole["query"] or ""))


def _host(text: str) -> str:
    if text.startswith("["):
        return _address(IPv6Address, text[1:-1])
    labels = text.split(".")
    if NUMBER.fullmatch(labels[-1]):
        return _address(IPv4Address, text)
    _refuse(len(text) > LONGEST_HOST or not all(map(LABEL.fullmatch, labels)),
            "The host of a URL is a name: parts of letters, digits and '-', with a full stop between two; at most 63 "
            f"characters each and {LONGEST_HOST} together.")
    return text.lower()


def _address(kind: type[IPv4Address] | type[IPv6Address], text: str) -> str:
    try:
        return str(kind(text))
    except AddressValueError:
        raise WrongValue("Write an address as four numbers from 0 to 255 without leading zeros, or as IPv6 in [ ].",
                         POINTER) from None


def _port(text: str | None, unset: int) -> int:
    port = unset if text is None else int(text)
    _refuse(not 1 <= port <= 65_535, "A port is a number from 1 to 65535.")
    return port


def _refuse(wrong: bool, mend: str) -> None:
    if wrong:
        raise WrongValue(mend, POINTER)
