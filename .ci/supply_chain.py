"""What the service is made of, and whether any of it is known to be weak: judged from what two tools said.

    supply_chain.py audit              asks pip-audit about every locked package, and about one that is known to be weak
    supply_chain.py sbom FILE          holds a CycloneDX document to the lock file

pip-audit ends with 0 also where it could look nothing up. So it is asked about a canary first, a release with published
advisories: where none is reported there is no source of advisories, and the audit is skipped, which is said; where it
is reported, every locked package must have been audited, and nothing audited is a fault. Standard library alone.
"""

import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

LOCK = Path(__file__).resolve().parents[1] / "requirements.lock"
CANARY = ("jinja2", "2.4.1")
SECONDS = 120


Pin = tuple[str, str]
"""A package and its version. A package has several where it depends on the version of Python."""


def locked(text: str) -> list[Pin]:
    """The pins of a lock file."""
    return sorted(set(re.findall(r"^([a-z0-9-]+)(?:\[[a-z,]+\])?==(\S+)", text, flags=re.MULTILINE)))


def has_a_source(report: object) -> bool:
    """Whether the canary's report names an advisory: then there is a source of them."""
    return any(entry.get("vulns") for entry in _dependencies(report))


def faults_of_audit(reports: list, expected: list[Pin]) -> list[str]:
    """What is wrong with the audit of the locked packages, where there is a source of advisories."""
    entries = {(_name(entry.get("name", "")), entry.get("version")): entry
               for report in reports for entry in _dependencies(report)}
    audited = {pin for pin, entry in entries.items() if "skip_reason" not in entry and "vulns" in entry}
    faults = [f"{name} {version} was not audited" for name, version in expected if (name, version) not in audited]
    if not audited:
        faults.insert(0, "nothing was audited")
    return faults + [f"{name} {version}: {weak.get('id')}, mended in {weak.get('fix_versions') or 'none'}"
                     for (name, version), entry in sorted(entries.items(), key=str) for weak in entry.get("vulns", ())]


def faults_of_sbom(document: object, expected: list[Pin]) -> list[str]:
    """What is wrong with a bill of materials: not CycloneDX, or not what is locked."""
    if not isinstance(document, dict) or document.get("bomFormat") != "CycloneDX":
        return ["no CycloneDX document"]
    listed = {(_name(part.get("name", "")), part.get("version")) for part in document.get("components", ())}
    return [f"{name} {version} is locked, and not listed" for name, version in expected
            if (name, version) not in listed]


def rounds(pins: list[Pin]) -> list[list[Pin]]:
    """The pins in lists in which each package stands once, as a file of requirements wants it."""
    made: list[list[Pin]] = []
    for pin in pins:
        fitting = next((each for each in made if pin[0] not in dict(each)), None)
        made.append([pin]) if fitting is None else fitting.append(pin)
    return made


def _dependencies(report: object) -> list[dict]:
    found = report.get("dependencies") if isinstance(report, dict) else None
    return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []


def _name(name: str) -> str:
    """A package's name in its one form (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def _asked(pins: list[Pin]) -> object:
    """What pip-audit reports of some pins; {} where it reports nothing that can be read."""
    with tempfile.TemporaryDirectory() as folder:
        (asked := Path(folder) / "pins.txt").write_text("".join(f"{name}=={version}\n" for name, version in pins))
        command = [sys.executable, "-m", "pip_audit", "--format", "json", "--progress-spinner", "off", "--no-deps",
                   "--disable-pip", "-r", str(asked)]
        try:
            told = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS, check=False)  # noqa: S603
            return json.loads(told.stdout)
        except (subprocess.TimeoutExpired, ValueError):
            return {}


def main(arguments: list[str]) -> int:
    """0 when all is well, or was skipped for want of a source; 1 with the faults."""
    expected = locked(LOCK.read_text(encoding="utf-8"))
    if arguments[:1] == ["sbom"]:
        faults = faults_of_sbom(json.loads(Path(arguments[1]).read_text(encoding="utf-8")), expected)
        print(*faults or [f"The bill of materials lists all {len(expected)} locked packages."], sep="\n")
        return bool(faults)
    if not has_a_source(_asked([CANARY])):
        print("AUDIT SKIPPED: no source of advisories can be reached from here; nothing is known of any package.")
        return 0
    faults = faults_of_audit([_asked(pins) for pins in rounds(expected)], expected)
    print(*faults or [f"All {len(expected)} locked packages were audited: none has a known weakness."], sep="\n")
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
