"""What all tables share: the metadata, the names of constraints, and the columns that come again and again.

Constraints have the same names on both engines, so that the same violation reads the same. Tables are STRICT on
SQLite: a column holds what it says. Identities have small numbers that are given under the ledger's lock.
"""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.schema import SchemaItem

from service.persistence.column_types import LARGEST_MILLIONTHS, Day, Flag, Millionths

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

metadata = MetaData(naming_convention=NAMES)

Number = BigInteger().with_variant(Integer(), "sqlite")
"""Revisions, entries and positions: 64 bits on both engines."""


def amount(name: str, least: int | None = 0, nullable: bool = False) -> list[SchemaItem]:
    """A column of millionths and the check that bounds it; `least` is in millionths, None allows below zero."""
    lower = -LARGEST_MILLIONTHS if least is None else least
    check = CheckConstraint(f"{name} BETWEEN {lower} AND {LARGEST_MILLIONTHS}", name=name)
    return [Column(name, Millionths(), nullable=nullable), check]


def flag(name: str) -> list[SchemaItem]:
    """A yes or no."""
    return [Column(name, Flag(), nullable=False), CheckConstraint(f"{name} IN (0, 1)", name=name)]


def choice(name: str, words: tuple[str, ...]) -> list[SchemaItem]:
    """A plain text column that holds one of some words: easier to change than a native enum."""
    listed = ", ".join(f"'{word}'" for word in words)
    return [Column(name, Text(), nullable=False), CheckConstraint(f"{name} IN ({listed})", name=name)]


def identity_table(name: str, longest: int = 64) -> Table:
    """The identity of a kind of record: what references point to, whatever becomes of its versions."""
    return Table(
        name, metadata,
        Column("id", Integer(), nullable=False, autoincrement=False),
        Column("code", Text(), nullable=False),
        PrimaryKeyConstraint("id"),
        UniqueConstraint("code"),
        CheckConstraint(f"length(code) BETWEEN 1 AND {longest}", name="code"),
        sqlite_strict=True,
    )


def made_by_entry(prefix: str = "made", nullable: bool = False) -> list[SchemaItem]:
    """The entry of the ledger that did it."""
    revision, entry = f"{prefix}_revision", f"{prefix}_entry"
    return [
        Column(revision, Number, nullable=nullable),
        Column(entry, Number, nullable=nullable),
        ForeignKeyConstraint([revision, entry], ["entry.revision", "entry.number"]),
    ]


def reference(column: str, table: str, nullable: bool = False) -> Column[int]:
    """A reference to an identity."""
    return Column(column, Integer(), ForeignKey(f"{table}.id"), nullable=nullable)


def version_table(identity: str, *items: SchemaItem) -> Table:
    """The versions of a kind of record. Of those not replaced, at most one starts on a day, or holds from the start."""
    name, identity_id = f"{identity}_version", f"{identity}_id"
    table = Table(
        name, metadata,
        *made_by_entry(),
        reference(identity_id, identity),
        Column("replaced_revision", Number, ForeignKey("revision.number")),
        Column("effective_from", Day()),
        *flag("retired"),
        *items,
        PrimaryKeyConstraint("made_revision", "made_entry"),
        CheckConstraint("replaced_revision >= made_revision", name="replaced_after_made"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
    columns = table.c
    Index(f"ix_{name}_{identity_id}", columns[identity_id])
    for suffix, condition, keys in (
        ("start", "replaced_revision IS NULL AND effective_from IS NOT NULL", [identity_id, "effective_from"]),
        ("beginning", "replaced_revision IS NULL AND effective_from IS NULL", [identity_id]),
    ):
        where = text(condition)
        Index(f"uq_{name}_{suffix}", *(columns[key] for key in keys), unique=True,
              sqlite_where=where, postgresql_where=where)
    return table


def part_table(name: str, owner: str, *items: SchemaItem) -> Table:
    """The outputs or lines of a version, or of a test, in their order."""
    return Table(
        name, metadata,
        Column("made_revision", Number, nullable=False),
        Column("made_entry", Number, nullable=False),
        Column("position", Integer(), nullable=False, autoincrement=False),
        *items,
        PrimaryKeyConstraint("made_revision", "made_entry", "position"),
        ForeignKeyConstraint(["made_revision", "made_entry"], [f"{owner}.made_revision", f"{owner}.made_entry"]),
        CheckConstraint("position >= 1", name="position"),
        sqlite_strict=True,
        sqlite_with_rowid=False,
    )
