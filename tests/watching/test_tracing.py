"""Spans of requests: within the trace that came, with what the log says and no more. Source: W3C Trace Context."""

from typing import Any

import pytest

from service.settings import SettingWrong
from service.watching import tracing
from service.watching.tracing import Tracing, trace_at_hand, tracing_of

pytest.importorskip("opentelemetry.sdk", reason="the extra otel is not installed")
TRACE, PARENT = "0af7651916cd43dd8448eb211c80319c", "b7ad6b7169203331"
"""As in the examples of W3C Trace Context, section 3.2 (from memory)."""


@pytest.fixture
def spans() -> Any:
    from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

    return InMemorySpanExporter()


@pytest.fixture
def traced(spans: Any) -> Tracing:
    from opentelemetry.sdk.trace.export import SimpleSpanProcessor

    return Tracing(SimpleSpanProcessor(spans))


def test_a_request_is_a_span_of_the_trace_that_it_came_with(traced: Tracing, spans: Any) -> None:
    traced.begun({"HTTP_TRACEPARENT": f"00-{TRACE}-{PARENT}-01", "QUERY_STRING": "price=7319.41"})
    assert trace_at_hand() == {"trace_id": TRACE}
    with traced.span("snapshot build"):
        pass
    more = {"request_id": "r-1", "key_id": "k-1", "query": ["x"]}
    traced.answered("/v1/dishes/{code}", "GET", 503, 0.1, lambda: more)
    assert trace_at_hand() == {}
    inner, outer = spans.get_finished_spans()
    assert (outer.name, outer.parent.span_id) == ("GET /v1/dishes/{code}", int(PARENT, 16))
    assert f"{outer.context.trace_id:032x}" == TRACE
    assert (inner.name, inner.parent.span_id) == ("snapshot build", outer.context.span_id)
    assert dict(outer.attributes) == {
        "http.request.method": "GET", "http.route": "/v1/dishes/{code}", "http.response.status_code": 503,
        "seamcost.request_id": "r-1", "seamcost.key_id": "k-1"}
    assert outer.status.status_code.name == "ERROR"


def test_what_breaks_within_is_not_told_with_its_text(traced: Tracing, spans: Any) -> None:
    traced.begun({})
    with pytest.raises(ValueError, match="7319"), traced.span("snapshot build"):
        raise ValueError("7319.41")
    traced.answered("/", "GET", 500, 0.1, dict)
    assert "7319" not in "".join(span.to_json() for span in spans.get_finished_spans())


def test_a_request_that_was_never_answered_leaves_the_next_one_alone(traced: Tracing, spans: Any) -> None:
    traced.begun({"HTTP_TRACEPARENT": f"00-{TRACE}-{PARENT}-01"})
    traced.begun({})
    assert trace_at_hand() != {"trace_id": TRACE}
    traced.answered("/", "GET", 200, 0.1, dict)
    assert [span.name for span in spans.get_finished_spans()] == ["request", "GET /"]


def test_it_is_off_unless_asked_for() -> None:
    assert tracing_of({}) is None
    assert tracing_of({"SEAMCOST_OTEL": "0", "OTEL_SERVICE_NAME": "x"}) is None


def test_asked_for_without_its_packages_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tracing, "find_spec", lambda _name: None)
    with pytest.raises(SettingWrong, match=r"seamcost\[otel\]"):
        tracing_of({"SEAMCOST_OTEL": "1"})
    assert tracing_of({"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:1"}) is None
