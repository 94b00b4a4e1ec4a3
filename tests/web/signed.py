"""Somebody who is signed in to the pages: what a browser would send along."""

from typing import Any

import requests

from tests.stories.running_service import RunningService

TOKEN = "Seamcost-Page-Token"  # the name of a header field


def sign_in(service: RunningService, key: str, **headers: str) -> requests.Response:
    return requests.post(f"{service.address}/session", json={"key": key}, headers=named(headers), timeout=30)


def named(headers: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


class Signed:
    """A browser's part of a session: the cookie, and the page's token where it is asked for."""

    def __init__(self, service: RunningService, key: str) -> None:
        answer = sign_in(service, key)
        assert answer.status_code == 200, answer.text
        self.address, self.about, self.cookies = service.address, answer.json(), dict(answer.cookies)

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> requests.Response:
        return requests.request(method, self.address + path, json=body, cookies=self.cookies, headers=named(headers),
                                timeout=30, allow_redirects=False)

    def change(self, path: str, body: Any, **headers: str) -> requests.Response:
        """A change with the page's token."""
        return self.ask("PUT", path, body, **{TOKEN: self.about["page_token"]} | headers)
