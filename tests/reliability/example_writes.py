"""Every write of the API document by its examples, on the ledger that they are told of, as often as it takes.

They run in their own order on the demo kitchen. Before each the ledger is put by, so that it can be had again as it
stood: a write that went through would be refused the second time.
"""

import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from service.persistence.migrating import migrate
from service.rest.openapi_layer.examples import load_examples
from tests.reliability.programme import Run
from tests.rest.example_making import FOLDER, asked_of, client_on, fill_with_the_demo, in_turn

LIVES_ON_READS = "read_"
"""How operations are called that ask with a body and write nothing."""


@dataclass(frozen=True)
class ExampleWrite:
    """One of them: its name, the arguments of a client, the status of its answer, and a fresh client each time on the
    ledger as it stood before."""

    name: str
    asked: dict[str, Any]
    status: int
    fresh: Callable[[], AbstractContextManager[FlaskClient]]


def example_writes(run: Run) -> Iterator[ExampleWrite]:
    """Each write that is shown accepted."""
    now = _made(run)
    migrate(now)
    with client_on(now) as client:
        fill_with_the_demo(client)
    for name, path, method, example in in_turn(load_examples(FOLDER)):
        status = example["answer"]["status"]
        if method == "get" or name.startswith(LIVES_ON_READS) or status >= 300:
            continue
        asked, before = asked_of(path, method, example), now
        yield ExampleWrite(f"{name}, {example['name']}", asked, status, lambda before=before: _copied(run, before))
        now = _copy(run, before)
        with client_on(now) as client:
            answer = client.open(**asked)
            assert answer.status_code == status, answer.text
        _drop(run, before)


@contextmanager
def _copied(run: Run, database_url: str) -> Iterator[FlaskClient]:
    copy = _copy(run, database_url)
    try:
        with client_on(copy) as client:
            yield client
    finally:
        _drop(run, copy)


def _made(run: Run) -> str:
    return f"sqlite:///{run.folder}/examples-0.db" if run.server is None else str(run.server.create())


def _copy(run: Run, database_url: str) -> str:
    """Nobody is connected to it."""
    if run.server is not None:
        return str(run.server.create(database_url.split("@/")[1].split("?")[0]))
    path = Path(database_url.removeprefix("sqlite:///"))
    copy = next(one for number in range(1, 1_000) if not (one := path.with_name(f"examples-{number}.db")).exists())
    shutil.copyfile(path, copy)
    return f"sqlite:///{copy}"


def _drop(run: Run, database_url: str) -> None:
    if run.server is not None:
        run.server.drop(database_url)
        return
    path = Path(database_url.removeprefix("sqlite:///"))
    for each in path.parent.glob(f"{path.name}*"):
        each.unlink()
