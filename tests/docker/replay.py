"""The image made without an engine: the Dockerfile's steps carried out, as they are written, in clean root folders.

What stands for the base is Debian trixie of the same Python, unpacked by mmdebstrap, with a Python and a pip in
/usr/local as the base has them (libstdc++6 comes with the base's apt, and numpy needs it). The packages that pip would
fetch are fetched before, by this machine's pip and as it is set up, into a folder that the steps install from; their
hashes are checked by the steps. Both are kept in the user's cache folder.

Source: the Dockerfile reference, for what each instruction does. What a registry's image and an engine add (layers,
digests, seccomp) is not tried here.
"""

import fcntl
import hashlib
import json
import os
import platform
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

from tests.docker.dockerfile import TOP, Stage, pairs, stages

PACKAGES = ("python3,python3-venv,dash,bash,coreutils,findutils,sed,grep,libc-bin,base-files,base-passwd,"
            "ca-certificates,libstdc++6")
BASE_ENVIRONMENT = {"PATH": "/usr/local/bin:/usr/local/sbin:/usr/sbin:/usr/bin:/sbin:/bin"}
PYTHON = "3.13"
OFFLINE = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "/wheels", "PIP_CONFIG_FILE": "/dev/null"}


@dataclass
class Image:
    """A stage that was carried out: its root, and what it says of how to run it."""

    root: Path
    environment: dict[str, str]
    folder: str = "/"
    user: tuple[int, int] = (0, 0)
    labels: dict[str, str] = field(default_factory=dict)
    stage: Stage = field(default_factory=lambda: Stage("", ""))


def why_not() -> str:
    """Why steps cannot be replayed here, or nothing."""
    missing = [name for name in ("mmdebstrap", "unshare", "mount") if shutil.which(name) is None]
    if missing or os.geteuid() != 0:
        return f"needs root and {', '.join(missing) or 'nothing else'}"
    tried = subprocess.run(["unshare", "--mount", "--pid", "--fork", "true"], check=False, capture_output=True)
    return "" if tried.returncode == 0 else "name spaces cannot be made here"


needs_a_clean_root = pytest.mark.skipif(bool(why_not()) and not os.environ.get("CI"), reason=why_not())


def contained(image: Image, command: Sequence[str], *, read_only: bool = False, binds: Mapping[str, str] | None = None,
              more: Mapping[str, str] | None = None) -> list[str]:
    """The command that runs `command` in an image, as the user and in the folder that it names."""
    told = {"root": str(image.root), "command": list(command), "environment": {**image.environment, **(more or {})},
            "folder": image.folder, "user": image.user[0], "group": image.user[1], "binds": dict(binds or {}),
            "read_only": read_only}
    return ["unshare", "--mount", "--pid", "--fork", "--kill-child", sys.executable, "-m", "tests.docker.contained",
            json.dumps(told)]


def build(folder: Path, built: list[Stage] | None = None) -> Image:
    """Carry out every stage; the image of the last."""
    wheels, images = _wheels(), {}
    folder.mkdir(parents=True, exist_ok=True)
    for stage in built or stages():
        root = folder / stage.name
        origin = images.get(stage.base)
        subprocess.run(["cp", "-a", "--reflink=auto", str(origin.root if origin else _clean_root()), str(root)],
                       check=True)
        image = Image(root, dict(origin.environment if origin else BASE_ENVIRONMENT), stage=stage)
        for word, value in stage.steps:
            _step(image, word, value, images, wheels)
        images[stage.name] = image
    return image


def _step(image: Image, word: str, value: str, images: Mapping[str, Image], wheels: Path) -> None:
    match word:
        case "RUN":
            _run(image, value, wheels)
        case "COPY":
            _copy(image, shlex.split(value), images)
        case "ENV":
            image.environment |= pairs(value, image.environment)
        case "LABEL":
            image.labels |= pairs(value, image.environment)
        case "WORKDIR":
            image.folder = value
            (image.root / value.lstrip("/")).mkdir(parents=True, exist_ok=True)
        case "USER":
            user, _, group = value.partition(":")
            image.user = (int(user), int(group))
        case "VOLUME" | "EXPOSE" | "HEALTHCHECK" | "STOPSIGNAL" | "ENTRYPOINT" | "CMD":
            pass  # said of the image; who runs it reads them from its stage
        case _:
            raise AssertionError(f"{word} is replayed by nothing: teach it here.")


def _run(image: Image, value: str, wheels: Path) -> None:
    done = subprocess.run(
        contained(image, ["/bin/sh", "-c", value], binds={str(wheels): "/wheels"}, more=OFFLINE), cwd=TOP,
        capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, f"RUN {value}\n{done.stdout[-1000:]}\n{done.stderr[-3000:]}"


def _copy(image: Image, words: list[str], images: Mapping[str, Image]) -> None:
    *sources, target = words
    origin = None
    if sources[0].startswith("--from="):
        origin = images[sources.pop(0).removeprefix("--from=")].root
    inside = image.root / (Path(image.folder) / target).as_posix().lstrip("/")
    for source in sources:
        path = origin / source.lstrip("/") if origin else _in_context(source)
        into = inside / path.name if target.endswith("/") or len(sources) > 1 else inside
        into.parent.mkdir(parents=True, exist_ok=True)
        if origin:
            subprocess.run(["cp", "-a", str(path), str(into)], check=True)
        elif path.is_dir():
            shutil.copytree(path, into, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(path, into)


def _in_context(source: str) -> Path:
    """A file of the checkout, if the ignore file lets it into the build."""
    let = (TOP / "docker" / "Dockerfile.dockerignore").read_text(encoding="utf-8").split()
    assert f"!{source}" in let, f"{source} is not in the build's context"
    return TOP / source


@contextmanager
def _cached(name: str) -> Iterator[Path]:
    """A folder of the cache, for one process at a time."""
    folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "seamcost-image" / name
    folder.parent.mkdir(parents=True, exist_ok=True)
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield folder


def _clean_root() -> Path:
    with _cached(f"trixie-{_named(PACKAGES)}") as folder:
        if not (folder / "usr" / "local" / "bin" / "pip").exists():
            shutil.rmtree(folder, ignore_errors=True)
            _call("mmdebstrap", "--quiet", "--variant=extract", f"--include={PACKAGES}", "trixie", str(folder))
            _set_up(folder)
            _call(*contained(Image(folder, BASE_ENVIRONMENT), ["/usr/bin/python3", "-m", "venv", "/usr/local"]))
            found = _call("chroot", str(folder), "/usr/local/bin/python", "--version")
            assert f"Python {PYTHON}." in found, found
    return folder


def _set_up(root: Path) -> None:
    """What the packages' own scripts would have done, as far as it is needed: users, and whom TLS trusts."""
    for name in ("passwd", "group"):
        shutil.copy(root / "usr" / "share" / "base-passwd" / f"{name}.master", root / "etc" / name)
    trusted = sorted((root / "usr" / "share" / "ca-certificates").rglob("*.crt"))
    bundle = root / "etc" / "ssl" / "certs" / "ca-certificates.crt"
    bundle.parent.mkdir(parents=True, exist_ok=True)
    bundle.write_text("".join(path.read_text(encoding="utf-8") for path in trusted), encoding="utf-8")


def _wheels() -> Path:
    """The packages of both lock files, for the image's Python."""
    locks = [TOP / "requirements.lock", TOP / "docker" / "build.lock"]
    with _cached("wheels-" + _named("".join(lock.read_text(encoding="utf-8") for lock in locks))) as folder:
        if not (folder / "whole").exists():
            machine = platform.machine()
            fitting = [f"--platform=manylinux_2_{minor}_{machine}" for minor in range(41, 16, -1)]
            for lock in map(_for_that_python, locks):
                _call(sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:",
                      "--require-hashes", f"--python-version={PYTHON}", "--implementation=cp", *fitting,
                      f"--platform=manylinux2014_{machine}", "-r", str(_written(folder, lock)), "-d", str(folder))
            (folder / "whole").touch()
    return folder


def _for_that_python(lock: Path) -> str:
    """The pins of a lock file that are for the image's Python; this one's pip would choose for itself."""
    pins = re.split(r"^(?=[a-z0-9])", lock.read_text(encoding="utf-8"), flags=re.MULTILINE)
    chosen = []
    for pin in filter(None, pins):
        first, _, hashes = pin.partition("\\\n")
        requirement = Requirement(first.strip())
        image_s = {"python_version": PYTHON, "python_full_version": f"{PYTHON}.0"}
        if requirement.marker is None or requirement.marker.evaluate(image_s):
            chosen.append(f"{first.partition(';')[0].strip()} \\\n{hashes}")
    return "".join(chosen)


def _written(folder: Path, lock: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "pins.txt"
    path.write_text(lock, encoding="utf-8")
    return path


def _named(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _call(*command: str) -> str:
    done = subprocess.run(command, cwd=TOP, capture_output=True, text=True, timeout=280, check=False)
    assert done.returncode == 0, f"{command[0]} ended with {done.returncode}: {done.stderr[-2000:]}"
    return done.stdout + done.stderr


def asked(image: Image, script: str, *, read_only: bool = True, binds: Mapping[str, str] | None = None) -> Any:
    """What a script of Python prints as JSON, run in an image as its user."""
    done = subprocess.run(contained(image, ["python", "-c", script], read_only=read_only, binds=binds), cwd=TOP,
                          capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def megabytes(root: Path) -> float:
    """How much a folder holds."""
    return int(_call("du", "-sb", str(root)).split()[0]) / 1e6
