"""Run a command in a folder as if that were a container's root: by name spaces and chroot, without an engine.

    unshare --mount --pid --fork --kill-child python -m tests.docker.contained '{"root": ...}'

Of the JSON: `root` the folder; `command`, `environment`, `folder` to work in; `user` and `group` as numbers; `binds`
from folders outside to folders inside; `read_only` has the root be so, with a small /tmp in memory from which nothing
can be run, no capability at all, and no way to a privilege.

Source: unshare(1), mount_namespaces(7), capabilities(7); PR_CAPBSET_DROP, PR_SET_NO_NEW_PRIVS in prctl(2).
"""

import ctypes
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

DROP_FROM_BOUNDING_SET, NO_NEW_PRIVILEGES = 24, 38
DEVICES = ("null", "zero", "full", "random", "urandom")


def begin(told: Mapping[str, Any]) -> None:
    """Become the command."""
    root = Path(told["root"])
    _mount("--make-rprivate", "/")
    _mount("--bind", root, root)
    for outside, inside in told.get("binds", {}).items():
        _mount("--bind", outside, _folder(root, inside))
    if told.get("read_only"):
        for inside in ("proc", "dev", "tmp"):
            _folder(root, inside)
        _mount("-o", "remount,bind,ro", root)
    _mount("-t", "proc", "-o", "nosuid,nodev,noexec", "proc", _folder(root, "proc"))
    _mount("-t", "tmpfs", "-o", "size=64m,mode=1777,noexec,nosuid,nodev", "tmpfs", _folder(root, "tmp"))
    _devices(root)
    os.chroot(root)
    os.chdir(told.get("folder", "/"))
    if told.get("read_only"):
        _give_up_every_privilege()
    os.setgroups([])
    os.setgid(told.get("group", 0))
    os.setuid(told.get("user", 0))
    os.umask(0o022)
    os.execvpe(told["command"][0], told["command"], told["environment"])


def _folder(root: Path, inside: str) -> Path:
    folder = root / inside.lstrip("/")
    if not folder.is_dir():
        folder.mkdir(parents=True)
    return folder


def _devices(root: Path) -> None:
    within = _folder(root, "dev")
    _mount("-t", "tmpfs", "-o", "size=64k,mode=0755,nosuid,noexec", "tmpfs", within)
    for name in DEVICES:
        (within / name).touch()
        _mount("--bind", f"/dev/{name}", within / name)
    (within / "shm").mkdir()
    _mount("-t", "tmpfs", "-o", "size=64m,mode=1777,nosuid,nodev,noexec", "tmpfs", within / "shm")


def _give_up_every_privilege() -> None:
    library = ctypes.CDLL(None, use_errno=True)
    last = int(Path("/proc/sys/kernel/cap_last_cap").read_text())
    for capability in range(last + 1):
        if library.prctl(DROP_FROM_BOUNDING_SET, capability, 0, 0, 0) != 0:
            raise OSError(ctypes.get_errno(), f"capability {capability} stays")
    if library.prctl(NO_NEW_PRIVILEGES, 1, 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "no_new_privs")


def _mount(*words: str | Path) -> None:
    subprocess.run(["mount", *map(str, words)], check=True)


if __name__ == "__main__":
    begin(json.loads(sys.argv[1]))
