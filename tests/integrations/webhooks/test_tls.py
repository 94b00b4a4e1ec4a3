"""Receivers over TLS: the certificate must be the name's, from an issuer that the system knows.

Certificates are made by the library `trustme`. The system's store of issuers is stood in for by the file that OpenSSL
is told to read in its place (SSL_CERT_FILE); everything else is as in service.
"""

import socket
import ssl
from ipaddress import ip_address, ip_network

import pytest
import trustme

from service.integrations.webhooks.sending import CallLimits, sender
from service.use_cases.webhook_sending import Came, Outcome
from tests.receivers import a_receiver, drips

LOOPBACK = (ip_network("127.0.0.0/8"),)
NAME = "hooks.example"


@pytest.fixture(scope="module")
def authority():
    return trustme.CA()


@pytest.fixture
def known(authority, tmp_path, monkeypatch):
    """The authority as one that the system knows."""
    authority.cert_pem.write_to_path(str(tmp_path / "issuers.pem"))
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "issuers.pem"))
    monkeypatch.setenv("SSL_CERT_DIR", str(tmp_path))


def tls_of(certificate):
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    certificate.configure_cert(context)
    return context


def here(host, port, seconds):
    return (ip_address("127.0.0.1"),)


def sent_to(receiver, host=NAME, seconds=5):
    send = sender(LOOPBACK, here, CallLimits(call_seconds=seconds))
    return send(f"https://{host}:{receiver.port}/hook", {"webhook-id": "m"}, b"{}")


@pytest.mark.usefixtures("known")
def test_a_receiver_is_asked_for_by_its_name_in_the_handshake_and_in_the_request(authority):
    with a_receiver(tls=tls_of(authority.issue_cert(NAME))) as receiver:
        assert sent_to(receiver) == Outcome(Came.DELIVERED, 204)
        assert receiver.names_asked_for == [NAME]
        assert receiver.requests[0].fields["Host"] == f"{NAME}:{receiver.port}"
        assert receiver.requests[0].body == b"{}"


@pytest.mark.usefixtures("known")
@pytest.mark.parametrize("named", ["other.example", "example", "*.hooks.example", "127.0.0.1"])
def test_a_certificate_of_another_name_is_refused_before_anything_is_said(authority, named):
    """Nor is one of the address enough: the name is what was asked for."""
    with a_receiver(tls=tls_of(authority.issue_cert(named))) as receiver:
        assert sent_to(receiver) == Outcome(Came.NOT_REACHED)
        assert (receiver.connections, receiver.requests) == (1, [])


@pytest.mark.usefixtures("known")
def test_an_issuer_that_the_system_does_not_know_is_refused():
    with a_receiver(tls=tls_of(trustme.CA().issue_cert(NAME))) as receiver:
        assert sent_to(receiver) == Outcome(Came.NOT_REACHED)
        assert (receiver.connections, receiver.requests) == (1, [])


def test_without_the_issuer_in_the_store_the_same_certificate_is_refused(authority):
    with a_receiver(tls=tls_of(authority.issue_cert(NAME))) as receiver:
        assert sent_to(receiver) == Outcome(Came.NOT_REACHED)
        assert receiver.requests == []


@pytest.mark.usefixtures("known")
def test_an_address_is_held_to_a_certificate_of_the_address(authority):
    with a_receiver(tls=tls_of(authority.issue_cert("127.0.0.1"))) as receiver:
        assert sent_to(receiver, "127.0.0.1") == Outcome(Came.DELIVERED, 204)
        assert receiver.names_asked_for == [None]


@pytest.mark.usefixtures("known")
def test_what_does_not_speak_tls_is_not_reached():
    with a_receiver() as receiver:
        assert sent_to(receiver) == Outcome(Came.NOT_REACHED)
        assert receiver.requests == []


@pytest.mark.usefixtures("known")
def test_a_receiver_that_drips_through_tls_ends_in_time_too(authority):
    with a_receiver(tls=tls_of(authority.issue_cert(NAME))) as receiver:
        receiver.will(drips(b"HTTP/1.1 200 OK\r\nX: ", b"a", 0.05))
        assert sent_to(receiver, seconds=1) == Outcome(Came.TIMED_OUT)


def test_a_handshake_that_is_never_answered_ends_in_time():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        send = sender(LOOPBACK, limits=CallLimits(call_seconds=0.5))
        assert send(f"https://127.0.0.1:{listening.getsockname()[1]}/", {}, b"{}") == Outcome(Came.TIMED_OUT)
