"""A real browser for the tests of pages: Chromium without a window, driven by chromedriver, at a size and in a theme.

Debian has it in two forms of the same build: the whole browser, and the shell without what a person would see of it
around a page, which starts and loads pages for a third of the processor's time. The shell is taken where it is there.

Whatever the console says (a script's error, something that the page's policy refused) can be asked for afterwards.
Where SEAMCOST_SCREENSHOTS names a folder, pictures are put there to be looked at.
"""

import base64
import json
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import Select, WebDriverWait

from tests.node_packages import node_packages

AXE = {"axe-core": "4.14.1"}
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update")
BROWSERS = {"chromium-headless-shell": "chrome-headless-shell", "chromium": "chrome"}
"""The programs, and what chromedriver calls each; the first that is there."""
PATIENCE = 60
TALL = 12_000
"""Pixels: with a window so high nothing that sticks to an edge lies over the text whose contrast is measured."""

RUN_AXE = """
const [options, done] = arguments;
axe.run(document, options).then((found) => done(JSON.stringify(found)), (fault) => done(JSON.stringify(String(fault))));
"""
WCAG = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
        "resultTypes": ["violations", "incomplete", "passes"]}


@dataclass(frozen=True)
class Window:
    """How big the window is, and which theme its user prefers."""

    width: int
    height: int
    theme: str

    @property
    def name(self) -> str:
        return f"{'phone' if self.width < 500 else 'desk'}-{self.theme}"


DESK, DESK_DARK = Window(1280, 900, "light"), Window(1280, 900, "dark")
PHONE, PHONE_DARK = Window(390, 844, "light"), Window(390, 844, "dark")


def looked_at(window: Window) -> tuple[Window, ...]:
    """The windows in which a module's pages are held to accessibility: that one in every run, so that the modules
    together have both sizes and both themes, and all four where all are asked for."""
    return (DESK, DESK_DARK, PHONE, PHONE_DARK) if os.environ.get("SEAMCOST_EVERY_WINDOW") else (window,)


@dataclass
class Browser:
    """The browser on one service. Elements are named by CSS selectors; what is asked for is waited for."""

    driver: webdriver.Chrome
    address: str
    window: Window

    def open(self, path: str) -> None:
        self.driver.get(self.address + path)

    def wait(self, condition: Callable[[], Any], what: str) -> Any:
        """Wait until it holds. An element that is drawn anew meanwhile is looked for again."""
        waiting = WebDriverWait(self.driver, PATIENCE, 0.05, (StaleElementReferenceException,))
        return waiting.until(lambda _driver: condition(), f"never: {what}")

    def seen(self, selector: str) -> WebElement:
        """The first element of that kind that can be seen, once there is one."""
        found: WebElement = self.wait(lambda: next((one for one in self.all(selector) if one.is_displayed()), None),
                                      f"{selector} is seen")
        return found

    def all(self, selector: str) -> list[WebElement]:
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def is_hidden(self, selector: str) -> bool:
        return not any(one.is_displayed() for one in self.all(selector))

    def text(self, selector: str) -> str:
        return self.seen(selector).text

    def says(self, selector: str, text: str) -> None:
        """Wait until an element that can be seen has this in its text."""
        self.wait(lambda: any(text in one.text for one in self.all(selector) if one.is_displayed()),
                  f"{selector} says {text!r}")

    def click(self, selector: str) -> None:
        element = self.seen(selector)
        self.run("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()

    def write(self, selector: str, text: str) -> None:
        element = self.seen(selector)
        element.clear()
        element.send_keys(text)

    def choose(self, selector: str, value: str) -> None:
        Select(self.seen(selector)).select_by_value(value)

    def press(self, *keys: str) -> None:
        """Press keys where the focus is."""
        ActionChains(self.driver).send_keys(*keys).perform()

    @property
    def focused(self) -> str:
        """The id of what has the focus; its class or name where it has none."""
        found: str = self.run("const on = document.activeElement; return on.id || on.className || on.nodeName")
        return found

    def run(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def console(self) -> list[str]:
        """What the console says, but for answers that a test provokes: a refusal is an answer, not a fault."""
        return [entry["message"] for entry in self.driver.get_log("browser")
                if entry["level"] in ("SEVERE", "WARNING") and entry["source"] != "network"]

    def size(self, height: int) -> None:
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": self.window.width, "height": height, "deviceScaleFactor": 1, "mobile": self.window.width < 500})

    def accessibility(self) -> dict[str, Any]:
        """What axe-core finds on the page as it stands."""
        self.size(TALL)
        self.run((node_packages(AXE) / "axe-core" / "axe.min.js").read_text(encoding="utf-8"))
        found: dict[str, Any] = json.loads(self.driver.execute_async_script(RUN_AXE, WCAG))
        self.size(self.window.height)
        return found

    def picture(self, name: str) -> None:
        """Keep a picture of the whole page, where somebody wants to look at it."""
        folder = os.environ.get("SEAMCOST_SCREENSHOTS")
        if folder:
            height = min(self.run("return document.documentElement.scrollHeight"), 6000)
            self.size(height)
            taken = self.driver.execute_cdp_cmd("Page.captureScreenshot", {"captureBeyondViewport": True, "clip": {
                "x": 0, "y": 0, "width": self.window.width, "height": height, "scale": 1}})
            Path(folder).mkdir(parents=True, exist_ok=True)
            self.size(self.window.height)
            (Path(folder) / f"{name}-{self.window.name}.png").write_bytes(base64.b64decode(taken["data"]))


@contextmanager
def browsing(address: str, window: Window, profile: Path) -> Iterator[Browser]:
    """A browser with a profile of its own. Skips where there is none, unless on CI, where that fails."""
    chromium = next(filter(shutil.which, BROWSERS), None)
    chromedriver = shutil.which("chromedriver")
    if chromium is None or chromedriver is None:
        reason = "No browser to test in: install chromium-headless-shell (or chromium) and chromium-driver"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which(chromium))
    options.set_capability("browserName", BROWSERS[chromium])
    for flag in (*FLAGS, f"--user-data-dir={profile}", f"--window-size={window.width},{window.height}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options, webdriver.ChromeService(chromedriver))
    try:
        driver.set_script_timeout(120)
        browser = Browser(driver, address, window)
        browser.size(window.height)
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "features": [{"name": "prefers-color-scheme", "value": window.theme}]})
        yield browser
    finally:
        driver.quit()
