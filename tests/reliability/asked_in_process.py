"""The whole application on a ledger, asked without a network: for parts that need many requests and no workers."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service import operating, wiring
from service.settings import Settings
from service.use_cases.keys import create_key
from service.use_cases.ports import Asker
from tests.reliability import sabotage


@dataclass
class InProcess:
    """A client with an admin's key."""

    client: FlaskClient
    key: str

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> TestResponse:
        """Ask, with header fields named in Python's manner: `if_match='"214"'`."""
        sent = {"Authorization": f"Bearer {self.key}"} | {
            name.replace("_", "-"): value for name, value in headers.items()}
        if body is None:
            return self.client.open(path, method=method, headers=sent)
        content = json.dumps(body)  # in ASCII: half a surrogate pair can be sent too
        return self.client.open(path, method=method, data=content, content_type="application/json", headers=sent)

    def read(self, path: str) -> Any:
        answer = self.ask("GET", path)
        assert answer.status_code == 200, answer.text
        return answer.json


@contextmanager
def asked_in_process(database_url: str, switch: str = "") -> Iterator[InProcess]:
    """The application until the block is left, broken by a switch of sabotage.py if one is named."""
    settings = Settings(database_url=database_url)
    with sabotage.broken(switch), operating.opened_ledger(settings) as ledger:
        app = wiring.app_on(ledger, settings)
        key = create_key(ledger, "admin", ["admin"], None, Asker("cli", "breaking", "breaking")).document["key"]
        yield InProcess(app.test_client(), str(key))
