"""How the provider's documents are read: over TLS by its own name, from the hosts that the settings name, as one GET.

Sources: OpenID Connect Discovery 1.0 sections 4.1 and 4.3 (where the document is, and whose it says it is); RFC 9112
section 3 (the request line); RFC 2818 by way of the certificates of `trustme`. The store of issuers is stood in for by
SSL_CERT_FILE.
"""

import ssl
from collections.abc import Iterator
from ipaddress import ip_address

import pytest
import trustme

from service.integrations.identity import fetching, provider
from service.integrations.identity.fetching import NotFetched, fetched_json
from service.integrations.identity.provider import read_keys
from service.settings import OidcSettings
from tests.identity_provider import AUDIENCE, Provider, a_provider, public_jwk, rsa_key
from tests.receivers import a_receiver, answers, nobody_takes

NAME, CONNECT_AT_MOST = "id.example", fetching.CONNECT_SECONDS
KEYS = {"keys": [public_jwk(rsa_key(), kid="key-0")]}


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture
def known(authority: trustme.CA, tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The authority as one that the system knows, and every name on the loopback."""
    authority.cert_pem.write_to_path(str(tmp_path / "issuers.pem"))
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "issuers.pem"))
    monkeypatch.setenv("SSL_CERT_DIR", str(tmp_path))
    monkeypatch.setattr(fetching, "looked_up", lambda *_asked: (ip_address("127.0.0.1"),))


@pytest.fixture(scope="module")
def provided() -> Iterator[Provider]:
    with a_provider() as running:
        yield running


def tls_of(certificate: trustme.LeafCert) -> ssl.SSLContext:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    certificate.configure_cert(context)
    return context


@pytest.mark.usefixtures("known")
def test_over_tls_the_certificate_is_the_provider_s_own_name_s(authority: trustme.CA) -> None:
    with a_receiver(tls=tls_of(authority.issue_cert(NAME))) as receiver:
        receiver.will(answers(200, b'{"keys": 7}'))
        assert fetched_json(f"https://{NAME}:{receiver.port}/keys?v=1") == {"keys": 7}
        assert receiver.names_asked_for == [NAME]
        [request] = receiver.requests
        assert request.path == "/keys?v=1"
        assert {name: request.fields[name] for name in (
            "Host", "Accept", "User-Agent", "Accept-Encoding", "Connection")} == {
            "Host": f"{NAME}:{receiver.port}", "Accept": "application/json", "User-Agent": "seamcost-tokens",
            "Accept-Encoding": "identity", "Connection": "close"}
        assert len(request.fields) == 5, "no cookie, no password, nothing else"


@pytest.mark.usefixtures("known")
@pytest.mark.parametrize("named", ["other.example", "127.0.0.1", None])
def test_another_name_s_certificate_or_an_unknown_issuer_s_is_refused(authority: trustme.CA, named: str | None) -> None:
    issuer = authority if named else trustme.CA()
    with a_receiver(tls=tls_of(issuer.issue_cert(named or NAME))) as receiver:
        with pytest.raises(NotFetched, match=r"^SSLCertVerificationError$"):
            fetched_json(f"https://{NAME}:{receiver.port}/keys")
        assert receiver.requests == []


def test_an_address_that_takes_nobody_leaves_time_for_the_next(
        provided: Provider, monkeypatch: pytest.MonkeyPatch) -> None:
    """Connecting has a time of its own, shorter than the whole."""
    monkeypatch.setattr(fetching, "looked_up", lambda *_asked: (ip_address("127.0.0.2"), ip_address("127.0.0.1")))
    monkeypatch.setattr(fetching, "CONNECT_SECONDS", 0.1)
    provided.back()
    with nobody_takes("127.0.0.2", provided.receiver.port):
        assert "keys" in fetched_json(f"http://id.example:{provided.receiver.port}/keys", 2)
    assert (fetching.SECONDS, CONNECT_AT_MOST) == (5, 2)


@pytest.mark.parametrize("url", ["ftp://id.example/keys", "http://id.example/ keys", "https://"])
def test_what_is_no_url_is_not_asked(url: str) -> None:
    with pytest.raises(NotFetched, match=r"^WrongValue$"):
        fetched_json(url)


def test_whatever_fails_is_named_by_its_kind_and_repeats_nothing(provided: Provider) -> None:
    for behaviour, words in ((answers(404, b"secret"), "^answered with 404$"), (answers(204), "^answered with 204$"),
                             (answers(200, b"secret"), "^JSONDecodeError$")):
        provided.receiver.will(behaviour)
        with pytest.raises(NotFetched, match=words):
            fetched_json(f"{provided.issuer}/keys")
    provided.back()


def read_with(provided: Provider, **discovery: object) -> None:
    provided.back()
    provided.discovery = {"issuer": provided.issuer, "jwks_uri": f"{provided.issuer}/keys"} | discovery
    read_keys(provided.settings, 2)


def test_a_discovery_document_that_names_another_host_is_not_followed(provided: Provider) -> None:
    """Another server, which would answer: nothing may be asked of it."""
    with a_provider() as other:
        mend = r"^the keys are on another host than the issuer: pin SEAMCOST_OIDC_JWKS_URL$"
        with pytest.raises(NotFetched, match=mend):
            read_with(provided, jwks_uri=f"{other.issuer}/keys")
        for elsewhere in (other.issuer.replace("http", "https"), provided.issuer.replace("http", "https"),
                          provided.issuer.replace("127.0.0.1", "127.0.0.2"), "http://[::1"):
            with pytest.raises(NotFetched, match="another host"):
                read_with(provided, jwks_uri=f"{elsewhere}/keys")
        assert other.receiver.requests == []


@pytest.mark.parametrize("discovery", [{"issuer": "https://other.example"}, {"issuer": None}, {"jwks_uri": None},
                                       {"jwks_uri": 7}, {"jwks_uri": ["x"]}])
def test_a_discovery_document_is_the_issuer_s_own_and_names_keys(
        provided: Provider, discovery: dict[str, object]) -> None:
    with pytest.raises(NotFetched, match=r"^a discovery document that names no keys, or another issuer$"):
        read_with(provided, **discovery)


def test_where_a_provider_s_documents_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Discovery 4.1: a slash at the issuer's end is left out; hosts and schemes are the same in any case (RFC 3986)."""
    asked: list[tuple[str, float]] = []
    told = {"https://id.example/X/.well-known/openid-configuration": {
        "issuer": "https://id.example/X/", "jwks_uri": "HTTPS://ID.example/all-keys"},
        "HTTPS://ID.example/all-keys": KEYS, "https://pinned.example/": KEYS}
    monkeypatch.setattr(provider, "fetched_json", lambda url, seconds: (asked.append((url, seconds)), told[url])[1])
    settings = OidcSettings("https://id.example/X/", AUDIENCE, {})
    assert [*read_keys(settings, 3)] == ["key-0"]
    assert asked == [("https://id.example/X/.well-known/openid-configuration", 3), ("HTTPS://ID.example/all-keys", 3)]
    pinned = OidcSettings("https://id.example/X/", AUDIENCE, {}, jwks_url="https://pinned.example/")
    assert [*read_keys(pinned)] == ["key-0"]
    assert asked[2:] == [("https://pinned.example/", fetching.SECONDS)]


@pytest.mark.parametrize(("document", "words"), [
    ([], "no JWK set"), ({"keys": {}}, "no JWK set"), ({}, "no JWK set"),
    ({"keys": []}, "no key in the JWK set that tokens may be signed with")])
def test_what_is_no_set_of_keys_is_told(monkeypatch: pytest.MonkeyPatch, document: object, words: str) -> None:
    monkeypatch.setattr(provider, "fetched_json", lambda *_asked: document)
    with pytest.raises(NotFetched, match=f"^{words}$"):
        read_keys(OidcSettings("https://id.example", AUDIENCE, {}, jwks_url="https://id.example/keys"))
    monkeypatch.setattr(provider, "fetched_json", lambda *_asked: "text")
    with pytest.raises(NotFetched, match="names no keys"):
        read_keys(OidcSettings("https://id.example", AUDIENCE, {}))
