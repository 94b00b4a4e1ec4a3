"""The board in a real browser: bytes sent, time to first paint, and how long a key typed in the search takes to show.

    python -m tests.benchmarks.board [--dishes 500] [--slower 4] [--folder FOLDER]

Beside each stands what it is held against: the same dishes as JSON from the API, packed and not; the first paint of the
page to sign in, which is next to nothing; a processor so many times slower, as a phone's. Keys are pressed as a person
presses them, and the browser itself says how long each took until the next paint (Event Timing; it rounds to 8 ms, and
tells only what took 16 ms or longer).

Source: Paint Timing (first-contentful-paint); Event Timing; Resource Timing (encodedBodySize).
"""

import argparse
import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from typing import Any

from tests.benchmarks.kitchens import filled
from tests.benchmarks.results import CLOCK, SIZE, Asked, Result
from tests.benchmarks.serving import asked_once, service, wire
from tests.web.browser import DESK, PHONE, Browser, Window, browsing

PORT = 8769
PAINT = "return performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null"
LISTEN = """
window.heard = [];
new PerformanceObserver((list) => { for (const one of list.getEntries())
  if (one.name.startsWith('key') || one.name === 'input') window.heard.push(one.duration); }
).observe({type: 'event', durationThreshold: 16, buffered: false});
"""
SENT = """
const entries = [performance.getEntriesByType('navigation')[0], ...performance.getEntriesByType('resource')];
return entries.map((one) => [new URL(one.name).pathname, one.encodedBodySize, one.decodedBodySize]);
"""
TYPED = "dish 1"
TIMES = 5


def sign_in(browser: Browser, key: str) -> None:
    browser.open("/")
    browser.write("#key", key)
    browser.click("form.sign-in button")
    browser.seen("main.board")


def first_paint(browser: Browser, path: str) -> float:
    """Milliseconds from asking for a page to its first paint; the median of some."""
    times = []
    for _ in range(TIMES):
        browser.open(path)
        times.append(float(browser.wait(lambda: browser.run(PAINT), "painted")))
    return median(times)


def delays(browser: Browser, letters: str = TYPED) -> list[float]:
    """Milliseconds from each key to the next paint, for the events that took 16 or longer."""
    browser.open("/")
    browser.run(LISTEN)
    browser.click("#q")
    for letter in letters:
        browser.press(letter)
    if (typed := browser.run("return document.querySelector('#q').value")) != letters:
        raise SystemExit(f"the search has {typed!r}, not {letters!r}: no key was timed")
    for _ in letters:
        browser.press("\b")
    browser.driver.execute_async_script("setTimeout(arguments[0], 300)")
    heard: list[float] = browser.run("return window.heard")
    return heard


def measure(browser: Browser, key: str, slower: int) -> dict[str, Any]:
    browser.open("/docs/problems/not-found")
    browser.driver.delete_all_cookies()  # nobody is signed in, whatever was measured before
    sign_in_paint = first_paint(browser, "/")
    sign_in(browser, key)
    paint, sent = first_paint(browser, "/"), browser.run(SENT)
    quick = delays(browser)
    browser.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": slower})
    slow_paint, slow = first_paint(browser, "/"), delays(browser)
    browser.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 1})
    return {"sign in": sign_in_paint, "paint": paint, "slow paint": slow_paint, "keys": quick, "slow keys": slow,
            "sent": sent}


def told(window: Window, found: dict[str, Any], slower: int) -> None:
    print(f"\n{window.name}, {window.width} px")
    print(f"  first paint {found['paint']:.0f} ms, {found['paint'] / found['sign in']:.1f} times that of the page to "
          f"sign in ({found['sign in']:.0f} ms); {slower} times slower processor: {found['slow paint']:.0f} ms")
    for name, keys in (("typing", found["keys"]), (f"typing, {slower} times slower", found["slow keys"])):
        worst = f"worst {max(keys):.0f} ms, median of those {median(keys):.0f} ms" if keys else "none"
        print(f"  {name}: {2 * len(TYPED)} keys, of 16 ms or longer {len(keys)} events: {worst}")
    for path, packed, whole in found["sent"]:
        print(f"  {path}: {packed} bytes sent, {whole} unpacked")
    print(f"  in all {sum(packed for _, packed, _ in found['sent'])} bytes sent")


def results(asked: Asked) -> Iterator[Result]:
    """The board on a desk: bytes over those of the API, paint over that of the page to sign in, keys typed."""
    dishes, folder = asked.of(20, 500, 500), Path(tempfile.mkdtemp())
    kitchen = filled(url := f"sqlite:///{folder / 'board.db'}", dishes)
    with service(url, PORT, 1, 8) as server:
        page, rows = sizes(kitchen.admin, "gzip")
        yield Result(f"the board of {dishes} dishes, packed", "the same dishes as JSON", (page / rows,), by=SIZE)
        with browsing(f"http://127.0.0.1:{server.port}", DESK, Path(tempfile.mkdtemp())) as browser:
            found = [measure(browser, kitchen.admin, 4) for _ in range(asked.of(1, 1, asked.rounds))]
    yield Result(f"first paint of the board of {dishes} dishes", "of the page to sign in",
                 tuple(one["paint"] / one["sign in"] for one in found), by=CLOCK)
    for said, name in (("", "keys"), (", a processor four times slower", "slow keys")):
        yield Result(f"a key typed in the search, to the next paint, the worst{said}", "", tuple(
            max(one[name], default=16.0) for one in found), "ms", CLOCK, at_most=100)


def sizes(key: str, encoding: str) -> tuple[int, int]:
    """Bytes of the board, and of the same dishes from the API."""
    fields = {"Authorization": f"Bearer {key}", "Accept_Encoding": encoding}
    page, _ = asked_once(PORT, wire("/", **fields))
    rows, _ = asked_once(PORT, wire("/v1/dish-costs?limit=1000", **fields))
    return len(page), len(rows)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--dishes", type=int, default=500)
    asked.add_argument("--slower", type=int, default=4)
    asked.add_argument("--folder", type=Path, default=None)
    options = asked.parse_args()
    folder = options.folder or Path(tempfile.mkdtemp())
    url = f"sqlite:///{folder / 'board.db'}"
    kitchen = filled(url, options.dishes)
    with service(url, PORT, 1, 8) as server:
        for encoding in ("identity", "gzip"):
            page, rows = sizes(kitchen.admin, encoding)
            print(f"{encoding}: the board {page} bytes, {page / options.dishes:.0f} a dish; as JSON {rows} bytes, so "
                  f"{page / rows:.2f} of it")
        for window in (DESK, PHONE):
            with browsing(f"http://127.0.0.1:{server.port}", window, Path(tempfile.mkdtemp())) as browser:
                found = measure(browser, kitchen.admin, options.slower)
                told(window, found, options.slower)
                print(f"  console: {json.dumps(browser.console())}")


if __name__ == "__main__":
    main()
