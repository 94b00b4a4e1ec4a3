"""Clients generated from the committed API document, and how each tells its story to a running service.

Python by openapi-python-client, TypeScript by openapi-typescript with openapi-fetch, compiled by tsc with `strict`.
"""

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

from tests.node_packages import node_packages
from tests.python_packages import python_packages

HERE = Path(__file__).parent
DOCUMENT = HERE.parents[1] / "openapi" / "openapi.json"
PYTHON = {"openapi-python-client": "0.29.1"}
TYPESCRIPT = {"openapi-typescript": "7.13.0", "openapi-fetch": "0.17.0", "typescript": "5.9.3"}
COMPILED = {"strict": True, "noUncheckedIndexedAccess": True, "exactOptionalPropertyTypes": True, "target": "es2022",
            "module": "esnext", "moduleResolution": "bundler", "lib": ["es2022", "dom", "dom.iterable"], "types": [],
            "skipLibCheck": True, "outDir": "out"}
NOT_GENERATED = "Endpoint will not be generated"
SECONDS = 120

Tell = Callable[[dict[str, str]], str]
"""Tell the story, with this environment; what it printed."""


def python_client(folder: Path) -> tuple[Tell, str]:
    """The generated client's story, and what its generator said of the document."""
    commands = python_packages(PYTHON)
    path = {**os.environ, "PATH": f"{commands}{os.pathsep}{os.environ['PATH']}"}
    said = _done([str(commands / "openapi-python-client"), "generate", "--path", str(DOCUMENT), "--meta", "none",
                  "--output-path", str(folder / "seamcost_client")], folder, path)
    story = [str(commands / "python"), str(HERE / "python_story.py")]
    return lambda told: _done(story, folder, path | {"PYTHONPATH": str(folder)} | told), said


def typescript_client(folder: Path) -> tuple[Tell, str]:
    """The compiled client's story, and what its generator and the compiler said."""
    (folder / "node_modules").symlink_to(node_packages(TYPESCRIPT))
    shutil.copy(HERE / "typescript_story.ts", folder / "story.ts")
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    (folder / "tsconfig.json").write_text(json.dumps({"compilerOptions": COMPILED, "files": ["story.ts"]}), "utf-8")
    commands = folder / "node_modules" / ".bin"
    said = _done([str(commands / "openapi-typescript"), str(DOCUMENT), "-o", "api.ts", "--default-non-nullable=false"],
                 folder, dict(os.environ))
    said += _done([str(commands / "tsc"), "--project", "."], folder, dict(os.environ))
    shutil.copy(folder / "package.json", folder / "out" / "package.json")
    return lambda told: _done(["node", "out/story.js"], folder, {**os.environ, **told}), said


def _done(command: list[str], folder: Path, environment: dict[str, str]) -> str:
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=SECONDS,
                          check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout if done.stdout.startswith("{") else done.stdout + done.stderr
