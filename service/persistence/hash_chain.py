"""The chain of hashes: what makes tampering with the ledger show.

A revision's hash is SHA-256, in lower-case hexadecimal, over the UTF-8 bytes of these lines joined by line feeds:

1. the hash of the revision before (64 hexadecimal digits; 64 zeros before revision 1);
2. the canonical JSON of an object with the revision's `key_id`, `made_at`, `moves_figures`, `number`, `on_date`,
   `request_id` and `who`;
3. for each of its entries, in order, two lines: the canonical JSON of an object with its `action`, `code`, `kind` and
   `number`, and its document, the very text that is stored.

Canonical JSON never holds a raw line feed, so the lines can be read in one way only. Documents are never rebuilt from
columns and never rewritten by a migration.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from json.encoder import encode_basestring as _text
from typing import NamedTuple

from service.use_cases.canonical import canonical_json

GENESIS = "0" * 64
"""Stands where the hash of revision 0 would: a fresh ledger's."""


@dataclass(frozen=True, slots=True)
class RevisionFacts:
    """What a revision says about itself, and what its hash covers."""

    number: int
    made_at: datetime
    on_date: date
    key_id: str
    who: str
    request_id: str
    moves_figures: bool


class StoredEntry(NamedTuple):
    """An entry as stored: its document is canonical JSON text."""

    number: int
    action: str
    kind: str
    code: str
    document: str


def revision_hash(previous_hash: str, facts: RevisionFacts, entries: Iterable[tuple[int, str, str, str, str]]) -> str:
    """The hash of a revision, as the head of this module defines it; entries are `StoredEntry`, or its plain tuples."""
    lines = [previous_hash, canonical_json(facts)]
    for number, action, kind, code, document in entries:
        # The canonical JSON of a flat object of four, spelled out: its keys in order, no blanks.
        lines.append(f'{{"action":{_text(action)},"code":{_text(code)},"kind":{_text(kind)},"number":{number}}}')
        lines.append(document)
    return hashlib.sha256("\n".join(lines).encode("utf-8")).hexdigest()
