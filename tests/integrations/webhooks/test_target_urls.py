"""The URL of a webhook: what form it has, and which parts are used of it.

Sources of the judges: RFC 3986 (its characters; urlsplit of the standard library for the parts of a URL that is right);
the ways of writing a host that URL readers are known to differ about.
"""

from urllib.parse import urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.domain.errors import WrongValue
from service.integrations.webhooks.target_urls import Target, target_of
from tests.plain_words import is_a_sentence

NAMES = st.from_regex(r"[a-z]([a-z0-9-]{0,10}[a-z0-9])?(\.[a-z]([a-z0-9-]{0,10}[a-z0-9])?){0,4}", fullmatch=True)
PATHS = st.from_regex(r"(/([A-Za-z0-9._~!$&'()*+,;=:@-]|%[0-9A-F]{2}){0,8}){0,3}", fullmatch=True)
QUERIES = st.from_regex(r"(\?([A-Za-z0-9._~!$&'()*+,;=:@/?-]|%[0-9A-F]{2}){0,12})?", fullmatch=True)


@pytest.mark.parametrize(("url", "target", "host_field"), [
    ("https://hooks.example/a/b?c=d", Target("https", "hooks.example", 443, "/a/b?c=d"), "hooks.example"),
    ("HTTPS://Hooks.Example", Target("https", "hooks.example", 443, "/"), "hooks.example"),
    ("https://hooks.example?c", Target("https", "hooks.example", 443, "/?c"), "hooks.example"),
    ("https://hooks.example:8443/", Target("https", "hooks.example", 8443, "/"), "hooks.example:8443"),
    ("http://hooks.example:80/", Target("http", "hooks.example", 80, "/"), "hooks.example"),
    ("http://127.0.0.1:8080/", Target("http", "127.0.0.1", 8080, "/"), "127.0.0.1:8080"),
    ("https://[2001:DB8::1]:444/", Target("https", "2001:db8::1", 444, "/"), "[2001:db8::1]:444"),
    ("https://xn--kche-0ra.example/", Target("https", "xn--kche-0ra.example", 443, "/"), "xn--kche-0ra.example"),
    ("https://my_service/", Target("https", "my_service", 443, "/"), "my_service"),
])
def test_the_parts_of_a_url(url, target, host_field):
    assert target_of(url) == target
    assert target_of(url).host_field == host_field


@given(name=NAMES, port=st.none() | st.integers(1, 65_535), path=PATHS, query=QUERIES)
def test_the_parts_are_those_that_another_reader_finds(name, port, path, query):
    url = f"https://{name}{'' if port is None else f':{port}'}{path}{query}"
    target, other = target_of(url), urlsplit(url)
    assert (target.host, target.port) == (other.hostname, other.port or 443)
    assert target.path == (other.path or "/") + (query and f"?{other.query}")


@pytest.mark.parametrize("url", [
    "", "hooks.example", "//hooks.example/", "https:hooks.example", "https:/hooks.example", "https:///hook", "https://",
    "ftp://hooks.example/", "file:///etc/passwd", "gopher://hooks.example/", "unix:/x", "javascript:alert(1)",
    "https://:443/", "https://hooks.example:/x:y@z/" + "a" * 2_000,
])
def test_what_is_no_url_of_a_webhook_is_refused(url):
    refused(url)


@pytest.mark.parametrize("url", [
    "https://ann@hooks.example/", "https://ann:pw@hooks.example/", "https://hooks.example@127.0.0.1/",
    "https://@h.example/",
])
def test_user_and_password_are_refused(url):
    refused(url, "user name")


@pytest.mark.parametrize("url", [
    "https://hooks.example/#x", "https://hooks.example#", "https://hooks.example/?a#@b.example/"])
def test_a_fragment_is_refused(url):
    refused(url, "'#'")


@pytest.mark.parametrize("url", [
    "https://exa\nmple.com/", "https://example.com/\r\nX-Other: 1", "https://exam\tple.com/",
    "https://example.com/ HTTP/1.1", " https://example.com/", "https://example.com/\n",
    "https://example.com\\@127.0.0.1/", "https:\\\\example.com/",
    "https://example.com/\x00", "https://example.com/\x7f", "https://example.com/{id}", "https://example.com/<x>",
    "https://example.com/%", "https://example.com/%0", "https://example.com/%zz", "https://küche.example/",
    "https://①②⑦.⓪.⓪.①/", "https://127。0。0。1/", "https://example.com/é", "https://example.com/\u202e",
    "https://ex\ud800/",
])
def test_a_character_that_no_url_has_is_refused_before_anything_is_read(url):
    refused(url, "characters that no URL has")


@pytest.mark.parametrize("host", [
    "2130706433", "0177.0.0.1", "127.1", "0x7f.1", "0x7f000001", "127.0.0.1.0", "256.0.0.1", "1.2.3.4.5", "a.0x1", "0x",
    "127.0.0.01", "[::1%25eth0]", "[::1", "::1", "[127.0.0.1]", "[1::2::3]", "[]", "[::1]x", "x[::1]", "a..b", ".a",
    "a.", "-a.example", "a-.example", "a!.example", "a%2eb", "a" * 64 + ".example", ".".join(["a" * 60] * 5), "a:b",
    "a:1:2", "a:0", "a:65536", "a:999999", "a:-1", "a:+1", "a,b", "a;b", "$a",
])
def test_a_host_that_readers_differ_about_is_refused(host):
    refused(f"https://{host}/")


@given(st.text(max_size=60) | st.text("htps:/@#?[].127x%\\ \r\n", max_size=60).map("https://".__add__))
def test_whatever_the_text_there_is_a_target_or_a_mend(url):
    try:
        target = target_of(url)
    except WrongValue as wrong:
        pointer, head = wrong.pointer, ""
    else:
        pointer, head = "#/url", target.path + target.host_field
    assert pointer == "#/url"
    assert all("!" <= character <= "~" for character in head)


def refused(url, said=None):
    with pytest.raises(WrongValue, match=said) as wrong:
        target_of(url)
    assert wrong.value.pointer == "#/url"


@pytest.mark.parametrize(("longest", "beyond", "words"), [
    ("https://a.example/".ljust(2_000, "a"), "a", "at most 2000 characters"),
    ("https://" + ".".join(["a" * 63] * 3 + ["b" * 61]), "b", "253 together"),
    ("https://" + "a" * 63, "a", "63 characters each"),
    ("https://a.example:6553", "6", "A port is a number from 1 to 65535."),
    ("https://a.example:65535", None, ""), ("https://a.example:1", None, "")])
def test_a_url_a_host_a_label_and_a_port_have_their_bounds(longest, beyond, words):
    """RFC 1035 section 2.3.4: labels of 63 letters, names of 253 as they are written; how long a URL may be is ours."""
    assert target_of(longest)
    if beyond is not None:
        with pytest.raises(WrongValue, match=words):
            target_of(longest + beyond)


@pytest.mark.parametrize("url", [
    "https://a.example/" + "a" * 2_000, "https://a b/", "a.example", "https://a.example/#", "https://u@a.example/",
    "https://a:b:c/", "https://-a/", "https://1.2.3/", "https://a:0/", "https://[::g]/"])
def test_each_refusal_says_the_mend_in_a_sentence(url):
    with pytest.raises(WrongValue) as refused:
        target_of(url)
    assert is_a_sentence(refused.value.detail.replace("https://www.example.com/path.", "x."))
