"""The files that prices are proposed from, as they come over HTTP."""

from service.rest.reading import FileKind

FILE_LIMIT = 20_000_000

PRICE_FILES = FileKind(
    ("application/octet-stream", "text/csv", "application/xml", "text/xml",
     "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    FILE_LIMIT,
    "The file itself, up to 20 MB: CSV (UTF-8, UTF-16 or Windows-1252; comma, semicolon or tab), XLSX, a UBL 2.1 "
    "Catalogue or a UBL 2.1 Invoice. What it is is told by its content.")
