"""From codes to numbers, inside a write: what is referred to must exist, what is new gets the next number.

The ledger's lock is held, so the next number is simply one more than the greatest.
"""

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, Table, func, select

from service.persistence.records.shelves import IDENTITIES
from service.persistence.row_storing import store_columns

_BATCH = 500
Numbers = Mapping[str, Mapping[str, int]]
"""By identity table: the number of a code."""

_TABLES = {table.name: table for table in IDENTITIES}


class UnknownIdentity(LookupError):
    """A record refers to something that was never recorded: the use case should have refused it."""


class CodesNamed:
    """Collects the codes that rows name, before their numbers are known."""

    def __init__(self) -> None:
        self.named: dict[str, set[str]] = {table.name: set() for table in IDENTITIES}
        self.brought: dict[str, dict[str, None]] = {table.name: {} for table in IDENTITIES}

    def of(self, identity: str, code: str | None) -> int | None:
        if code is not None:
            self.named[identity].add(code)
        return None

    def every(self, identity: str, codes: Sequence[str]) -> Sequence[int]:
        self.named[identity].update(codes)
        return [0] * len(codes)

    def made(self, identity: str, code: str) -> int:
        self.named[identity].add(code)
        self.brought[identity][code] = None
        return 0


class CodesNumbered:
    """The numbers of codes; those that the records bring into being are recorded with the next numbers."""

    def __init__(self, connection: Connection, codes: CodesNamed, known: Numbers) -> None:
        self._numbers = {
            identity: _numbered(connection, _TABLES[identity], named, codes.brought[identity],
                                known.get(identity, {}))
            for identity, named in codes.named.items() if named
        }

    def of(self, identity: str, code: str | None) -> int | None:
        return None if code is None else self.made(identity, code)

    def made(self, identity: str, code: str) -> int:
        try:
            return self._numbers[identity][code]
        except KeyError:
            raise UnknownIdentity(f"There is no {identity} {code!r}.") from None

    def every(self, identity: str, codes: Sequence[str]) -> Sequence[int]:
        numbers = self._numbers[identity]
        try:
            return [numbers[code] for code in codes]
        except KeyError as error:
            raise UnknownIdentity(f"There is no {identity} {error.args[0]!r}.") from None


def _numbered(connection: Connection, table: Table, named: set[str], brought: dict[str, None],
              known: Mapping[str, int]) -> dict[str, int]:
    numbers = {code: known[code] for code in named if code in known}
    if len(numbers) < len(named):
        numbers |= _recorded(connection, table, sorted(named - numbers.keys()))
    new = [code for code in brought if code not in numbers]
    if new:
        greatest = connection.scalar(select(func.max(table.c.id))) or 0
        fresh = dict(zip(new, range(greatest + 1, greatest + 1 + len(new)), strict=True))
        store_columns(connection, table, {"id": list(fresh.values()), "code": list(fresh)})
        numbers |= fresh
    return numbers


def _recorded(connection: Connection, table: Table, codes: list[str]) -> dict[str, int]:
    asked = select(table.c.code, table.c.id)
    if len(codes) <= _BATCH:
        asked = asked.where(table.c.code.in_(codes))
    return dict(connection.execute(asked).all())
