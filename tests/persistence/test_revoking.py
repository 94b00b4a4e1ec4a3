"""Revoking a key: once, whoever else does so at the same moment; on SQLite and on PostgreSQL."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from service.domain.history import Mark
from service.use_cases.keys import create_key, revoke_key
from tests.persistence.writing import CHEF


def test_a_key_that_many_revoke_at_once_is_revoked_by_one_revision(ledger):
    key = create_key(ledger, "till", ["costs:read"], None, CHEF).document["id"]
    together = Barrier(6)

    def revoke(_number):
        together.wait(30)
        revoke_key(ledger, key, CHEF)

    with ThreadPoolExecutor(6) as threads:
        list(threads.map(revoke, range(6)))
    entries = ledger.entries(Mark(0, 0), 20, ledger.head().revision)
    assert [entry.action for entry in entries] == ["create_key", "revoke_key"]
    assert [held.revoked_at is not None for held in ledger.every_key()] == [True]
