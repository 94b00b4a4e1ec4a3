"""A disk of a few megabytes, in memory, that can be filled and emptied: where it may be mounted."""

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class NoSmallDisk(Exception):
    """Why none can be mounted."""


class SmallDisk:
    """The disk at `path`."""

    def __init__(self, path: Path) -> None:
        self.path, self._ballast = path, path / "ballast"

    def free(self) -> int:
        held = os.statvfs(self.path)
        return held.f_bavail * held.f_frsize

    def fill(self, leaving: int) -> None:
        """Take all room but so many bytes."""
        with self._ballast.open("ab") as ballast:
            room = self.free() - leaving
            while room > 0:
                ballast.write(b"\0" * min(room, 65_536))
                ballast.flush()
                room = self.free() - leaving

    def empty(self) -> None:
        """Give the room back."""
        self._ballast.unlink(missing_ok=True)

    def read_only(self, switched: bool = True) -> None:
        _call("mount", "-o", f"remount,{'ro' if switched else 'rw'}", str(self.path))


@contextmanager
def small_disk(folder: Path, megabytes: int = 8) -> Iterator[SmallDisk]:
    """Mount one, and take it away.

    Raises:  NoSmallDisk.
    """
    path = folder / "small-disk"
    path.mkdir()
    _call("mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=0700", "tmpfs", str(path))
    try:
        yield SmallDisk(path)
    finally:
        _call("umount", "-l", str(path))


def _call(*command: str) -> None:
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=30)
    except OSError as error:
        raise NoSmallDisk(str(error)) from error
    if done.returncode:
        raise NoSmallDisk(f"{' '.join(command)}: {done.stderr.strip()}")
