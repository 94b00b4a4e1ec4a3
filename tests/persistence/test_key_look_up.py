"""A key is looked up by its hash, and what the database gives is held to it once more."""

from typing import Any

import pytest

from service.persistence.engines import Engines
from service.persistence.ledger import SqlLedger
from service.use_cases.asking_key import asking_key
from service.use_cases.keys import FORM, create_key, hash_of
from service.use_cases.ports import Asker

ASKER = Asker("cli", "test", "test")


def a_key(ledger: SqlLedger) -> str:
    return str(create_key(ledger, "till", ["costs:read"], None, ASKER).document["key"])


def test_a_row_of_another_key_opens_nothing(ledger: SqlLedger, engines: Engines, monkeypatch: pytest.MonkeyPatch
                                            ) -> None:
    """As from an index that takes two texts for one (a collation, damage)."""
    mine, other = a_key(ledger), a_key(ledger)
    one = engines.quick.one
    monkeypatch.setattr(engines.quick, "one", lambda statement, _asked: one(statement, (hash_of(other),)))
    head, found = ledger.head_and_key(hash_of(mine))
    assert (head.revision, found) == (2, None)
    assert ledger.head_and_key(hash_of(other))[1] is not None


def test_every_key_that_is_made_has_the_form(ledger: SqlLedger) -> None:
    assert all(FORM.fullmatch(a_key(ledger)) for _ in range(20))


@pytest.mark.parametrize("wrong", ["", "seam", "seam_12345678_", "a.b.c", "SEAM_12345678_" + "a" * 43,
                                   "seam_1234567g_" + "a" * 43, "seam_12345678_" + "a" * 65,
                                   "seam_12345678_" + "é" * 43, "seam_12345678_" + "a" * 43 + "\n"])
def test_what_has_not_the_form_is_not_even_asked_for(ledger: SqlLedger, clock: Any, wrong: str,
                                                     monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(_hash: str) -> None:
        raise AssertionError("the database was asked")

    monkeypatch.setattr(ledger, "head_and_key", asked)
    assert asking_key(ledger, wrong, clock(), 10) is None
    with pytest.raises(AssertionError, match="was asked"):
        asking_key(ledger, "seam_12345678_" + "a" * 43, clock(), 10)
