"""A page as finished bytes: its HTML from one template, its stylesheet and its scripts as they stand in its folder.

    pages/<name>/page.html  page.css  *.js

No step builds anything: what a browser loads is what is read here. A page holds nobody's figures; its scripts ask the
API for them. The colours are those of all pages (static/palette.css). Nothing here knows HTTP.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from service.web.palette import with_palette


@dataclass(frozen=True, slots=True)
class FinishedPage:
    """HTML in UTF-8, and the files that it loads by their names."""

    html: bytes
    files: Mapping[str, bytes]


def make_page(name: str) -> FinishedPage:
    """The page of that name."""
    loader = ChoiceLoader([PackageLoader("service.web", folder) for folder in ("pages", "templates")])
    templates = Environment(loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True,
                            undefined=StrictUndefined)
    folder = files("service.web").joinpath("pages", name)
    scripts = {file.name: file.read_bytes() for file in folder.iterdir() if file.name.endswith(".js")}
    html = templates.get_template(f"{name}/page.html").render(scripts=sorted(scripts))
    return FinishedPage(html.encode(), scripts | {"page.css": with_palette(folder.joinpath("page.css").read_bytes())})
