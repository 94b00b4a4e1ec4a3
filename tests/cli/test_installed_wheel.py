"""All of the command line works from an installed wheel, with the checkout out of reach.

The wheel is built as pip builds it and installed into a folder of its own that comes first on the path; what it needs
from others is there already.
"""

import json
import os
import re
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import requests

from tests.cli.conftest import TOP


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index",
         "--wheel-dir", str(folder), str(TOP)], check=True, timeout=240)
    built, = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path) -> Path:
    """Where the wheel is unpacked, as an installer would."""
    folder = wheel.parent / "installed"
    subprocess.run([sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target",
                    str(folder), str(wheel)], check=True, timeout=240)
    return folder


def command(installed: Path, *arguments: str) -> list[str]:
    """The installed command line, and no other: it says so if its package came from elsewhere."""
    begin = (f"import service, sys; assert service.__file__.startswith({str(installed)!r}), service.__file__; "
             "from service.cli.__main__ import main; main()")
    return [sys.executable, "-P", "-c", begin, *arguments]


def environment(installed: Path) -> dict[str, str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith("SEAMCOST_")}
    return clean | {"PYTHONPATH": str(installed)}


def out_of(installed: Path, folder: Path, *arguments: str) -> bytes:
    return subprocess.run(command(installed, *arguments), cwd=folder, env=environment(installed),
                          stdout=subprocess.PIPE, check=True, timeout=120).stdout


def test_what_is_no_code_travels_with_it(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    migrations = {path.name for path in (TOP / "migrations" / "versions").glob("*.py")}
    assert {f"service/_shipped/migrations/versions/{name}" for name in migrations} <= names
    assert {"service/_shipped/migrations/env.py", "service/_shipped/openapi/openapi.json",
            "service/cli/demo/kitchen.json"} <= names
    assert any(name.startswith("service/web/templates/") for name in names)
    assert any(name.endswith("/licenses/LICENSE") for name in names)
    assert [name for name in names if name.startswith("tests/")] == []


def test_migrate_keys_costs_and_the_api_document(installed: Path, tmp_path: Path) -> None:
    out_of(installed, tmp_path, "migrate")
    key = out_of(installed, tmp_path, "keys", "create", "head chef", "--scope", "admin").decode()
    assert re.fullmatch(r"seam_[0-9a-f]{8}_[A-Za-z0-9_-]{43}\n", key)
    assert out_of(installed, tmp_path, "costs", "dishes", "--csv").startswith(b"dish,")
    printed = out_of(installed, tmp_path, "openapi")
    assert printed == (TOP / "openapi" / "openapi.json").read_bytes()
    assert json.loads(printed)["paths"]


def test_the_demo_and_its_docs_are_served(installed: Path, tmp_path: Path) -> None:
    serving = subprocess.Popen(command(installed, "serve", "--demo", "--port", "0", "--workers", "1"), cwd=tmp_path,
                               env=environment(installed), stdout=subprocess.PIPE, text=True)
    try:
        assert serving.stdout is not None
        told = serving.stdout.readline()
        url = re.search(r"Serving at (\S+)", told)
        assert url is not None, told
        docs = requests.get(f"{url[1]}/docs", timeout=30)
        assert (docs.status_code, "seamcost" in docs.text.lower()) == (200, True)
        assert requests.get(f"{url[1]}/openapi.json", timeout=30).json()["openapi"].startswith("3.1.")
    finally:
        serving.send_signal(signal.SIGTERM)
        serving.communicate(timeout=60)
    assert serving.returncode == 0
