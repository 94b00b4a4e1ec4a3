"""Which addresses everybody may reach, by the registries and not by our rules: the judge of the guard.

Source: special_addresses.csv has the blocks of the IANA IPv4 and IPv6 Special-Purpose Address Registries (state of July
2026; "N/A" and blank count as not reachable), and below them multicast (RFC 5771, RFC 4291 section 2.7) and site-local
addresses (RFC 3879). IPv4-mapped and NAT64 addresses are left out: they are judged as the IPv4 address that they write.
"""

import csv
from ipaddress import IPv4Address, IPv6Address, ip_network
from pathlib import Path

with (Path(__file__).parent / "special_addresses.csv").open(encoding="utf-8", newline="") as _file:
    BLOCKS = [(ip_network(row["block"]), row["globally_reachable"] == "yes") for row in csv.DictReader(_file)]

NOT_REACHABLE = [block for block, reachable in BLOCKS if not reachable]
REACHABLE = [block for block, reachable in BLOCKS if reachable]


def within(address: IPv4Address | IPv6Address, blocks: list) -> bool:
    return any(address in block for block in blocks if block.version == address.version)


def final(address: IPv4Address | IPv6Address) -> IPv4Address | IPv6Address:
    """The IPv4 address that an IPv4-mapped (RFC 4291) or a NAT64 address (RFC 6052) writes: its last four bytes."""
    packed = address.packed
    if packed[:12] in (bytes(10) + b"\xff\xff", bytes.fromhex("0064ff9b") + bytes(8)):
        return IPv4Address(packed[12:])
    return address


def reachable_by_everybody(address: IPv4Address | IPv6Address) -> bool:
    """The answer of the registries; of nested blocks the narrowest counts."""
    judged = final(address)
    around = [(block.prefixlen, reachable) for block, reachable in BLOCKS
              if block.version == judged.version and judged in block]
    return max(around)[1] if around else True
