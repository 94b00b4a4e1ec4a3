"""The page for price lists as a person uses it: what is clicked and typed, by the words and places on the page."""

from pathlib import Path

from selenium.webdriver.common.by import By

from tests.web.browser import Browser
from tests.web.priced_kitchen import STARTS, SUPPLIER

DROP = """
const [text, name] = arguments;
const carried = new DataTransfer();
carried.items.add(new File([text], name, {type: "text/csv"}));
document.getElementById("drop").dispatchEvent(
    new DragEvent("drop", {dataTransfer: carried, bubbles: true, cancelable: true}));
"""


class PricesPage:
    """The page in one browser."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser

    def enter(self, key: str) -> "PricesPage":
        """Open the page anew, signed in with a key and nothing else."""
        self.browser.driver.delete_all_cookies()
        self.browser.open("/prices")
        self.browser.driver.refresh()
        self.sign_in(key)
        self.browser.seen("#lists")
        self.browser.wait(lambda: not self.browser.is_hidden("#earlier-none, #earlier-table"), "the lists are there")
        return self

    def sign_in(self, key: str) -> None:
        self.browser.write("#key", key)
        self.browser.click("#sign-in-form button")

    def choose(self, file: Path, supplier: str = SUPPLIER, starts: str = STARTS) -> None:
        """Choose a file, its supplier and its day."""
        browser = self.browser
        browser.wait(lambda: len(browser.all("#supplier option")) > 2, "the suppliers are there")
        browser.choose("#supplier", supplier)
        self.start_on(starts)
        browser.driver.find_element(By.ID, "file").send_keys(str(file))

    def start_on(self, day: str) -> None:
        """Fill in the day as its picker would: how it is typed depends on the browser's language."""
        self.browser.run("const [day] = arguments; const field = document.getElementById('effective-from');"
                         "field.value = day; field.dispatchEvent(new Event('input', {bubbles: true}))", day)

    def drop(self, content: bytes, name: str) -> None:
        self.browser.run(DROP, content.decode("windows-1252"), name)

    def send(self) -> None:
        self.browser.click("#propose-button")

    def review(self, file: Path, starts: str = STARTS) -> str:
        """Send a file and see its review; the proposal's number."""
        self.choose(file, starts=starts)
        self.send()
        self.browser.seen("#review #row-1")
        return str(self.browser.run("return location.hash")).removeprefix("#")

    def tick(self, row: int) -> None:
        self.browser.click(f"#row-{row} .take input")

    def is_ticked(self, row: int) -> bool:
        return self.browser.seen(f"#row-{row} .take input").is_selected()

    def rows(self) -> list[int]:
        """The numbers of the rows shown, from the top."""
        ids: list[str] = self.browser.run(
            "return [...document.querySelectorAll('#rows-table tbody tr')].map((row) => row.id)")
        return [int(one.removeprefix("row-")) for one in ids]

    def show_only(self, which: str, value: str) -> None:
        """Filter or order the rows, and wait until they are there."""
        self.browser.choose(f"#{which}", value)
        self.browser.wait(lambda: not self.browser.all("#rows-table[aria-busy]"), f"rows by {which} {value}")

    def accept(self) -> None:
        self.browser.click("#accept")

    def counts(self) -> dict[str, int]:
        found = self.browser.all("#counts div")
        return {one.find_element(By.TAG_NAME, "dt").text: int(one.find_element(By.TAG_NAME, "dd").text)
                for one in found}
