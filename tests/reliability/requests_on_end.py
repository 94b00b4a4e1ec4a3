"""Readers and writers that ask a running service without a pause, and keep what they were answered."""

import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import requests

from tests.stories.running_service import Client, RunningService


class Answered(NamedTuple):
    """What a request was answered with; of a write, which number it wrote."""

    asked: str
    status: int
    retry_after: str
    text: str
    number: int


@dataclass
class Load:
    """Readers and writers that go on until told to stop, and what they were answered."""

    service: RunningService
    answers: list[Answered] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event)

    def read(self, client: Client) -> None:
        while not self.ended.is_set():
            for path in ("/v1/suppliers", "/v1/dish-costs", "/v1/changes?limit=5", "/v1/suppliers/writer-0"):
                answer = client.session.get(client.address + path, headers=_by(client), timeout=60)
                self._note(path, answer)

    def write(self, client: Client, name: str) -> None:
        number = 0
        while not self.ended.is_set():
            number += 1
            answer = client.session.put(
                f"{client.address}/v1/suppliers/{name}", json={"name": name, "note": str(number)}, timeout=60,
                headers=_by(client) | {"If-Match": "*"})
            self._note(f"PUT {name}", answer, number)

    def _note(self, asked: str, answer: requests.Response, number: int = 0) -> None:
        self.answers.append(Answered(
            asked, answer.status_code, answer.headers.get("Retry-After", ""), answer.text, number))

    def failed(self) -> list[Answered]:
        return [one for one in self.answers if one.status not in (200, 201)]

    def written(self) -> int:
        """How many writes were acknowledged."""
        return sum(1 for one in self.answers if one.asked.startswith("PUT") and one.status < 300)

    def last_acknowledged(self, name: str) -> int:
        """The last number that a writer was told to be recorded."""
        return max(one.number for one in self.answers if one.asked == f"PUT {name}" and one.status < 300)


def _by(client: Client) -> dict[str, str]:
    return {"Authorization": f"Bearer {client.key}"}


@contextlib.contextmanager
def under_load(service: RunningService) -> Iterator[Load]:
    load = Load(service)
    for name in ("writer-0", "writer-1"):
        service.admin.keep(f"/v1/suppliers/{name}", {"name": name})
    threads = [threading.Thread(target=load.read, args=(service.same(service.admin),)) for _ in range(3)]
    threads += [threading.Thread(target=load.write, args=(service.same(service.admin), f"writer-{number}"))
                for number in range(2)]
    for thread in threads:
        thread.start()
    try:
        yield load
    finally:
        load.ended.set()
        for thread in threads:
            thread.join(90)


def until(true: Callable[[], bool], seconds: float = 60) -> None:
    """Wait until something is true."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came about"
        time.sleep(0.05)
