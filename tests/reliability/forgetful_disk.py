"""A disk that forgets what was not synced: `python -m tests.reliability.forgetful_disk FOLDER`, a FUSE file system.

All is in memory. Each file has what is on the platter (what it was at its last fsync) and the writes since. Writing
`cut` to the file `.power` cuts the power: what was not synced is gone. `torn SEED` does the same, but of the writes
since the last sync a random half has reached the platter, in no order, some of these only in part, by sectors of 512
bytes: what a disk with a cache of its own may leave. Making, renaming and removing files is taken to be kept at once,
as a journalling file system does in effect; the index of the write-ahead log (-shm), which nobody syncs, goes.

Single-threaded: an operation is done before the next begins.
"""

import errno
import random
import stat
import sys
from dataclasses import dataclass, field
from typing import Any

import mfusepy

SECTOR = 512
POWER = "/.power"


@dataclass
class Platter:
    """One file: its bytes as the system sees them, as they are on the platter, and the writes in between."""

    now: bytearray = field(default_factory=bytearray)
    synced: bytes = b""
    since: list[tuple[int, bytes]] = field(default_factory=list)

    def write(self, offset: int, data: bytes) -> None:
        _put(self.now, offset, data)
        self.since.append((offset, data))

    def truncate(self, length: int) -> None:
        del self.now[length:]
        self.now.extend(bytes(length - len(self.now)))

    def sync(self) -> None:
        """What is written is on the platter now."""
        if self.since or len(self.now) != len(self.synced):
            self.synced = bytes(self.now)
        self.since.clear()

    def cut(self, torn: random.Random | None) -> None:
        """The power is gone, and back."""
        left = bytearray(self.synced)
        for offset, data in torn.sample(self.since, len(self.since) // 2) if torn else ():
            sectors = range(0, len(data), SECTOR)
            whole = torn is None or torn.random() < 0.5
            for place in sectors if whole or torn is None else torn.sample(sectors, len(sectors) // 2):
                _put(left, offset + place, data[place:place + SECTOR])
        self.now, self.synced = left, bytes(left)
        self.since.clear()


class ForgetfulDisk(mfusepy.Operations):
    """The operations that SQLite needs, on one folder without sub-folders."""

    use_ns = True

    def __init__(self) -> None:
        self.files: dict[str, Platter] = {}

    def getattr(self, path: str, fh: int | None = None) -> dict[str, Any]:
        if path == "/":
            return {"st_mode": stat.S_IFDIR | 0o755, "st_nlink": 2}
        held = b"" if path == POWER else self._file(path).now
        return {"st_mode": stat.S_IFREG | 0o600, "st_nlink": 1, "st_size": len(held), "st_blksize": 4096,
                "st_blocks": -(-len(held) // SECTOR)}

    def readdir(self, path: str, fh: int) -> list[str]:
        return [".", "..", *(name[1:] for name in self.files)]

    def create(self, path: str, mode: int, fi: Any = None) -> int:
        self.files.setdefault(path, Platter())
        return 0

    def open(self, path: str, flags: int) -> int:
        if path != POWER:
            self._file(path)
        return 0

    def read(self, path: str, size: int, offset: int, fh: int) -> bytes:
        return bytes(self._file(path).now[offset:offset + size])

    def write(self, path: str, data: bytes, offset: int, fh: int) -> int:
        if path == POWER:
            self._cut(data.decode())
        else:
            self._file(path).write(offset, data)
        return len(data)

    def truncate(self, path: str, length: int, fh: int | None = None) -> int:
        if path != POWER:
            self._file(path).truncate(length)
        return 0

    def fsync(self, path: str, datasync: int, fh: int) -> int:
        self._file(path).sync()
        return 0

    def unlink(self, path: str) -> int:
        self._file(path)
        del self.files[path]
        return 0

    def rename(self, old: str, new: str) -> int:
        self.files[new] = self._file(old)
        del self.files[old]
        return 0

    def chmod(self, path: str, mode: int) -> int:
        return 0

    def chown(self, path: str, uid: int, gid: int) -> int:
        return 0

    def utimens(self, path: str, times: Any = None) -> int:
        return 0

    def _cut(self, how: str) -> None:
        torn = random.Random(how) if how.startswith("torn") else None
        for name in [name for name in self.files if name.endswith("-shm")]:
            del self.files[name]
        for held in self.files.values():
            held.cut(torn)

    def _file(self, path: str) -> Platter:
        if path not in self.files:
            raise mfusepy.FuseOSError(errno.ENOENT)
        return self.files[path]


def _put(held: bytearray, offset: int, data: bytes) -> None:
    held.extend(bytes(max(0, offset - len(held))))
    held[offset:offset + len(data)] = data


if __name__ == "__main__":
    mfusepy.FUSE(ForgetfulDisk(), sys.argv[1], foreground=True, nothreads=True, attr_timeout=0, entry_timeout=0,
                 negative_timeout=0, fsname="forgetful", default_permissions=False)
