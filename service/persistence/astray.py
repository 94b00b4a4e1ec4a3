"""What `verify` finds beside the chain: a row, or an entry, that does not say what the other says."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from service.use_cases.canonical import canonical_json


@dataclass(frozen=True, slots=True)
class Astray:
    """A row, or an entry, that does not say what the other says."""

    revision: int
    kind: str
    code: str
    detail: str


def compared(revision: int, kind: str, code: str, document: str | None, said: Mapping[str, Any]) -> Iterator[Astray]:
    """Hold what a row says to the document of its entry: whatever both carry."""
    if document is None:
        yield Astray(revision, kind, code, "no entry made its row")
        return
    recorded, held = json.loads(document), json.loads(canonical_json(said))
    for name in recorded.keys() & held.keys():
        if recorded[name] != held[name]:
            yield Astray(revision, kind, code, f"its row says {name} {json.dumps(held[name])}, its entry "
                         f"{json.dumps(recorded[name])}")
