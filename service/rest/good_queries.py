"""Queries that were good before: tills ask the same thing all day, and what it comes to is a function of its text."""

from typing import TypeVar

T = TypeVar("T")
MOST_REMEMBERED, LONGEST_REMEMBERED = 256, 64


def remember(queries: dict[bytes, T], query: bytes, loaded: T) -> None:
    """Keep what a query came to. Long ones (cursors, which seldom come twice) are not kept; too many start anew."""
    if len(query) <= LONGEST_REMEMBERED:
        if len(queries) >= MOST_REMEMBERED:
            queries.clear()
        queries[query] = loaded
