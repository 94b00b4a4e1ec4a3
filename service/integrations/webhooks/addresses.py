"""Which addresses a webhook may lead to: public ones over https on port 443, and those that the operator allows.

A name is judged by all of its addresses, and an address by all that is written in it: one that carries another inside
(6to4, Teredo, IPv4-compatible) passes only if both do, and one that is only another way to write an IPv4 address
(IPv4-mapped, NAT64) is that address. In IPv6 only what IANA has opened for use between networks is public, so that a
block which is set apart outside of that is never open. A network that the operator allows is open on every port, and to
plain http too. A NAT64 prefix that a network has of its own cannot be told from other addresses: keep it out of the
sender's reach.

Source: the IANA registries of special-purpose addresses (RFC 6890) and of IPv6 address space; RFC 4291 (mapped and
compatible), RFC 6052 (NAT64), RFC 7526 (6to4 relays are no more).
"""

from collections.abc import Iterator, Sequence
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_network

from service.domain.errors import WrongValue
from service.integrations.webhooks.looking_up import LookedUpInVain, LookUp, looked_up
from service.integrations.webhooks.target_urls import POINTER, Target, target_of
from service.use_cases.webhook_sending import CheckTarget

Address = IPv4Address | IPv6Address
Network = IPv4Network | IPv6Network
Networks = Sequence[Network]

IPV6_IN_USE = IPv6Network("2000::/3")
NEVER_PUBLIC = tuple(map(ip_network, (
    "192.0.0.0/24", "192.88.99.0/24", "2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20")))
"""Set apart, whatever `is_global` says: it says yes to some of them, and to others by the version of Python."""
NAT64 = IPv6Network("64:ff9b::/96")
COMPATIBLE = IPv6Network("::/96")

SETTING = "SEAMCOST_WEBHOOK_NETWORKS"
ONLY = ("A webhook leads to public addresses, by https on port 443. The operator of this service can allow others with "
        f"the setting {SETTING}.")


def target_check(networks: Networks, look_up: LookUp = looked_up, patience_seconds: float = 5) -> CheckTarget:
    """Hold a URL to its form, and to every address that its name has now.

    A name that cannot be found and one that leads inside get the same answer: it tells nobody which names there are.
    """

    def check(url: str) -> None:
        target = target_of(url)
        if not may_be_right(target, networks):
            raise WrongValue(ONLY, POINTER)
        try:
            addresses = look_up(target.host, target.port, patience_seconds)
        except LookedUpInVain:
            addresses = ()
        if not may_be_called(target, addresses, networks):
            raise WrongValue(
                f"The host {target.host!r} cannot be found, or leads to an address that is not called. {ONLY}", POINTER)

    return check


def may_be_right(target: Target, networks: Networks) -> bool:
    """Whether a URL could be called at all, before its name is looked up."""
    return bool(networks) or (target.secure and target.on_its_own_port)


def may_be_called(target: Target, addresses: Sequence[Address], networks: Networks) -> bool:
    """Whether a call may go to every one of these addresses; False where there is none."""
    publicly = target.secure and target.on_its_own_port

    def passes(layer: Address) -> bool:
        return _within(layer, networks) or (publicly and is_public(layer))

    return bool(addresses) and all(passes(layer) for address in addresses for layer in layers(address))


def is_public(address: Address) -> bool:
    """Whether an address, as it stands, is one that everybody may reach."""
    apart = (address.is_multicast or address.is_reserved or address.is_unspecified or address.is_loopback
             or address.is_link_local or _within(address, NEVER_PUBLIC))
    return address.is_global and not apart and (address.version == 4 or address in IPV6_IN_USE)


def layers(address: Address) -> Iterator[Address]:
    """An address, and those written in it that a packet to it may be passed on to."""
    if isinstance(address, IPv4Address):
        yield address
    elif address.ipv4_mapped is not None:
        yield address.ipv4_mapped
    elif address in NAT64:
        yield _last_32_bits(address)
    else:
        yield address
        if address.sixtofour is not None:
            yield address.sixtofour
        yield from address.teredo or ()
        if address in COMPATIBLE:
            yield _last_32_bits(address)


def _last_32_bits(address: IPv6Address) -> IPv4Address:
    return IPv4Address(int(address) & 0xFFFF_FFFF)


def _within(address: Address, networks: Networks) -> bool:
    return any(address in network for network in networks if network.version == address.version)
