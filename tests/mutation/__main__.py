"""Do the tests test? `python -m tests.mutation [PART ...]`: mutmut changes the code in a thousand small ways, one at a
time, and the tests of the part run against each.

Ends with 1 when fewer than nine in ten mutants of a part are noticed, or when one lives that the part's file does not
explain. mutmut is installed by hand (`uv pip install mutmut==3.8.1`): no check in the build runs it. It works in a
folder of its own, on a copy; `--folder` says where, and leaves it there, to look at a mutant by `mutmut show`.
`--only "service.domain.menu.*"` tries some of the mutants.
"""

import argparse
import shutil
import subprocess
import sys
import tempfile
import time
from fnmatch import fnmatch
from pathlib import Path

from tests.mutation.judging import judged, lived, mutant_shown
from tests.mutation.parts import TOP, Part, every_part

MUTMUT = Path(sys.executable).with_name("mutmut")
COPIED = ("tests", "migrations", "openapi", "docker", "README.md", "DEVELOPERS.md", "pyproject.toml")
ARGUMENTS = ("-p", "no:cacheprovider", "-p", "tests.mutation.shortest_first", "--hypothesis-seed=1",
             "-k", "not postgresql")
"""The same examples in every run: a mutant that one draw kills and the next does not is not known to be noticed. What
runs on both engines runs on SQLite: no server is started for each mutant."""


def main(arguments: list[str]) -> int:
    """Run the parts that are asked for; 1 when anything is wrong, 2 without mutmut."""
    parts = {part.name: part for part in every_part()}
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(parts)}; all, unless said")
    parser.add_argument("--only", default="*", help="mutants by mutmut's names, with * for any text")
    parser.add_argument("--children", type=int, default=2, help="how many run at once")
    parser.add_argument("--folder", type=Path, help="where to work, and leave what was found")
    asked = parser.parse_args(arguments)
    if unknown := [name for name in asked.parts if name not in parts]:
        parser.error(f"no part is called {', '.join(unknown)}")
    if not MUTMUT.is_file():
        print("mutmut is not installed beside this Python: uv pip install mutmut==3.8.1")
        return 2
    with tempfile.TemporaryDirectory(prefix="seamcost-mutants-") as passing:
        well = [_run(parts[name], (asked.folder or Path(passing)) / name, asked) for name in asked.parts or parts]
    return 0 if well and all(well) else 1


def _run(part: Part, folder: Path, asked: argparse.Namespace) -> bool:
    """Run one part, and tell; whether all is well."""
    began = time.monotonic()
    _lay_out(part, folder)
    some = [] if asked.only == "*" else [asked.only]
    ran = subprocess.run([MUTMUT, "run", "--max-children", str(asked.children), *some], cwd=folder, check=False,
                         capture_output=True, text=True)
    if ran.returncode:
        print(f"RED {part.name}: mutmut ended with {ran.returncode}\n{ran.stdout[-3_000:]}\n{ran.stderr[-3_000:]}")
        return False
    listed = _told(folder, "results", "--all", "true").splitlines()
    lines = (line.strip().split(": ", 1) for line in listed if line.strip())
    statuses = {name: status for name, status in lines if fnmatch(name, asked.only)}
    shown = [mutant_shown(name, _told(folder, "show", name)) for name, status in statuses.items() if lived(status)]
    judgement = judged(part, statuses.values(), shown)
    counts = ", ".join(f"{count} {status}" for status, count in sorted(judgement.counts.items()))
    not_needed = () if some else judgement.not_needed
    print(f"{'RED' if judgement.faults else 'ok '} {part.name} ({part.title}): {len(statuses)} mutants, {counts}; "
          f"{judgement.share:.1%} noticed, in {time.monotonic() - began:.0f} s", *judgement.faults,
          *(f"explained, and did not live: {each}" for each in not_needed), sep="\n    ", flush=True)
    return not judgement.faults


def _lay_out(part: Part, folder: Path) -> None:
    """Copy what the tests need, and tell mutmut what to mutate. What another run left there goes: its verdicts are on
    tests that may be others by now."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(folder / "mutants", ignore_errors=True)
    for name in ("service", *COPIED):
        source, target = TOP / name, folder / name
        if source.is_dir():
            shutil.rmtree(target, ignore_errors=True)
            shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, target)
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as settings:
        settings.write(f"""
[tool.mutmut]
source_paths = ["service"]
only_mutate = {list(part.modules)}
pytest_add_cli_args_test_selection = {list(part.tests)}
pytest_add_cli_args = {list(ARGUMENTS)}
also_copy = {list(COPIED)}
use_git_change_detection = false
""")


def _told(folder: Path, *words: str) -> str:
    return subprocess.run([MUTMUT, *words], cwd=folder, check=True, capture_output=True, text=True).stdout


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
