"""A body of 50 MB over the real server, announced or in chunks: refused, nothing recorded, and the next one is served.

Source: RFC 9110 section 15.5.14 (413), RFC 9112 section 7.1 (chunks).
"""

import json
from collections.abc import Iterator

import pytest
import requests

from tests.stories.running_service import RunningService

PIECE = b" " * 65_536
PIECES = 50 * 2**20 // len(PIECE)


def in_chunks() -> Iterator[bytes]:
    """JSON that would be fine but for its 50 MB of blanks."""
    yield b'{"name": "Mill"'
    for _ in range(PIECES):
        yield PIECE
    yield b"}"


@pytest.mark.parametrize("announced", [True, False])
def test_a_body_of_50_mb_is_refused_and_the_next_request_is_served(
    empty_service: RunningService, announced: bool
) -> None:
    admin = empty_service.admin
    head, path = admin.head_revision(), "/v1/suppliers/mill"
    headers = {"Authorization": f"Bearer {admin.key}", "Content-Type": "application/json"}
    answer = requests.put(admin.address + path, data=b"".join(in_chunks()) if announced else in_chunks(),
                          headers=headers, timeout=120)
    assert ("Content-Length" in answer.request.headers) is announced
    admin.validator.check_answer("PUT", path, answer.status_code, answer.headers["Content-Type"], answer.content)
    told = answer.json()
    assert (answer.status_code, told["type"]) == (413, "/docs/problems/body-too-large")
    assert (told["limit_bytes"], admin.head_revision()) == (2**20, head)
    admin.keep(f"{path}-{announced}".lower(), {"name": "Mill"})


def test_a_chunked_body_within_the_limit_is_read_whole(empty_service: RunningService) -> None:
    admin = empty_service.admin
    body = json.dumps({"name": "Chunked", "note": "n" * 900}).encode()
    answer = requests.put(f"{admin.address}/v1/suppliers/chunked", data=iter([body[:50], body[50:]]), timeout=60,
                          headers={"Authorization": f"Bearer {admin.key}", "Content-Type": "application/json"})
    assert answer.status_code == 201
    assert admin.read("/v1/suppliers/chunked")["note"] == "n" * 900
