"""The chart: food-cost % of the dishes furthest above target, in one colour within it and in another above."""

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from service.domain.live_table import FIRST_ROW, Table
from service.integrations.workbook.formats import GREEN, INK, LINE, RED, SOFT

_SIZE = {"width": 1180, "height": 560}


def add_chart(book: Workbook, sheet: Worksheet, ranking: Table) -> None:
    """Columns for the dishes, a line for their targets, to the right of the figures that it shows."""
    if not ranking.rows:
        return
    first, last = FIRST_ROW, FIRST_ROW + len(ranking.rows) - 1
    names = f"={ranking.span('dish', first, last)}"
    columns = book.add_chart({"type": "column"})
    for key, words, colour in (("within", "Within target", GREEN), ("above", "Above target", RED)):
        columns.add_series({"name": words, "categories": names, "values": f"={ranking.span(key, first, last)}",
                            "fill": {"color": colour}, "border": {"none": True}, "overlap": 100, "gap": 45})
    target = book.add_chart({"type": "line"})
    target.add_series({"name": "Target", "categories": names, "values": f"={ranking.span('target', first, last)}",
                       "line": {"color": INK, "width": 2, "dash_type": "dash"}, "marker": {"type": "none"}})
    columns.combine(target)
    columns.set_title({"name": "Food cost as % of the price before tax", "overlay": False,
                       "name_font": {"size": 14, "color": INK}})
    columns.set_y_axis({"min": 0, "num_format": '0"%"', "major_gridlines": {"visible": True, "line": {"color": LINE}},
                        "num_font": {"color": SOFT}, "line": {"none": True}})
    columns.set_x_axis({"num_font": {"rotation": -45, "color": INK}, "line": {"color": SOFT}})
    columns.set_legend({"position": "top"})
    columns.set_size(_SIZE)
    sheet.insert_chart(FIRST_ROW - 2, len(ranking.columns) + 1, columns, {
        "description": "Food cost as a percentage of the price before tax, dish by dish, against each dish's target."})
