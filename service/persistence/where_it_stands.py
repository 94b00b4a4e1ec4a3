"""Does what the service is told to do fit where its database stands: seen at the start, before anybody depends on it.

Source:  https://www.sqlite.org/wal.html: all processes that use a file in write-ahead log must be on one host, since
         they share memory, and the log does not work over a network's file system. PostgreSQL documentation, section
         20.3, for which connections are kept for whom.
"""

from pathlib import Path
from typing import NamedTuple

from service.persistence.engines import Engines, sqlite_file

MOUNTS = Path("/proc/self/mountinfo")
OVER_A_NETWORK = frozenset((
    "9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "fuse.ceph", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs",
    "fuse.sshfs", "gfs2", "glusterfs", "gpfs", "lustre", "ncpfs", "nfs", "nfs4", "ocfs2", "orangefs", "smb3", "smbfs"))
_FREE = """
SELECT current_setting('max_connections')::int - current_setting('superuser_reserved_connections')::int
       - coalesce(current_setting('reserved_connections', true), '0')::int, r.rolconnlimit, d.datconnlimit
FROM pg_roles r, pg_database d WHERE r.rolname = current_user AND d.datname = current_database()
"""


class Place(NamedTuple):
    """Where a database stands.

    Shape:   `network` is the kind of file system that a SQLite file lies on, where that reaches over a network;
             `connections` how many a PostgreSQL server lets this user have to this database; else both are None.
    """

    several_processes: bool
    network: str | None
    connections: int | None


def place_of_database(engines: Engines) -> Place:
    """Where it stands.

    Raises:  LedgerUnavailable.
    """
    if engines.is_sqlite:
        return Place(engines.safe_for_several_processes, _network_of(sqlite_file(engines.url).resolve()), None)
    return Place(True, None, min(limit for limit in engines.quick.one(_FREE, ()) if limit >= 0))


def _network_of(path: Path) -> str | None:
    try:
        mounts = MOUNTS.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return None
    kind = _kind_of(path, mounts)
    return kind if kind in OVER_A_NETWORK else None


def _kind_of(path: Path, mounts: list[str]) -> str:
    """Of the deepest mount that holds a path; of several at one place, the last."""
    kind, deepest = "", -1
    for line in mounts:
        before, _, after = line.partition(" - ")
        fields, words = before.split(" "), after.split(" ")
        point = Path(fields[4].replace("\\040", " ")) if len(fields) > 4 else None
        if point is not None and path.is_relative_to(point) and len(point.parts) >= deepest:
            kind, deepest = words[0], len(point.parts)
    return kind
