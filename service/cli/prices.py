"""Price proposals from the command line: a supplier's file is reviewed as a table, then accepted by its number.

Whoever may run the command may do both; two people are told apart by their keys over HTTP.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from service import operating, wiring
from service.cli.asking import asker
from service.cli.flags import database_flag, settings_of
from service.cli.text_table import text_table
from service.domain.row_finding import Standing
from service.use_cases.accept_prices import accept_prices, look_again, reject_prices
from service.use_cases.propose_prices import ProposalAsked, propose_prices
from service.use_cases.read_proposal_rows import RowsAsked, proposal_rows
from service.use_cases.read_proposals import Proposals, proposal_document
from service.use_cases.reviews import proposal_numbered
from service.use_cases.rows_chosen import Chosen

Row = Mapping[str, Any]
COLOURS: Mapping[str, str] = {
    Standing.CLEAN: "green", Standing.UNCHANGED: "bright_black", Standing.QUESTIONED: "yellow",
    Standing.BLOCKED: "red"}
LONGEST_FILE_NAME = 200
NEEDING_A_LOOK = (Standing.QUESTIONED, Standing.BLOCKED)
HEADINGS = ("row", "place", "item", "name", "ingredient", "price", "in force", "change %", "menu", "standing",
            "findings")


@click.group()
def prices() -> None:
    """Propose a supplier's price list or invoice, and accept what it says."""


@prices.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--supplier", required=True, metavar="CODE", help="Whose list it is.")
@click.option("--from", "starts", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY",
              help="From which day the prices hold. [unless set: as the file says]")
@click.option("--sheet", default="", metavar="NAME", help="The sheet of a workbook. [unless set: the first price list]")
@click.option("--spread-charges", is_flag=True, help="Spread what an invoice charges beside its lines, by weight.")
@click.option("--column", "columns", multiple=True, metavar="MEANING=HEADER",
              help="What a column means, where it is not told: price=Netto, item=Ref. May be repeated.")
@click.option("--again", is_flag=True, help="Propose a file anew that was accepted, for the rows that were left.")
@click.option("--all", "show_all", is_flag=True, help="Show unchanged and clean rows too, not only what needs a look.")
@database_flag
def propose(file: Path, supplier: str, starts: datetime | None, sheet: str, spread_charges: bool,
            columns: tuple[str, ...], again: bool, show_all: bool, database: str | None) -> None:
    """Review a supplier's FILE: CSV, XLSX, or a UBL 2.1 Catalogue or Invoice. Nothing is in force yet."""
    content = file.read_bytes()
    asked = ProposalAsked(supplier, starts and starts.date(), _in_one_line(file.name)[:LONGEST_FILE_NAME], sheet,
                          spread_charges, _columns(columns), again)
    with operating.opened_ledger(settings_of(database)) as ledger:
        proposals = wiring.proposals(ledger)
        receipt = propose_prices(ledger, wiring.read_price_file, content, asked, asker())
        _show(proposals, str(receipt.document["id"]), show_all, known=not receipt.document["new"])


@prices.command()
@click.argument("proposal")
@click.option("--all", "show_all", is_flag=True, help="Show unchanged and clean rows too, not only what needs a look.")
@database_flag
def show(proposal: str, show_all: bool, database: str | None) -> None:
    """Show the review of a PROPOSAL again."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        _show(wiring.proposals(ledger), proposal, show_all, known=False)


@prices.command()
@click.argument("proposal")
@click.option("--all", "show_all", is_flag=True, help="Show unchanged and clean rows too, not only what needs a look.")
@database_flag
def look(proposal: str, show_all: bool, database: str | None) -> None:
    """Review a PROPOSAL again, against the ledger as it stands now."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        look_again(ledger, proposal_numbered(ledger, proposal).id, asker())
        _show(wiring.proposals(ledger), proposal, show_all, known=False)


@prices.command()
@click.argument("proposal")
@click.option("--row", "rows", type=click.IntRange(min=1), multiple=True, metavar="N",
              help="Take this clean row; may be repeated. [unless set: all clean rows]")
@click.option("--override", "overrides", type=(click.IntRange(min=1), str), multiple=True, metavar="N REASON",
              help="Take a questioned row as well, with the reason; may be repeated.")
@database_flag
def accept(proposal: str, rows: tuple[int, ...], overrides: tuple[tuple[int, str], ...], database: str | None) -> None:
    """Accept a PROPOSAL by its number: its clean rows become prices in one revision, or none does."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        proposals = wiring.proposals(ledger)
        number = proposal_numbered(ledger, proposal).id
        accept_prices(ledger, proposals.reviews, number, Chosen(rows or None, overrides), asker())
        taken = proposal_document(proposals, proposal_numbered(ledger, proposal))["acceptance"]
        click.echo(f"Revision {taken['revision']}: prices recorded: {taken['accepted']}; rows left: {taken['left']}.")


@prices.command()
@click.argument("proposal")
@click.argument("reason")
@database_flag
def reject(proposal: str, reason: str, database: str | None) -> None:
    """Close a PROPOSAL with the REASON; nothing is recorded, and it stays to be read."""
    with operating.opened_ledger(settings_of(database)) as ledger:
        number = proposal_numbered(ledger, proposal).id
        reject_prices(ledger, number, reason, asker())
        click.echo(f"Proposal {number} is rejected.")


def _columns(given: Sequence[str]) -> dict[str, str]:
    columns = {}
    for one in given:
        meaning, mark, header = one.partition("=")
        if not mark or not meaning or not header:
            raise click.BadParameter(f"{one!r} is not MEANING=HEADER, such as price=Netto.", param_hint="--column")
        columns[meaning.strip()] = header.strip()
    return columns


def _show(proposals: Proposals, number: str, show_all: bool, known: bool) -> None:
    proposal = proposal_numbered(proposals.ledger, number)
    whole = proposal_document(proposals, proposal)
    review = proposals.reviews.look(proposal)
    asked = [RowsAsked()] if show_all else [RowsAsked(standing=standing) for standing in NEEDING_A_LOOK]
    found = [row for each in asked for row in proposal_rows(proposals, proposal, review, each, 0, proposal.rows)[0]]
    shown = sorted(found, key=lambda row: int(row["row"]))
    if shown:
        click.echo(_coloured(text_table(HEADINGS, [_cells(row) for row in shown]), shown) + "\n")
    for line in _summary(whole, known):
        click.echo(line)


def _coloured(table: str, rows: Sequence[Row]) -> str:
    """The table with each row in the colour of where it stands; the standing is in words beside it."""
    heading, rule, *lines = table.split("\n")
    return "\n".join([click.style(heading, bold=True), rule, *(
        click.style(line, fg=COLOURS[row["standing"]]) for line, row in zip(lines, rows, strict=True))])


def _cells(row: Row) -> list[str]:
    found = ", ".join(finding["code"].replace("_", " ") + _meant(finding) for finding in row["findings"])
    figures = [row["unit_price"] or row["amount_text"],
               *(row[name] for name in ("price_in_force", "change_percent", "menu_effect"))]
    cells = [str(row["row"]), row["place"], row["item"], row["name"], row["ingredient"] or "",
             *(figure or "" for figure in figures), row["standing"], found]
    return [_in_one_line(cell) for cell in cells]


def _meant(finding: Row) -> str:
    """What an unknown item may be meant for."""
    closest = ", ".join(close["code"] for close in finding.get("closest", ()))
    return f" (closest: {closest})" if closest else ""


def _in_one_line(cell: str) -> str:
    """A file's text without line breaks and without what a terminal would obey."""
    return cell if cell.isprintable() else "".join(one if one.isprintable() else " " for one in cell)


def _summary(whole: Row, known: bool) -> list[str]:
    counts, effect = whole["counts"], whole["effect"]
    again = " (the file is known already)" if known else ""
    lines = [
        f"Proposal {whole['id']}{again}, {whole['state']}: {whole['file_name']} of {whole['supplier']}, in "
        f"{whole['currency']}, reviewed against revision {whole['base_revision']}",
        f"Rows: {counts['rows']}; clean {counts['clean']}, unchanged {counts['unchanged']}, questioned "
        f"{counts['questioned']}, blocked {counts['blocked']}; items of the last list missing: "
        f"{counts['missing_items']}",
        f"If all clean rows were accepted: dishes that move on {effect['as_of']}: {effect['dishes_moved']}; leaving "
        f"their target: {effect['leaving_target']}; back within it: {effect['returning_to_target']}"]
    lines += [f"- {dish['name']}: {_turned(dish, 'food_cost')}, {_turned(dish, 'food_cost_percent', ' %')}"
              f"{_crossing(dish)}" for dish in effect["dishes"][:10]]
    lines += [f"Note: {_in_one_line(finding['detail'])}" for finding in whole["findings"]]
    if whole["out_of_date"]:
        lines.append(f"What it was reviewed against has changed since: seamcost prices look {whole['id']}")
    if whole["state"] == "open":
        lines += ["", f"seamcost prices accept {whole['id']}"]
    return lines


def _turned(dish: Row, figure: str, unit: str = "") -> str:
    """A figure before and after; what has no number is unknown."""
    before, after = (dish[f"{figure}_{when}"] for when in ("before", "after"))
    return " -> ".join("unknown" if each is None else f"{each}{unit}" for each in (before, after))


def _crossing(dish: Row) -> str:
    """Whether a dish leaves its target, or comes back within it."""
    within = dish["within_target_before"], dish["within_target_after"]
    return {(True, False): ", leaves its target", (False, True): ", back within its target"}.get(within, "")
