"""Which addresses a webhook may lead to.

Sources of the judges: the IANA registries (registry.py); the list of addresses that `is_global` of the standard library
says yes to although they lead inside; the system's own `getaddrinfo` for what names and numbers turn into.
"""

from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service.domain.errors import WrongValue
from service.integrations.webhooks.addresses import is_public, may_be_called, target_check
from service.integrations.webhooks.looking_up import LookedUpInVain, looked_up
from service.integrations.webhooks.target_urls import Target
from tests.integrations.webhooks.registry import NOT_REACHABLE, REACHABLE, reachable_by_everybody

HTTPS = Target("https", "hooks.example", 443, "/")
HTTP = Target("http", "hooks.example", 80, "/")
OTHER_PORT = Target("https", "hooks.example", 8443, "/")
PUBLIC = ["8.8.8.8", "1.1.1.1", "2606:4700:4700::1111", "2a00:1450:4001:80b::200e"]
V4 = st.integers(0, 2**32 - 1).map(IPv4Address)
V6 = st.integers(0, 2**128 - 1).map(IPv6Address)


def passes(text, networks=(), target=HTTPS):
    return may_be_called(target, [ip_address(text)], tuple(map(ip_network, networks)))


def leads_to(*texts):
    return lambda host, port, seconds: tuple(map(ip_address, texts))


@pytest.mark.parametrize("block", NOT_REACHABLE, ids=str)
def test_a_block_that_is_not_for_everybody_is_closed_from_its_first_address_to_its_last(block):
    assert not passes(block[0])
    assert not passes(block[-1])
    assert not passes(block[block.num_addresses // 2])


@pytest.mark.parametrize("address", PUBLIC + [str(block[1]) for block in REACHABLE if block.num_addresses > 1])
def test_public_addresses_are_open(address):
    assert passes(address)


@pytest.mark.parametrize("address", [
    "224.0.0.1", "192.88.99.1", "192.0.0.8", "64:ff9b::7f00:1", "64:ff9b:1::1", "::127.0.0.1", "::8.8.8.8", "fec0::1",
    "ff02::1", "2002:7f00:1::", "2002:a00:1::1", "2002:808:808::1", "2001:0:4136:e378:8000:63bf:80ff:fffe",
    "2001:0:7f00:1::", "::ffff:127.0.0.1", "::ffff:10.0.0.1", "::ffff:169.254.169.254", "64:ff9b::a9fe:a9fe",
    "64:ff9b::e000:1", "169.254.169.254", "fd00:ec2::254", "::", "::1", "0.0.0.0", "fe80::1%1", "4000::1", "100::1",
])
def test_addresses_that_lead_inside_in_disguise_are_closed(address):
    assert not passes(address)


@pytest.mark.parametrize("address", ["::ffff:8.8.8.8", "64:ff9b::808:808"])
def test_a_public_ipv4_address_is_open_in_its_other_writings(address):
    assert passes(address)


def test_one_address_that_leads_inside_closes_a_name():
    public, inside = ip_address("8.8.8.8"), ip_address("192.168.0.1")
    assert may_be_called(HTTPS, [public, ip_address(PUBLIC[2])], ())
    assert not may_be_called(HTTPS, [public, inside], ())
    assert not may_be_called(HTTPS, [inside, public], ())
    assert not may_be_called(HTTPS, [], ())


def test_http_and_other_ports_are_for_allowed_networks_alone():
    for target in (HTTP, OTHER_PORT):
        assert not passes("8.8.8.8", (), target)
        assert not passes("8.8.8.8", ["127.0.0.0/8"], target)
        assert not passes("127.0.0.1", (), target)
        assert passes("127.0.0.1", ["127.0.0.0/8"], target)
    assert passes("8.8.8.8", ["127.0.0.0/8"])
    assert not may_be_called(HTTP, [ip_address("127.0.0.1"), ip_address("8.8.8.8")], [ip_network("127.0.0.0/8")])


def test_an_allowed_network_opens_itself_and_nothing_beside_it():
    assert passes("10.1.2.3", ["10.1.0.0/16", "fd00::/8"])
    assert passes("fd00::1", ["10.1.0.0/16", "fd00::/8"])
    assert not passes("10.2.0.1", ["10.1.0.0/16"])
    assert not passes("::1", ["127.0.0.0/8"])
    assert passes("::ffff:127.0.0.1", ["127.0.0.0/8"])


@pytest.mark.parametrize(("address", "outside", "inside"), [
    ("2002:7f00:1::", "2002::/16", "127.0.0.0/8"), ("::127.0.0.1", "::/96", "127.0.0.0/8"),
    ("2001:0:808:808:0:0:80ff:fffe", "2001::/32", "127.0.0.0/8"),  # the client, its bits turned round (RFC 4380)
    ("2001:0:7f00:1:0:0:f7f7:f7f7", "2001::/32", "127.0.0.0/8"),  # the server
])
def test_an_address_within_another_is_judged_too(address, outside, inside):
    assert not passes(address, [outside])
    assert not passes(address, [inside])
    assert passes(address, [outside, inside])


@given(V4 | V6)
@example(ip_address("64:ff9b::808:808"))
@example(ip_address("::ffff:1.1.1.1"))
def test_no_address_passes_that_the_registries_do_not_call_globally_reachable(address):
    assert reachable_by_everybody(address) or not may_be_called(HTTPS, [address], ())


@given(V4)
def test_nearly_all_of_the_addresses_that_are_globally_reachable_pass(address):
    assert is_public(address) == (reachable_by_everybody(address) and address not in ip_network("192.0.0.0/24"))


@pytest.mark.parametrize("host", [
    "2130706433", "0177.0.0.1", "127.1", "0x7f.1", "0x7f000001", "localhost", "127.0.0.1", "0"])
def test_what_the_system_turns_into_the_loopback_is_found_out(host):
    addresses = looked_up(host, 443, 5)
    assert any(address.is_loopback or address.is_unspecified for address in addresses)
    assert not may_be_called(HTTPS, addresses, ())


def test_what_the_system_turns_other_scripts_into_never_gets_to_it():
    """With text, not bytes, `getaddrinfo` would read these as 127.0.0.1."""
    for host in ("①②⑦.⓪.⓪.①", "127。0。0。1", "１２７.0.0.1"):
        with pytest.raises(LookedUpInVain):
            looked_up(host, 443, 5)


@pytest.mark.parametrize("url", [
    "https://localhost/", "https://127.0.0.1/", "https://[::1]/", "https://[::ffff:7f00:1]/", "https://169.254.169.254/",
    "https://[64:ff9b::7f00:1]/", "https://10.0.0.1/hook",
])
def test_a_webhook_that_leads_inside_is_refused_with_the_mend(url):
    with pytest.raises(WrongValue, match="SEAMCOST_WEBHOOK_NETWORKS") as refused:
        target_check(())(url)
    assert refused.value.pointer == "#/url"


def test_a_name_that_leads_inside_is_told_like_one_that_is_not_there():
    def unknown(host, port, seconds):
        raise LookedUpInVain(in_time=True)

    said = set()
    for look_up in (unknown, leads_to("10.0.0.1"), leads_to("8.8.8.8", "127.0.0.1")):
        with pytest.raises(WrongValue) as refused:
            target_check((), look_up)("https://billing.example/")
        said.add(refused.value.detail)
    assert len(said) == 1


def test_without_allowed_networks_http_is_refused_before_anything_is_looked_up():
    def never(host, port, seconds):
        raise AssertionError("looked up")

    for url in ("http://hooks.example/", "https://hooks.example:8443/"):
        with pytest.raises(WrongValue, match="by https on port 443") as refused:
            target_check((), never)(url)
        assert refused.value.pointer == "#/url"


def test_a_name_is_looked_up_for_its_port_and_for_five_seconds_unless_told():
    asked = []

    def look_up(*of):
        asked.append(of)
        return [ip_address("8.8.8.8")]

    target_check((), look_up)("https://hooks.example/")
    target_check([ip_network("8.0.0.0/8")], look_up, 2)("http://hooks.example:8080/")
    assert asked == [("hooks.example", 443, 5), ("hooks.example", 8080, 2)]


def test_what_may_be_called_is_let_through():
    target_check((), leads_to("8.8.8.8", "2606:4700:4700::1111"))("https://hooks.example/take?from=kitchen")
    target_check((), leads_to("8.8.8.8"))("https://hooks.example:443/")
    target_check([ip_network("127.0.0.0/8")])("http://127.0.0.1:8080/hook")
    with pytest.raises(WrongValue):
        target_check([ip_network("127.0.0.0/8")], leads_to("8.8.8.8"))("http://hooks.example/")
