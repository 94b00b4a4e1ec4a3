"""The note for spreadsheets that people copy from: its request makes the link, and its formulas give the figures.

LibreOffice computes them, but for the formula of Google Sheets, which only Google's servers can: of that one the
address is opened. Judged by plain requests.
"""

import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.stories.linked_sheets import LinkedSheets, linked_sheets
from tests.stories.running_service import RunningService
from tests.stories.test_copied_examples import EXAMPLES, environment

NOTE = (EXAMPLES / "spreadsheet.md").read_text("utf-8")
FORMULAS = re.findall(r"^    (=.+)$", NOTE, re.MULTILINE)
CAP = "/v1/dish-costs/grilled-cap"


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LinkedSheets]:
    with linked_sheets(tmp_path_factory.mktemp("note")) as program:
        yield program


def the_formula(function: str) -> str:
    formula, = [each for each in FORMULAS if function in each]
    return formula


@pytest.mark.usefixtures("curl")
def test_the_note_s_request_and_formulas_work(service: RunningService, sheets: LinkedSheets, tmp_path: Path) -> None:
    token = made_by_the_note(service, tmp_path)

    def filled(text: str) -> str:
        return text.replace("SEAMCOST_URL", service.address).replace("TOKEN", token)

    told = service.admin.read(CAP)["food_cost"]
    (_, value, error), = sheets.computed([filled(the_formula("WEBSERVICE"))])
    assert (f"{value:.4f}", error) == (told, 0)
    address = re.search(r'IMPORTDATA\("(.+)"\)', filled(the_formula("IMPORTDATA")))
    assert address is not None
    assert f"`{address[1]}`" in filled(NOTE)
    menu = sheets.linked(address[1])
    assert [row[menu[0].index("dish")] for row in menu[1:]] == [
        row["dish"] for row in service.admin.everything("/v1/dish-costs")]
    look_up = the_formula("INDEX").replace("Menu.", "$Sheet1.")
    assert f"{sheets.computed([look_up])[0][1]:.4f}" == told
    service.admin.keep("/v1/ingredients/beef-topside/prices", {
        "supplier": "fenmoor", "amount": "22.20", "pack_quantity": "1", "pack_unit": "kg"})
    dearer = service.admin.read(CAP)["food_cost"]
    sheets.refreshed()
    assert f"{sheets.computed([look_up])[0][1]:.4f}" == dearer != told


def made_by_the_note(service: RunningService, folder: Path) -> str:
    """The token of the link that the note's request makes, with the scopes that the note names."""
    command, = re.findall(r"```sh\n(.+?)```", NOTE, re.DOTALL)
    maker = service.client(*re.findall(r"`([a-z]+:[a-z]+)`", NOTE.partition("```")[0]))
    done = subprocess.run(["sh", "-c", command], cwd=folder, env=environment(maker), capture_output=True, text=True,
                          timeout=60, check=True)
    answer: dict[str, Any] = json.loads(done.stdout)
    return str(answer["token"])


def test_every_formula_of_the_note_is_tried() -> None:
    assert len(FORMULAS) == 3
    assert {function for function in ("WEBSERVICE", "IMPORTDATA", "INDEX") if the_formula(function)}
