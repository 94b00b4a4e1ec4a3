"""The pages' templates and files: each page is a template below the one layout, a section of the one stylesheet, and
scripts of its own.

    templates/layout.html  nav.html  <page>.html      static/style/<page>.css      static/<page>/*.js

No step builds anything: what a browser loads is what is read here. The stylesheet is the palette, the frame's section,
then those of the pages by name. static/vendor holds others' scripts as they were published, each with its licence.
Nothing here knows HTTP.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from service.web.palette import with_palette

_SERVED = (".js", ".txt")
_FRAME = "frame.css"


@dataclass(frozen=True, slots=True)
class FinishedSite:
    """Renders a page by its template's name and document; the files that pages load, by their path."""

    render: Callable[[str, Mapping[str, Any]], bytes]
    files: Mapping[str, bytes]


def make_site() -> FinishedSite:
    """All pages of the frame."""
    templates = Environment(loader=PackageLoader("service.web", "templates"), autoescape=True, trim_blocks=True,
                            lstrip_blocks=True, undefined=StrictUndefined)
    templates.filters |= {"day": day_in_words, "short_day": short_day, "figure": figure, "signed": signed}

    def render(name: str, document: Mapping[str, Any]) -> bytes:
        told = {"page": name, "signed_in": True} | dict(document)
        return templates.get_template(f"{name}.html").render(told).encode()

    return FinishedSite(render, dict(_files()))


def day_in_words(day: str) -> str:
    """A day as it is read: `Wed 25 Nov 2026`."""
    return date.fromisoformat(day).strftime("%a %-d %b %Y")


def short_day(day: str) -> str:
    """A day near the one looked at: `Wed 25 Nov`."""
    return date.fromisoformat(day).strftime("%a %-d %b")


def figure(text: str | None) -> Markup:
    """A published figure with its third and fourth decimals drawn softer; a dash where there is none."""
    if text is None:
        return Markup('<span class="none">–</span>')
    whole, point, decimals = text.partition(".")
    if len(decimals) <= 2:
        return escape(text)
    return Markup("{}<i>{}</i>").format(whole + point + decimals[:2], decimals[2:])


def signed(text: str | None) -> Markup:
    """A difference of published figures with its sign, the minus as long as the plus."""
    if text is None:
        return figure(None)
    return Markup("{}{}").format("−" if text.startswith("-") else "+", figure(text.lstrip("-")))


def _files() -> Iterator[tuple[str, bytes]]:
    static = files("service.web").joinpath("static")
    yield "style.css", with_palette(b"".join(_sections(static.joinpath("style"))))
    for folder in static.iterdir():
        if folder.is_dir():
            for file in folder.iterdir():
                if file.name.endswith(_SERVED):
                    yield f"{folder.name}/{file.name}", file.read_bytes()


def _sections(folder: Traversable) -> Iterator[bytes]:
    names = sorted((file.name for file in folder.iterdir() if file.name.endswith(".css")),
                   key=lambda name: (name != _FRAME, name))
    return (folder.joinpath(name).read_bytes() for name in names)
