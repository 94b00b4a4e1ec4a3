"""Canaries: texts that must be nowhere, looked for in every form that a log, a file or an answer could hold them in.

Forms: as it stands, percent-encoded (all of it, and as addresses are), base64 and base64url at each of three offsets,
hexadecimal, escaped as JSON, and any of these within gzip.
"""

import gzip
import json
import re
import zlib
from base64 import b64encode
from collections.abc import Iterator, Mapping
from urllib.parse import quote

_GZIP = re.compile(rb"\x1f\x8b\x08")


def forms(secret: str) -> Mapping[str, bytes]:
    """The secret in every form, by its name."""
    plain = secret.encode()
    told = {"plain": plain, "hexadecimal": plain.hex().encode(), "JSON": json.dumps(secret)[1:-1].encode(),
            "escaped": "".join(f"\\u{ord(each):04x}" for each in secret).encode(),
            "percent": "".join(f"%{each:02X}" for each in plain).encode(), "address": quote(secret, safe="").encode()}
    for offset in range(3):
        coded = b64encode(b"\0" * offset + plain)
        whole = coded[4 if offset else 0:-4]  # what stands on neither the bytes before it nor those after it
        told[f"base64 at {offset}"] = whole
        told[f"base64url at {offset}"] = whole.translate(bytes.maketrans(b"+/", b"-_"))
    return told


def found_in(data: bytes, canaries: Mapping[str, str]) -> Iterator[str]:
    """Which canaries are in the data, and in which form; what was packed is unpacked."""
    unpacked = [data, *_unpacked(data)]
    for name, secret in canaries.items():
        for form, looked_for in forms(secret).items():
            if any(looked_for.lower() in each.lower() if form in ("percent", "hexadecimal", "escaped")
                   else looked_for in each for each in unpacked):
                yield f"{name} ({form})"


def _unpacked(data: bytes) -> Iterator[bytes]:
    for start in _GZIP.finditer(data):
        try:
            yield zlib.decompressobj(31).decompress(data[start.start():], 10_000_000)
        except zlib.error:
            continue


def packed(secret: str) -> bytes:
    """The secret within gzip, for a test of the scan."""
    return gzip.compress(b"before " + secret.encode() + b" after")
