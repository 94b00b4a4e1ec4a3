"""Runs inside the spreadsheet program's own Python: opens tables by their address, links sheets to them, and computes
with single figures fetched by a formula.

One request a line on standard input, as JSON; one answer a line on standard output. Started by `linked_sheets.py`, as
`python3 inside_the_sheet.py PIPE`. It may import nothing but the program's bridge and the standard library.

Source:  the LibreOffice API: XSheetLinkable.link, XRefreshable.refresh, MediaDescriptor (UpdateDocMode 3 and
         MacroExecutionMode 4 have a document follow its links without asking); the filter options of text files.
"""

import json
import sys
import time

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.sheet.SheetLinkMode import NORMAL

TEXT_FILTER = "Text - txt - csv (StarCalc)"
PATIENCE = 90


def connected(pipe):
    """The program's desktop, once it listens."""
    context = uno.getComponentContext()
    resolver = context.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", context)
    until = time.monotonic() + PATIENCE
    while True:
        try:
            remote = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return remote.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", remote)
        except NoConnectException:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


def options(**values):
    """Options of opening."""
    told = []
    for name, value in values.items():
        told.append(PropertyValue())
        told[-1].Name, told[-1].Value = name, value
    return tuple(told)


def rows_of(sheet):
    """A sheet as rows of numbers and texts; "" where there is nothing."""
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    last = cursor.RangeAddress
    area = sheet.getCellRangeByPosition(0, 0, last.EndColumn, last.EndRow)
    return [list(row) for row in area.getDataArray()]


def opened(desktop, request):
    """A table opened by its address, as a person would by "Open file"."""
    document = desktop.loadComponentFromURL(request["url"], "_blank", 0, options(
        Hidden=True, FilterName=TEXT_FILTER, FilterOptions=request["reading"]))
    if document is None:
        return None
    rows = rows_of(document.Sheets.getByIndex(0))
    document.close(True)
    return rows


def linked(document, request):
    """The first sheet, linked to a table's address."""
    sheet = document.Sheets.getByIndex(0)
    sheet.link(request["url"], "", TEXT_FILTER, request["reading"], NORMAL)
    return rows_of(sheet)


def refreshed(document):
    """The first sheet after its link was refreshed."""
    document.SheetLinks.getByIndex(0).refresh()
    return rows_of(document.Sheets.getByIndex(0))


def computed(document, request):
    """What formulas give, one below the other in a second sheet: text, number, and the error's number (0: none)."""
    if document.Sheets.Count == 1:
        document.Sheets.insertNewByName("computed", 1)
    sheet, told = document.Sheets.getByName("computed"), []
    for row, formula in enumerate(request["formulas"]):
        cell = sheet.getCellByPosition(0, row)
        cell.Formula = formula
        told.append([cell.String, cell.Value, cell.getError()])
    return told


def main():
    desktop = connected(sys.argv[1])
    document = desktop.loadComponentFromURL("private:factory/scalc", "_blank", 0, options(
        Hidden=True, UpdateDocMode=3, MacroExecutionMode=4))
    answers = {"open": lambda request: opened(desktop, request), "link": lambda request: linked(document, request),
               "refresh": lambda _: refreshed(document), "compute": lambda request: computed(document, request)}
    for line in sys.stdin:
        request = json.loads(line)
        if request["do"] == "end":
            break
        print(json.dumps(answers[request["do"]](request)), flush=True)
    document.close(True)
    desktop.terminate()


if __name__ == "__main__":
    main()
