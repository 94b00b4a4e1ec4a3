"""Every part of the breaking programme, in the order of the table in DEVELOPERS.md."""

from tests.reliability.programme import Programme

PROGRAMMES: tuple[Programme, ...] = ()
