"""The tables of sales, as they come over HTTP, and as they go out."""

from service.rest.csv_answers import Column
from service.rest.reading import FileKind
from service.use_cases.sales_files import MOST_LINES

FILE_LIMIT = 4_000_000

SALES_FILES = FileKind(
    ("text/csv", "text/tab-separated-values"),
    FILE_LIMIT,
    "JSON; or the table itself, up to 4 MB: a header of `business_date`, `pos_code`, `quantity`, `net_takings` and "
    f"`kind` in any order, and at most {MOST_LINES:,} rows. Comma, semicolon or tab, told by the header; the decimal "
    "mark is a point, or a comma where the delimiter is a semicolon, unless `decimal` says which. `kind` may be left "
    "out, and `business_date` where the path says it.")

SALES_COLUMNS = tuple(Column(name, free_text=name == "pos_code") for name in (
    "business_date", "pos_code", "quantity", "net_takings", "kind"))
"""As they are read. Columns are only ever appended."""
