"""Price lists on the command line: proposed, shown, accepted; wrong uses are told in a sentence."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from service.cli.commands import main
from tests.cli.conftest import Run
from tests.cli.test_costs import table_of

LIST = "Artikelnummer;Bezeichnung;Einheit;Preis\r\n{item};Rinderoberschale;kg;{price}\r\n10-0000;Unbekannt;kg;9,80\r\n"
SUPPLIER = ("--supplier", "fenmoor", "--from", "2030-01-07")


@pytest.fixture
def price_list(tmp_path: Path) -> Path:
    file = tmp_path / "spring.csv"
    file.write_bytes(LIST.format(item="10-2345", price="15,20").encode("cp1252"))
    return file


@pytest.mark.usefixtures("demo_file")
def test_a_list_is_proposed_shown_and_accepted(run: Run, price_list: Path) -> None:
    proposed = run("prices", "propose", str(price_list), *SUPPLIER, "--all")
    assert proposed.exit_code == 0, proposed.output
    first, second = table_of(proposed.stdout.split("\n\n")[0])
    assert (first["item"], first["ingredient"], first["price"], first["standing"]) == (
        "10-2345", "beef-topside", "15.2000", "clean")
    assert (second["item"], second["standing"], second["findings"]) == ("10-0000", "blocked", "unknown item")
    assert "Rows: 2; clean 1, unchanged 0, questioned 0, blocked 1;" in proposed.stdout
    assert "seamcost prices accept 1" in proposed.stdout
    accepted = run("prices", "accept", "1")
    assert "prices recorded: 1; rows left: 1" in accepted.stdout
    assert "accepted" in run("prices", "show", "1").stdout
    again = run("prices", "accept", "1")
    assert (again.exit_code, "was accepted" in again.output) == (1, True)


@pytest.mark.usefixtures("demo_file")
def test_a_row_with_a_finding_is_taken_with_a_reason(run: Run, price_list: Path) -> None:
    price_list.write_bytes(LIST.format(item="10-2345", price="21,00").encode())
    assert "outside history" in run("prices", "propose", str(price_list), *SUPPLIER).stdout
    refused = run("prices", "accept", "1", "--row", "1")
    assert (refused.exit_code, "needs a reason" in refused.output) == (1, True)
    assert "prices recorded: 1" in run("prices", "accept", "1", "--override", "1", "Agreed by telephone").stdout


@pytest.mark.usefixtures("demo_file")
@pytest.mark.parametrize(("arguments", "word"), [
    (("--supplier", "nobody", "--from", "2030-01-07"), "nobody"),
    (("--supplier", "fenmoor"), "from which day"),
    ((*SUPPLIER, "--column", "price"), "MEANING=HEADER"),
])
def test_what_is_asked_wrongly_is_told_in_a_sentence(
    run: Run, price_list: Path, arguments: tuple[str, ...], word: str,
) -> None:
    answer = run("prices", "propose", str(price_list), *arguments)
    assert answer.exit_code == 2
    assert word in answer.output


@pytest.mark.usefixtures("demo_file")
def test_colours_are_for_a_terminal_alone(run: Run, price_list: Path) -> None:
    assert "\x1b[" not in run("prices", "propose", str(price_list), *SUPPLIER, "--all").stdout
    assert "\x1b[32m" in CliRunner().invoke(main, ["prices", "show", "1", "--all"], color=True).stdout


@pytest.mark.usefixtures("demo_file")
def test_what_has_changed_since_is_mended_by_another_look(run: Run, price_list: Path) -> None:
    """Proposing the file again would only find the proposal that there is."""
    assert run("prices", "propose", str(price_list), *SUPPLIER).exit_code == 0
    price_list.write_bytes(LIST.format(item="10-2345", price="15,30").encode())
    assert run("prices", "propose", str(price_list), *SUPPLIER).exit_code == 0
    assert run("prices", "accept", "2").exit_code == 0
    stale = run("prices", "accept", "1")
    assert (stale.exit_code, "look again" in stale.output) == (1, True)
    assert "seamcost prices look 1" in run("prices", "show", "1").stdout
    looked = run("prices", "look", "1", "--all")
    assert (looked.exit_code, "has changed since" in looked.stdout) == (0, False)
    assert "prices recorded: 1" in run("prices", "accept", "1").stdout


@pytest.mark.usefixtures("demo_file")
def test_a_proposal_is_rejected_with_its_reason(run: Run, price_list: Path) -> None:
    assert run("prices", "propose", str(price_list), *SUPPLIER).exit_code == 0
    assert run("prices", "reject", "1", " ").exit_code == 2
    assert run("prices", "reject", "1", "Sent twice.").stdout == "Proposal 1 is rejected.\n"
    assert run("prices", "accept", "1").exit_code == 1


@pytest.mark.usefixtures("demo_file")
def test_a_names_line_breaks_and_controls_stay_out_of_the_terminal(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "odd.csv"
    file.write_bytes(b'Item code,Description,Unit,Price\n10-0000,"Topside\nof beef",kg,9.80\n')
    answer = run("prices", "propose", str(file), *SUPPLIER)
    assert answer.exit_code == 0, answer.output
    assert "Topside of beef" in answer.stdout
    assert "unknown item (closest: 10-2345, beef-topside)" in answer.stdout


@pytest.mark.usefixtures("demo_file")
def test_the_rows_that_were_left_are_proposed_again_when_that_is_asked_for(run: Run, price_list: Path) -> None:
    assert run("prices", "propose", str(price_list), *SUPPLIER).exit_code == 0
    assert run("prices", "accept", "1").exit_code == 0
    assert "Proposal 1 (the file is known already), accepted" in run("prices", "propose", str(price_list),
                                                                     *SUPPLIER).stdout
    assert "Proposal 2, open" in run("prices", "propose", str(price_list), *SUPPLIER, "--again").stdout
