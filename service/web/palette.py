"""The colours of all pages, light and dark, put before each page's own rules."""

from importlib.resources import files


def with_palette(stylesheet: bytes) -> bytes:
    """A stylesheet with the colours that its rules name."""
    return files("service.web").joinpath("static", "palette.css").read_bytes() + stylesheet
