"""The image as it runs: its steps replayed in a clean root, then started as it says, on a root that is read-only.

Source: the operating check-list: CIS Docker Benchmark section 4 and 5 (from memory); what the Dockerfile itself says.
"""

import os
import re
import signal
import stat
import subprocess
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from service.cli import fresh
from service.watching.proven_backup import PROVEN
from tests.docker.dockerfile import DOCKERFILE, TOP, healthcheck, stages
from tests.docker.proxy import free_ports
from tests.docker.replay import Image, asked, build, contained, megabytes, needs_a_clean_root

pytestmark = [needs_a_clean_root, pytest.mark.timeout(900)]
USER = (10001, 10001)
VOLUME = "/var/lib/seamcost"
LARGEST_MEGABYTES = 400
"""386 were measured, 260 of them packages: what builds, tests of packages or an installer's cache would be too many."""
LOOK_AROUND = """
import importlib.util, json, os, shutil, sys, tempfile
tools = ("gcc", "cc", "g++", "c++", "clang", "ld", "as", "make", "cmake", "cargo", "go", "pip", "pip3", "uv", "git")
modules = ("pip", "setuptools", "ensurepip", "hatchling", "pytest", "wheel")
writable, ours, found = [], [], []
for folder, folders, files in os.walk("/"):
    if folder == "/":
        folders[:] = [each for each in folders if each not in ("proc", "dev")]
    writable += [folder] if os.access(folder, os.W_OK) else []
    found += [folder] if os.path.basename(folder) in modules and "__init__.py" in files else []
    for path in (os.path.join(folder, file) for file in files):
        if os.access(path, os.W_OK, follow_symlinks=False) and not os.path.islink(path):
            writable.append(path)
        if path.startswith("/srv/") and os.lstat(path).st_uid != 0:
            ours.append(path)
def refused(path):
    try:
        open(path, "w").close()
    except OSError as error:
        return error.strerror
    return "written"
program = os.path.join(tempfile.gettempdir(), "run")
with open(program, "w") as file:
    file.write("#!/bin/sh\\n")
os.chmod(program, 0o755)
try:
    os.execv(program, [program])
except OSError as error:
    runs = error.strerror
service = importlib.util.find_spec("service")
told = dict(line.split(":\\t", 1) for line in open("/proc/self/status").read().splitlines() if ":\\t" in line)
print(json.dumps({
    "user": [os.getuid(), os.getgid(), os.getgroups()],
    "capabilities": [told[name] for name in ("CapEff", "CapPrm", "CapBnd")],
    "no_new_privileges": told["NoNewPrivs"], "home": os.environ.get("HOME"), "writable": writable, "ours": ours,
    "tools": [each for each in tools if shutil.which(each)], "runs_from_tmp": runs,
    "modules": found, "root": refused("/x"), "code": refused(getattr(service, "origin", "/none")),
    "python": sys.executable,
}))
"""


@pytest.fixture(scope="module")
def image(tmp_path_factory: pytest.TempPathFactory) -> Image:
    """The image of the last stage."""
    return build(tmp_path_factory.mktemp("image"))


@pytest.fixture
def volume(image: Image, tmp_path: Path) -> Path:
    """A volume of its own, as an engine makes it: with the owner and the mode of the folder in the image."""
    inside = (image.root / VOLUME.lstrip("/")).stat()
    folder = tmp_path / "volume"
    folder.mkdir()
    folder.chmod(stat.S_IMODE(inside.st_mode))
    os.chown(folder, inside.st_uid, inside.st_gid)
    return folder


@dataclass(frozen=True)
class Container:
    """A container that runs: the process that is 1 within, as it is numbered outside, and who waits for it."""

    image: Image
    volume: Path
    waiting: "subprocess.Popen[str]"
    more: dict[str, str]

    @property
    def first(self) -> int:
        """The number of its first process."""
        pid = self.waiting.pid
        child, = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        return int(child)

    def healthy(self) -> bool:
        """Whether the command of HEALTHCHECK succeeds."""
        command = contained(self.image, healthcheck(self.image.stage), read_only=True, more=self.more,
                            binds={str(self.volume): VOLUME})
        return subprocess.run(command, cwd=TOP, capture_output=True, check=False, timeout=60).returncode == 0


@pytest.fixture
def container(image: Image, volume: Path) -> Iterator[Container]:
    """The image started by its ENTRYPOINT and CMD, and with no other setting than a port."""
    command = [*image.stage.words("ENTRYPOINT"), *image.stage.words("CMD")]
    more = {"SEAMCOST_PORT": str(free_ports(1)[0])}
    waiting = subprocess.Popen(
        contained(image, command, read_only=True, binds={str(volume): VOLUME}, more=more), cwd=TOP, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    yield Container(image, volume, waiting, more)
    if waiting.poll() is None:
        waiting.kill()
    waiting.communicate()


def test_it_starts_as_nobody_in_particular_is_healthy_and_stops_when_told(container: Container) -> None:
    assert not container.healthy()
    assert container.waiting.stdout is not None
    told = container.waiting.stdout.readline()
    assert re.match(r"Serving at \S+0\.0\.0\.0:", told), container.waiting.communicate()[1]
    until = time.monotonic() + 60
    while not container.healthy():
        assert time.monotonic() < until, "it does not become healthy"
    status = dict(line.split(":", 1) for line in Path(f"/proc/{container.first}/status").read_text().splitlines())
    assert [number.split()[-1] for number in (status["NSpid"], status["Uid"], status["Gid"])] == [
        "1", *map(str, USER)]

    files = {path.name: path.stat() for path in container.volume.iterdir()}
    assert "seamcost.db" in files
    assert {(stat.S_IMODE(file.st_mode), file.st_uid, file.st_gid) for file in files.values()} == {(0o600, *USER)}
    assert stat.S_IMODE(container.volume.stat().st_mode) == 0o700

    os.kill(container.first, signal.SIGTERM)
    _, said = container.waiting.communicate(timeout=150)
    assert (container.waiting.returncode, said) == (0, "")
    assert not container.healthy()


def test_nothing_can_be_written_but_the_volume_and_nothing_is_there_to_build_with(image: Image, volume: Path) -> None:
    found = asked(image, LOOK_AROUND, binds={str(volume): VOLUME})
    assert found["user"] == [*USER, []]
    assert (set(found["capabilities"]), found["no_new_privileges"], found["home"]) == ({"0" * 16}, "1", None)
    assert found["writable"] == ["/tmp", VOLUME]
    assert (found["ours"], found["root"], found["code"]) == ([], "Read-only file system", "Read-only file system")
    assert found["runs_from_tmp"] == "Permission denied"
    assert (found["tools"], found["modules"]) == ([], [])
    assert found["python"] == "/srv/seamcost/bin/python"


def test_it_is_small_and_holds_less_than_where_it_was_built(image: Image) -> None:
    built_in = image.root.parent / stages()[1].name
    assert megabytes(image.root) < min(LARGEST_MEGABYTES, megabytes(built_in))


def test_code_cannot_be_written_by_the_user_even_where_the_root_can(image: Image) -> None:
    tried = asked(image, LOOK_AROUND, read_only=False)
    assert tried["code"] == "Permission denied"
    assert [path for path in tried["writable"] if path.startswith(("/srv", "/usr", "/etc"))] == []


def test_other_commands_of_the_image_run(image: Image, volume: Path) -> None:
    for arguments in (["migrate"], ["backup", VOLUME, "--prove", "--keep", "2"], ["deliver", "--once"]):
        done = subprocess.run(
            contained(image, [*image.stage.words("ENTRYPOINT"), *arguments], read_only=True,
                      binds={str(volume): VOLUME}), cwd=TOP, capture_output=True, text=True, timeout=280, check=False)
        assert (done.returncode, "Traceback" in done.stderr) == (0, False), done.stderr
    assert len(list(volume.glob("ledger-*.jsonl.gz"))) == 1
    for file, status in ((PROVEN, 0), ("heartbeat", 1)):  # as compose looks after what opens no port
        asks = contained(image, ["python", "-m", fresh.__name__, f"{VOLUME}/{file}", "28800"], read_only=True,
                         binds={str(volume): VOLUME})
        assert subprocess.run(asks, cwd=TOP, capture_output=True, check=False, timeout=60).returncode == status


@pytest.mark.parametrize(("shipped", "planted", "finds"), [
    ("USER 10001:10001", "USER 0:0", lambda found: found["user"][0] == 0),
    ("pip uninstall --yes --root-user-action ignore --disable-pip-version-check pip", "pip --version",
     lambda found: "pip" in found["tools"] and any(each.endswith("/pip") for each in found["modules"]))])
def test_a_planted_fault_shows(tmp_path: Path, shipped: str, planted: str, finds: Callable[[Any], bool]) -> None:
    """The last stage alone is carried out anew."""
    text = DOCKERFILE.read_text(encoding="utf-8")
    assert shipped in text
    (tmp_path / "Dockerfile").write_text(text.replace(shipped, planted))
    base, install, final = stages(tmp_path / "Dockerfile")
    install.steps = []
    final.steps = [(word, value) for word, value in final.steps if word in ("RUN", "USER")]
    spoilt = build(tmp_path / "spoilt", [base, install, final])
    assert finds(asked(spoilt, LOOK_AROUND, read_only=False))
