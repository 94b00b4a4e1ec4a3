"""Posting a message to real receivers on the loopback: what comes of it, and what never happens.

Sources of the judges: Standard Webhooks 1.0.0 (only 2xx is success, 3xx is failure, 410 ends); the receivers' own
record of what reached them; the registries (registry.py); `getaddrinfo` and sockets of the system.
"""

import gc
import os
import socket
import threading
from datetime import UTC, datetime
from ipaddress import ip_address, ip_network
from time import monotonic

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.integrations.webhooks import lines, sending
from service.integrations.webhooks.looking_up import MOST_AT_A_TIME, LookedUpInVain, looked_up
from service.integrations.webhooks.sending import LIMITS, CallLimits, sender
from service.use_cases.webhook_sending import Came, Outcome
from tests.integrations.webhooks.registry import reachable_by_everybody
from tests.receivers import (
    a_receiver,
    answers,
    drips,
    drips_in_the_body,
    drips_in_the_header,
    gone,
    hangs,
    hangs_up,
    nobody_takes,
    ok,
    pours,
    redirects,
    says,
)

LOOPBACK = (ip_network("127.0.0.0/8"),)
FIELDS = {"webhook-id": "msg_1", "webhook-timestamp": "1772445600", "webhook-signature": "v1,AAAA v1,BBBB"}
BODY = '{"type":"ping","note":"Kühlhaus"}'.encode()
NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)
SHORT = CallLimits(call_seconds=0.6)


def send_to(receiver, limits=LIMITS, look_up=looked_up):
    return sender(LOOPBACK, look_up, limits, lambda: NOW)(receiver.url, FIELDS, BODY)


@pytest.fixture
def receiver():
    with a_receiver() as receiver:
        yield receiver


def test_the_message_arrives_as_it_was_signed(receiver):
    assert send_to(receiver) == Outcome(Came.DELIVERED, 204)
    [came] = receiver.requests
    assert (came.method, came.path, came.body) == ("POST", "/hook", BODY)
    assert came.fields["Host"] == f"127.0.0.1:{receiver.port}"
    assert came.fields["Content-Type"] == "application/json"
    assert came.fields["Content-Length"] == str(len(BODY))
    assert came.fields["User-Agent"] == "seamcost-webhooks"
    assert {name: came.fields[name] for name in FIELDS} == FIELDS
    assert len(came.fields.keys()) == len(set(map(str.lower, came.fields.keys())))


@pytest.mark.parametrize(("behaviour", "outcome"), [
    (ok(), Outcome(Came.DELIVERED, 204)), (answers(200, b"thanks"), Outcome(Came.DELIVERED, 200)),
    (answers(299), Outcome(Came.DELIVERED, 299)), (gone(), Outcome(Came.GONE, 410)),
    (answers(400), Outcome(Came.REFUSED, 400)), (answers(404, b"x" * 5_000), Outcome(Came.REFUSED, 404)),
    (answers(429, retry_after="120"), Outcome(Came.REFUSED, 429, 120)),
    (answers(429, retry_after="Mon, 02 Mar 2026 10:01:30 GMT"), Outcome(Came.REFUSED, 429, 90)),
    (answers(503, retry_after="Monday, 02-Mar-26 09:00:00 GMT"), Outcome(Came.REFUSED, 503, 0)),
    (answers(503, retry_after="soon"), Outcome(Came.REFUSED, 503)), (answers(500), Outcome(Came.REFUSED, 500)),
    (answers(502), Outcome(Came.REFUSED, 502)), (answers(304), Outcome(Came.REFUSED, 304)),
    (hangs_up(), Outcome(Came.NOT_REACHED)), (says(b"220 mail.example ESMTP\r\n"), Outcome(Came.NOT_REACHED)),
    (says(b"HTTP/1.1 2000 OK\r\n\r\n"), Outcome(Came.NOT_REACHED)),
    (says(b"HTTP/1.1 200"), Outcome(Came.DELIVERED, 200)),
    (says(b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\nshort"), Outcome(Came.DELIVERED, 200)),
    (says(b"HTTP/1.1 500 No\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n"), Outcome(Came.REFUSED, 500)),
    (says(b"HTTP/1.1 103 Early Hints\r\nLink: </a>\r\n\r\nHTTP/1.1 202 Accepted\r\n\r\n"),
     Outcome(Came.DELIVERED, 202)),
], ids=lambda value: f"{value.came}-{value.status}" if isinstance(value, Outcome) else "")
def test_what_comes_of_an_answer(receiver, behaviour, outcome):
    receiver.will(behaviour)
    assert send_to(receiver) == outcome
    assert len(receiver.requests) == 1


def test_a_date_to_wait_for_is_held_to_the_machine_s_own_clock(receiver):
    receiver.will(answers(429, retry_after="Sat, 01 Jan 2000 00:00:00 GMT"))
    assert sender(LOOPBACK)(receiver.url, FIELDS, BODY) == Outcome(Came.REFUSED, 429, 0)


@pytest.mark.parametrize("status", [300, 301, 302, 303, 307, 308])
def test_a_redirect_is_a_refusal_and_nobody_follows_it(receiver, status):
    with a_receiver() as elsewhere:
        receiver.will(redirects(elsewhere.url, status))
        assert send_to(receiver) == Outcome(Came.REFUSED, status)
        assert (len(receiver.requests), elsewhere.connections) == (1, 0)


def test_nobody_there_is_not_reached(receiver):
    receiver.close()
    assert send_to(receiver) == Outcome(Came.NOT_REACHED)


@pytest.mark.parametrize("behaviour", [
    hangs(), drips_in_the_header(0.05), drips(b"", b"H", 0.05), drips(b"HTTP/1.1 100 Continue\r\n", b"X: y\r\n", 0.05),
])
def test_a_receiver_that_hangs_or_drips_costs_no_more_than_the_call_may_take(receiver, behaviour):
    receiver.will(behaviour)
    began = monotonic()
    assert send_to(receiver, SHORT) == Outcome(Came.TIMED_OUT)
    assert SHORT.call_seconds <= monotonic() - began < SHORT.call_seconds + 2


@pytest.mark.parametrize("behaviour", [drips_in_the_body(0.05), drips(b"HTTP/1.1 200 OK\r\n\r\n", b"a", 0.05), drips(
    b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n", b"1\r\na\r\n", 0.05)])
def test_who_has_said_that_it_took_the_message_may_drip_as_it_likes(receiver, behaviour):
    receiver.will(behaviour)
    began = monotonic()
    assert send_to(receiver, SHORT) == Outcome(Came.DELIVERED, 200)
    assert monotonic() - began < SHORT.call_seconds + 2


@pytest.mark.parametrize(("behaviour", "outcome"), [
    (pours(), Outcome(Came.DELIVERED, 200)), (pours(b"HTTP/1.1 500 No\r\n\r\n"), Outcome(Came.REFUSED, 500)),
    (pours(b"HTTP/1.1 200 OK\r\nX: "), Outcome(Came.NOT_REACHED)), (pours(b""), Outcome(Came.NOT_REACHED)),
    (drips(b"", b"HTTP/1.1 100 Continue\r\n\r\n", 0), Outcome(Came.NOT_REACHED)),
    (drips(b"HTTP/1.1 200 OK\r\n", b"X: y\r\n", 0), Outcome(Came.NOT_REACHED)),
])
def test_an_answer_without_an_end_is_read_no_further_than_64_kib(receiver, behaviour, outcome, monkeypatch):
    taken = []
    monkeypatch.setattr(sending, "Line", counting(sending.Line, taken))
    receiver.will(behaviour)
    assert send_to(receiver) == outcome
    assert sum(taken) <= 64 * 1024


def counting(kind, taken):
    class Counting(kind):
        def receive_into(self, buffer):
            taken.append(super().receive_into(buffer))
            return taken[-1]

    return Counting


def test_a_receiver_that_does_not_take_the_message_in_time_is_given_up():
    """It listens and never reads: what it does not take fills the system's buffers, and then sending waits."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        send = sender(LOOPBACK, limits=SHORT)
        began = monotonic()
        outcome = send(f"http://127.0.0.1:{listening.getsockname()[1]}/", FIELDS, b"x" * 50_000_000)
    assert outcome == Outcome(Came.TIMED_OUT)
    assert monotonic() - began < SHORT.call_seconds + 2


def test_the_name_is_looked_up_once_and_the_address_that_was_checked_is_called(receiver):
    """Rebinding: whoever asked for the name a second time would be led to another receiver."""
    asked = []

    def rebinding(host, port, seconds):
        asked.append(host)
        return (ip_address("127.0.0.1" if len(asked) == 1 else "127.0.0.2"),)

    send = sender(LOOPBACK, rebinding)
    assert send(f"http://hooks.example:{receiver.port}/hook", FIELDS, BODY).came is Came.DELIVERED
    assert asked == ["hooks.example"]
    assert receiver.requests[0].fields["Host"] == f"hooks.example:{receiver.port}"


def test_nothing_in_the_process_asks_for_a_name_again(receiver, monkeypatch):
    """The system's look-up itself turns round after the first time: no other way to ask is used beside it."""
    asked, getaddrinfo = [], socket.getaddrinfo

    def turning(host, *more, **options):
        asked.append(host)
        return getaddrinfo("127.0.0.1" if len(asked) == 1 else "127.0.0.2", *more, **options)

    monkeypatch.setattr(socket, "getaddrinfo", turning)
    assert sender(LOOPBACK)(f"http://hooks.example:{receiver.port}/", FIELDS, BODY).came is Came.DELIVERED
    assert asked == [b"hooks.example"]


def test_a_connection_that_leads_elsewhere_than_to_the_address_is_not_used(receiver, monkeypatch):
    """A fault made for the test: the system connects to another address than the one it was given."""
    class Misled(socket.socket):
        def connect(self, address):
            super().connect(("127.0.0.1", address[1]))

    monkeypatch.setattr(socket, "socket", Misled)
    send = sender(LOOPBACK, lambda host, port, seconds: (ip_address("127.0.0.9"),))
    assert send(receiver.url, FIELDS, BODY) == Outcome(Came.TARGET_REFUSED)
    assert receiver.requests == []


def test_another_of_its_addresses_is_tried_where_one_does_not_take_the_connection(receiver):
    both = [ip_address("127.0.0.7"), ip_address("127.0.0.1")]
    assert send_to(receiver, look_up=lambda host, port, seconds: tuple(both)) == Outcome(Came.DELIVERED, 204)


def test_an_address_that_takes_nobody_leaves_time_for_the_next(receiver):
    """Connecting has a time of its own, shorter than the whole."""
    send = sender(LOOPBACK, lambda *_asked: (ip_address("127.0.0.2"), ip_address("127.0.0.1")),
                  CallLimits(connect_seconds=0.1, call_seconds=2))
    with nobody_takes("127.0.0.2", receiver.port):
        assert send(receiver.url, FIELDS, BODY) == Outcome(Came.DELIVERED, 204)


@pytest.mark.parametrize("url", [
    "http://127.0.0.1:{port}/", "https://127.0.0.1:{port}/", "https://localhost/", "https://[::ffff:127.0.0.1]/",
    "https://127.0.0.1\r\n:{port}/", "http://2130706433:{port}/", "ftp://127.0.0.1:{port}/", "",
])
def test_what_is_not_to_be_called_is_not_even_connected_to(receiver, url):
    send = sender(())
    assert send(url.format(port=receiver.port), FIELDS, BODY) == Outcome(Came.TARGET_REFUSED)
    assert receiver.connections == 0


def test_a_name_that_is_nobodys_is_not_reached():
    assert sender(())("https://hooks.invalid/", FIELDS, BODY) == Outcome(Came.NOT_REACHED)  # RFC 6761 section 6.4


def test_a_look_up_that_nobody_answers_ends_in_time(monkeypatch):
    """A fault made for the test: the system's look-up hangs."""
    asked, over = threading.Event(), threading.Event()

    def hanging(*_asked, **_options):
        asked.set()
        over.wait(10)
        raise OSError

    monkeypatch.setattr(socket, "getaddrinfo", hanging)
    began = monotonic()
    outcome = sender((), limits=CallLimits(look_up_seconds=0.3))("https://hooks.example/", FIELDS, BODY)
    took = monotonic() - began
    over.set()
    assert outcome == Outcome(Came.TIMED_OUT)
    assert asked.is_set()
    assert 0.3 <= took < 2


def test_where_no_thread_was_to_be_had_a_look_up_keeps_no_place(monkeypatch):
    """A fault made for the test: after so many of them nothing would be looked up any more."""
    def no_more_threads(_):
        raise RuntimeError("can't start new thread")

    with monkeypatch.context() as short:
        short.setattr(threading.Thread, "start", no_more_threads)
        for _ in range(MOST_AT_A_TIME):
            with pytest.raises(LookedUpInVain, match="no answer in time"):
                looked_up("localhost", 443, 1)
    assert looked_up("localhost", 443, 5)


def test_a_proxy_that_the_environment_names_is_not_used(receiver, monkeypatch):
    with a_receiver() as proxy:
        for name in ("http_proxy", "https_proxy", "all_proxy", "HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"):
            monkeypatch.setitem(os.environ, name, f"http://127.0.0.1:{proxy.port}")
        assert send_to(receiver) == Outcome(Came.DELIVERED, 204)
        assert (len(receiver.requests), proxy.connections) == (1, 0)


@pytest.mark.parametrize("fields", [
    {"webhook-id": "a\r\nX-Other: 1"}, {"webhook-id": "a\n"}, {"webhook-id": ""}, {"webhook-id": "é"},
    {"webhook-id": "a\x00"}, {"webhook-id": " a"}, {"webhook-id: a\r\nX": "1"}, {"": "1"}, {"a b": "1"},
    {"Host": "other.example"}, {"content-length": "1"}, {"Transfer-Encoding": "chunked"}, {"Connection": "keep-alive"},
])
def test_a_header_field_that_could_become_two_is_never_sent(receiver, fields):
    with pytest.raises(ValueError, match="no header field"):
        sender(LOOPBACK)(receiver.url, fields, BODY)
    assert receiver.connections == 0


def test_a_call_takes_20_seconds_at_most_and_5_to_connect():
    assert CallLimits(look_up_seconds=5, connect_seconds=5, call_seconds=20, most_bytes=65_536) == LIMITS


def test_every_connection_is_closed_whatever_came_of_it(receiver):
    gc.collect()
    open_before = len(os.listdir("/proc/self/fd"))
    for behaviour in (ok(), answers(500, b"x" * 9), hangs_up(), says(b"no"), pours(), gone()):
        receiver.will(behaviour)
        send_to(receiver)
    receiver.will(hangs())
    send_to(receiver, SHORT)
    receiver.close()
    gc.collect()
    assert len(os.listdir("/proc/self/fd")) <= open_before


HOSTS = st.one_of(
    st.integers(0, 2**32 - 1).map(lambda number: str(ip_address(number))),
    st.integers(0, 2**128 - 1).map(lambda number: f"[{ip_address(number)}]"),
    st.integers(0, 2**32 - 1).map(lambda number: f"[::ffff:{number >> 16:x}:{number & 65_535:x}]"),
    st.integers(0, 2**32 - 1).map(lambda number: f"[64:ff9b::{number >> 16:x}:{number & 65_535:x}]"),
    st.integers(0, 2**112 - 1).map(lambda number: f"[{ip_address(0x2002 << 112 | number)}]"),
    st.integers(0, 2**96 - 1).map(lambda number: f"[{ip_address(0x20010000 << 96 | number)}]"),
    st.integers(0, 2**32 - 1).map(str), st.integers(0, 2**32 - 1).map(hex),
    st.from_regex(r"[0-9a-fx.]{1,15}", fullmatch=True),
    st.sampled_from(["localhost", "127.1", "0x7f.1", "0177.0.0.1", "①②⑦.⓪.⓪.①", "127。0。0。1"]),
    st.just("hooks.example"), st.just("hooks.example"), st.just("hooks.example"))
ADDRESSES = st.integers(0, 2**32 - 1).map(ip_address) | st.integers(0, 2**128 - 1).map(ip_address)


@pytest.fixture(scope="module")
def called():
    return []


@pytest.fixture(scope="module")
def send_and_note(called):
    """Calls what it is given, with the system's look-up for all but one name; notes where it would connect to."""
    def connect(address, port, deadline, seconds):
        called.append((address, port))
        raise ConnectionRefusedError

    answered = []
    send = sender((), lambda host, port, seconds: (
        tuple(answered) if host == "hooks.example" else looked_up(host, port, seconds)))

    def send_and_note(url, addresses):
        answered[:], called[:] = addresses, []
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(lines, "connected", connect)
            return send(url, FIELDS, BODY)

    return send_and_note


@settings(max_examples=300, deadline=None)
@given(host=HOSTS, addresses=st.lists(ADDRESSES, max_size=3), port=st.sampled_from(["", ":443", ":80", ":8443"]),
       scheme=st.sampled_from(["https", "https", "http"]))
def test_no_url_ever_leads_to_an_address_that_is_not_for_everybody(
        called, send_and_note, host, addresses, port, scheme):
    """A name has whatever addresses its owner likes; a number is what the system makes of it."""
    came = send_and_note(f"{scheme}://{host}{port}/", addresses).came
    assert not called or came is Came.NOT_REACHED
    assert all(reachable_by_everybody(address) and number == 443 for address, number in called)
    assert not called or scheme == "https"


def test_that_check_can_fail_for_there_are_urls_that_lead_somewhere(called, send_and_note):
    assert send_and_note("https://hooks.example/", [ip_address("8.8.8.8")]).came is Came.NOT_REACHED
    assert called == [(ip_address("8.8.8.8"), 443)]
    assert send_and_note("https://8.8.8.8/", []).came is Came.NOT_REACHED
    assert called == [(ip_address("8.8.8.8"), 443)]
