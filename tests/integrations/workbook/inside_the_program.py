"""Runs inside the spreadsheet program's own Python: opens a workbook, computes all of it anew, changes cells, reads.

One request a line on standard input, as JSON; one answer a line on standard output. Started by `live_program.py`, as
`python3 inside_the_program.py PIPE`. It may import nothing but the program's bridge and the standard library.

Source:  the LibreOffice API: XCalculatable.calculateAll recalculates every formula cell, whether it seems in need or
         not; com.sun.star.sheet.FormulaResult for results that are errors.
"""

import json
import sys
import time

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException

ERROR_RESULTS = 4
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


def option(name, value):
    """One option of opening or saving."""
    told = PropertyValue()
    told.Name, told.Value = name, value
    return told


def sheets_of(document):
    """Every sheet as rows of values; an error is {"error": its text}."""
    told = {}
    for sheet in document.Sheets:
        cursor = sheet.createCursor()
        cursor.gotoEndOfUsedArea(False)
        last = cursor.RangeAddress
        area = sheet.getCellRangeByPosition(0, 0, last.EndColumn, last.EndRow)
        rows = [list(row) for row in area.getDataArray()]
        for span in area.queryFormulaCells(ERROR_RESULTS).RangeAddresses:
            for row in range(span.StartRow, span.EndRow + 1):
                for column in range(span.StartColumn, span.EndColumn + 1):
                    rows[row][column] = {"error": sheet.getCellByPosition(column, row).String}
        told[sheet.Name] = rows
    return told


def changed(document, request):
    """Put numbers into cells (None empties one), compute all anew."""
    for sheet, address, value in request["cells"]:
        cell = document.Sheets.getByName(sheet).getCellRangeByName(address).getCellByPosition(0, 0)
        if value is None:
            cell.String = ""
        elif isinstance(value, str):
            cell.String = value
        else:
            cell.Value = value
    document.calculateAll()
    return sheets_of(document)


def main():
    desktop, document = connected(sys.argv[1]), None
    for line in sys.stdin:
        request = json.loads(line)
        if request["do"] == "open":
            document = desktop.loadComponentFromURL(request["url"], "_blank", 0, (option("Hidden", True),))
            document.calculateAll()
            answer = sheets_of(document)
        elif request["do"] == "change":
            answer = changed(document, request)
        elif request["do"] == "close":
            document.close(True)
            answer = {}
        else:
            desktop.terminate()
            return
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
