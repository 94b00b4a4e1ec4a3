"""Where the files are that come with the service but are no code: migrations, the API document, the docs, the demo.

In an installed wheel they lie under the package, in `_shipped`; in a checkout, at its top level.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped_folder(name: str) -> Path:
    """The folder of that name.

    Raises:  FileNotFoundError, naming both places where it was looked for.
    """
    places = (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name)
    for place in places:
        if place.is_dir():
            return place
    raise FileNotFoundError(f"There is no folder {name!r}, neither at {places[0]} nor at {places[1]}.")
