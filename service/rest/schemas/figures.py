"""A published figure on the wire, as the schemas of answers have it."""

from service.rest.fields.exact_field import says
from service.rest.fields.numbers import Figure


def figure(text: str, **options: str) -> Figure:
    """A figure that is null where it is not known; `text` is what the API document says of it."""
    return Figure(allow_none=True, metadata=says(text), **options)
