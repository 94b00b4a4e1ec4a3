"""What the service is made of: every package locked and licensed as is allowed, and the audit's judgement itself.

The audit needs a network and runs beside the tests (`.ci/supply-chain`); what it makes of the tool's reports is tested
here, on reports as pip-audit 2.10 gives them: one recorded where no source of advisories is reached (packages skipped,
exit status 0), and others of the same form. Source: OWASP ASVS 5.0.0 chapter 15 (from memory); CycloneDX 1.6; PEP 503.
"""

import importlib.util
import json
import re
import subprocess
from importlib import metadata
from types import ModuleType
from typing import Any

import pytest
from packaging.requirements import Requirement

from tests.architecture.source_tree import TOP

LOCK = (TOP / "requirements.lock").read_text(encoding="utf-8")
RECORDED = TOP / "tests" / "architecture" / "recorded"

LICENCES = {
    "MIT": "alembic apispec blinker flask-smorest gunicorn mako marshmallow python-calamine sqlalchemy webargs",
    "MIT-0": "cffi", "zlib": "pysqlite3", "PSF-2.0": "typing-extensions", "Apache-2.0": "tzdata",
    "Apache-2.0 AND BSD-2-Clause": "prometheus-client",
    "Apache-2.0 OR BSD": "cryptography packaging", "LGPL-3.0-only": "psycopg psycopg-binary",
    "BSD": "click flask itsdangerous jinja2 joserfc lxml markupsafe numpy pycparser scipy werkzeug xlsxwriter"}
"""Every locked package by its licence. All may be used and shipped with a service under MIT; the driver of PostgreSQL,
under the LGPL, is used as a library that whoever runs the service may replace."""
ALLOWED = re.compile(
    r"MIT(-0)?|0?BSD(-[23]-Clause)?|Apache-2\.0|PSF-2\.0|LGPL-3\.0-only|Zlib|zlib|CC0-1\.0|AND|OR|License")


def the_audit() -> ModuleType:
    spec = importlib.util.spec_from_file_location("supply_chain", TOP / ".ci" / "supply_chain.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


AUDIT = the_audit()
PINS = AUDIT.locked(LOCK)
TWO = [("click", "8.5.1"), ("jinja2", "3.1.6")]


def a_report(*entries: dict[str, Any]) -> dict[str, Any]:
    return {"dependencies": list(entries), "fixes": []}


def entry(name: str, version: str, *weaknesses: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "version": version, "vulns": [
        {"id": weakness, "fix_versions": ["9.9"], "aliases": [], "description": ""} for weakness in weaknesses]} | more


def recorded(name: str) -> Any:
    return json.loads((RECORDED / f"{name}.json").read_text(encoding="utf-8"))


def test_where_no_source_is_reached_the_canary_says_so() -> None:
    report = recorded("pip_audit_without_a_source")
    assert report["dependencies"] != []
    assert not AUDIT.has_a_source(report)
    assert AUDIT.faults_of_audit([report], [("jinja2", "2.4.1")])[0] == "nothing was audited"


@pytest.mark.parametrize("report", [{}, [], None, {"dependencies": None}, a_report(),
                                    a_report(entry("jinja2", "2.4.1"))])
def test_a_canary_without_a_weakness_is_no_source(report: object) -> None:
    assert not AUDIT.has_a_source(report)


def test_a_canary_with_one_is_a_source() -> None:
    assert AUDIT.has_a_source(a_report(entry("jinja2", "2.4.1", "PYSEC-2014-8")))


@pytest.mark.parametrize(("reports", "faults"), [
    ([a_report(entry("click", "8.5.1")), a_report(entry("Jinja2", "3.1.6"))], []),
    ([a_report(entry("click", "8.5.1"))], ["jinja2 3.1.6 was not audited"]),
    ([a_report(entry("click", "8.5.1"), entry("jinja2", "3.1.5"))], ["jinja2 3.1.6 was not audited"]),
    ([a_report(entry("click", "8.5.1"), {"name": "jinja2", "version": "3.1.6", "skip_reason": "not found"})],
     ["jinja2 3.1.6 was not audited"]),
    ([a_report(entry("click", "8.5.1"), entry("jinja2", "3.1.6", "CVE-1"))],
     ["jinja2 3.1.6: CVE-1, mended in ['9.9']"]),
    ([{}], ["nothing was audited", "click 8.5.1 was not audited", "jinja2 3.1.6 was not audited"])])
def test_with_a_source_every_package_must_be_audited_and_none_weak(reports: list[Any], faults: list[str]) -> None:
    assert AUDIT.faults_of_audit(reports, TWO) == faults


def test_every_package_is_asked_about_once_a_round() -> None:
    rounds = AUDIT.rounds(PINS)
    assert sorted(pin for each in rounds for pin in each) == PINS
    assert all(len(dict(each)) == len(each) for each in rounds)


def test_a_bill_of_materials_lists_all_that_is_locked() -> None:
    parts = [{"name": name, "version": version} for name, version in PINS]
    assert len(PINS) > 25
    assert AUDIT.faults_of_sbom({"bomFormat": "CycloneDX", "components": parts}, PINS) == []
    assert len(AUDIT.faults_of_sbom({"bomFormat": "CycloneDX", "components": parts[1:]}, PINS)) == 1
    assert AUDIT.faults_of_sbom({"components": parts}, PINS) != []


def test_the_script_is_one_that_runs_and_stops_at_a_fault() -> None:
    script = TOP / ".ci" / "supply-chain"
    assert "set -euo pipefail" in script.read_text(encoding="utf-8")
    assert subprocess.run(["bash", "-n", str(script)], check=False).returncode == 0


def needed() -> set[str]:
    """All that the service needs to run, by what the installed packages say."""
    waiting, found = [("seamcost", frozenset[str]())], set[tuple[str, frozenset[str]]]()
    while waiting:
        here = waiting.pop()
        if here in found:
            continue
        found.add(here)
        for text in metadata.requires(here[0]) or ():
            asked = Requirement(text)
            if asked.marker is None or any(asked.marker.evaluate({"extra": extra}) for extra in (here[1] or {""})):
                waiting.append((AUDIT._name(asked.name), frozenset(asked.extras)))
    return {name for name, _ in found} - {"seamcost"}


def test_the_lock_is_what_the_service_needs_and_no_more() -> None:
    names = {name for name, _ in PINS}
    assert needed() <= names
    elsewhere = {name for name in names - needed() if re.search(rf"^{name}==\S+ ; ", LOCK, flags=re.MULTILINE)}
    assert names - needed() == elsewhere, "only what another platform or Python needs"


def test_every_requirement_is_met_by_what_is_locked() -> None:
    versions = {name: {version for each, version in PINS if each == name} for name, _ in PINS}
    unmet = [(name, text) for name in needed() for text in metadata.requires(name) or ()
             if (asked := Requirement(text)).marker is None and AUDIT._name(asked.name) in versions
             and not any(asked.specifier.contains(version) for version in versions[AUDIT._name(asked.name)])]
    assert unmet == []


def said_licence(name: str) -> str:
    """The licence by a package's own metadata; its first words where it holds the whole text."""
    told = metadata.metadata(name)
    classified = [text.rpartition(" :: ")[2] for text in told.get_all("Classifier") or () if text.startswith("License")]
    plain = told.get("License") or ""
    return told.get("License-Expression") or (plain if len(plain) < 40 else "") or (classified[0] if classified else "")


def test_every_locked_package_has_a_licence_that_is_allowed() -> None:
    known = {name: licence for licence, names in LICENCES.items() for name in names.split()}
    assert set(known) == {name for name, _ in PINS}
    for name in sorted(set(known) & needed()):
        words = re.findall(r"[\w.-]+", said_licence(name))
        assert [word for word in words if not ALLOWED.fullmatch(word)] == [], name
        assert words or name == "pysqlite3", f"{name} says nothing of its licence"
        assert not words or known[name].split("-")[0].split()[0] in said_licence(name), name


@pytest.mark.parametrize("licence", ["GPL-3.0-only", "AGPL-3.0", "Proprietary", "SSPL-1.0", "BUSL-1.1"])
def test_another_licence_would_be_found(licence: str) -> None:
    assert not ALLOWED.fullmatch(licence)
