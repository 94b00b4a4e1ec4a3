"""How the service tells of what somebody has to mend first: a 503 that says so, and a line of the log with the mend."""

from typing import Any

import pytest


def told_to_mend(answer: Any, log: pytest.LogCaptureFixture, problem: str, fault: str, *words: str) -> None:
    """It is that problem, not to be asked again at once, and the log tells that fault in these words; the log is then
    empty."""
    assert (answer.status_code, answer.json["type"]) == (503, f"/docs/problems/{problem}"), answer.text
    assert answer.headers["Retry-After"] == "300"
    assert not [line for line in log.records if line.message.startswith("unexpected")]
    [line] = [line for line in log.records if line.message == f"not available: {fault}"]
    assert line.exc_info is not None
    for said in words:
        assert said in str(line.exc_info[1])
    log.clear()
