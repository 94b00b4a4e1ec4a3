"""Tables that want more than they seem to, each by its name, with the words of its refusal."""

from collections.abc import Callable, Mapping

ROWS = 100_000


def table(header: str, row: Callable[[int], str]) -> bytes:
    """A table of as many rows as are read."""
    return "\n".join([header, *map(row, range(ROWS)), ""]).encode()


HOSTILE_TABLES: Mapping[str, tuple[Callable[[], bytes], str]] = {
    "19 million blank lines": (lambda: b"Code;Price\n" + b"\n" * 19_000_000, "100,000 rows"),
    "rows of delimiters": (lambda: b"Code;Price\n" + b";;;;;;;;;;\n" * 1_700_000, "100,000 rows"),
    "rows of quotes": (lambda: b"Code;Price\n" + b'"";""\n' * 3_000_000, "100,000 rows"),
    "cells of quotes": (lambda: b"Code;Price\n" + b'"";' * 6_000_000, "characters"),
    "quotes in quotes": (lambda: b'Code;Price\n1-1;"' + b'""' * 9_000_000, "characters|quote"),
    "16 384 columns": (lambda: b"Code;Price" + b";x" * 16_382 + b"\n1;2\n", "256"),
    "16 384 columns in a row": (lambda: b"Code;Price\n1;2\n3;4" + b";x" * 16_382 + b"\n", "256"),
    "a line of 19 MB, astral": (lambda: b"Code;Price\n1;2\n" + "\U0001f969".encode() + b"x" * 19_000_000, "characters"),
    "a cell of 1 MB": (lambda: b"Code;Price\n1;2\n" + b"x" * 1_000_000 + b";3\n", "4,096"),
    "as many units as rows": (lambda: table("Code;Price;Unit", lambda n: f"{n};1;{'per ' * 15}x{n}"), "different"),
    "as many packs as rows": (
        lambda: table("Code;Price;Pack", lambda n: f"{n};1;{n} x {n} x {n} kg bags of {n}"), "different"),
    "as many days as rows": (lambda: table("Code;Price;Valid from", lambda n: f"{n};1;{n} Dezember {n}"), "different"),
    "as many currencies as rows": (lambda: table("Code;Price;Currency", lambda n: f"{n};1;X{n}"), "different"),
    "as many quantities as rows": (lambda: table("Code;Price;From quantity", lambda n: f"{n};1;{n}"), "different"),
    "no header in 20 MB": (lambda: b"11;22;33\n" * 2_200_000, "heads a column"),
    "preamble of long cells": (
        lambda: (b";".join([b"per " * 1000] * 250) + b"\n") * 18 + b"Code;Prize\n1;2\n", "heads a column"),
    "UTF-16 cut in two": (lambda: b"\xff\xfe" + "Code;Price\n1;2\n".encode("utf-16-le") * 600_000 + b"1", "UTF-16"),
    "UTF-16 with NULs": (lambda: b"\xff\xfe" + "Code;Price\n1;\0\n".encode("utf-16-le") * 600_000, "not text"),
    "UTF-8 broken at its end": (lambda: "Code;Price\n1;ü\n".encode() * 1_100_000 + b"\xff", "UTF-8"),
    "a document of another program": (lambda: b"%PDF-1.7\n" + b"x" * 1000, "PDF"),
    "an image": (lambda: b"\x89PNG\r\n\x1a\n" + bytes(1000), "image"),
    "a web page": (lambda: b"<!DOCTYPE html><html><table><tr><td>Price</td></tr></table></html>", "web page"),
    "an archive": (lambda: b"\x1f\x8b\x08" + bytes(1000), "archive"),
}
