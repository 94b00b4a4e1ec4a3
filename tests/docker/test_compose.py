"""What the compose files say, without an engine: the Compose Specification's own rules, by a parser of it, and ours.

Source: the Compose Specification, by the library compose-spec; CIS Docker Benchmark, section 5 (from memory), for what
a container is kept from.
"""

import json
import re
import subprocess
from collections.abc import Callable
from typing import Any

import pytest

from service.cli import fresh
from service.cli.backing_up import SOONER
from service.cli.gunicorn_server import metrics_bind, server_settings
from service.settings import Settings, settings_from
from service.watching.ledger_figures import HEARTBEAT_STALE
from service.watching.proven_backup import PROVEN
from tests.docker.dockerfile import TOP, pairs, stages
from tests.python_packages import python_packages

PARSE = """
import json, sys, yaml
from compose_spec import PyCompose
print(json.dumps(PyCompose.from_json(json.dumps(yaml.safe_load(sys.stdin))).to_dict()))
"""
TAG_BEFORE_DIGEST = re.compile(r"(image: [\w/.-]+):[\w.-]+(@sha256:)")
"""An image may have both, as it is shipped; the parser knows one or the other, so it is given the digest."""
PINNED = re.compile(r"image: [a-z0-9/.-]+:[\w.-]+@sha256:[0-9a-f]{64}")
OURS = "seamcost:0.1.0"
Plan = dict[str, Any]


def read(text: str) -> Plan:
    """A compose file, as the parser of the specification understands it."""
    python = python_packages({"compose-spec": "0.2.1", "PyYAML": "6.0.3"}) / "python"
    done = subprocess.run([python, "-c", PARSE], input=TAG_BEFORE_DIGEST.sub(r"\1\2", text), capture_output=True,
                          text=True, timeout=60, check=False)
    if done.returncode != 0:
        raise ValueError(done.stderr.splitlines()[-1])
    plan: Plan = json.loads(done.stdout)
    return plan


def text_of(name: str) -> str:
    return (TOP / "docker" / name).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """What is shipped."""
    return read(text_of("compose.yaml"))


def listed(value: Any) -> list[str]:
    return list(value or ())


def is_looked_after(name: str, service: Plan) -> bool:
    """By a command of its own, or the image's; `migrate` alone ends by itself, and what it was is its exit status."""
    told = service.get("healthcheck") or {}
    if name == "migrate":
        return True
    return not told.get("disable") and (bool(told.get("test")) or name == "service")


def faults_of(plan: Plan) -> list[str]:
    """What our own rules find."""
    found = []
    for name, service in plan["services"].items():
        user = str(service.get("user", "0"))
        rules = {
            "its root can be written": service.get("read_only") is True,
            "it keeps capabilities": listed(service.get("cap_drop")) == ["ALL"] and not service.get("cap_add"),
            "it may gain privileges": "no-new-privileges:true" in listed(service.get("security_opt")),
            "it is privileged": not service.get("privileged"),
            "it runs as root": re.fullmatch(r"[1-9]\d*:[1-9]\d*", user) is not None,
            "it has no limits": all(service.get(limit) for limit in ("mem_limit", "cpus", "pids_limit")),
            "it has no policy of restarts": bool(service.get("restart")),
            "its log grows for ever": "max-size" in (service.get("logging") or {}).get("options", {}),
            "it is not looked after": is_looked_after(name, service),
            "it has a file of the host, or may write it": all(str(each).endswith(":ro") or not str(each).startswith(".")
                                                              for each in listed(service.get("volumes"))),
            "its folder in memory has no size or runs programs": all(
                "size=" in each and "noexec" in each for each in listed(service.get("tmpfs"))),
            "it is told a password": not any("PASSWORD" in variable and not variable.endswith("_FILE")
                                             for variable in (service.get("environment") or {})),
        }
        found += [f"{name}: {fault}" for fault, holds in rules.items() if not holds]
    return found


def test_both_files_are_compose_files_and_every_image_is_pinned(plan: Plan) -> None:
    assert set(plan["services"]) == {"proxy", "migrate", "service", "deliver", "backup", "database"}
    assert set(read(text_of("compose.tls.yaml"))["services"]) == {"proxy"}
    images = re.findall(r"^ *(image: .*)$", text_of("compose.yaml"), flags=re.MULTILINE)
    assert len(images) == 3
    assert [image for image in images if not PINNED.fullmatch(image)] == [f"image: {OURS}"]
    assert OURS.endswith(pairs(stages()[-1].last("LABEL"), {})["org.opencontainers.image.version"])


def test_our_rules_find_nothing(plan: Plan) -> None:
    assert faults_of(plan) == []


@pytest.mark.parametrize(("spoil", "told"), [
    (lambda service: service.pop("read_only"), "can be written"),
    (lambda service: service.update(cap_add=["NET_ADMIN"]), "keeps capabilities"),
    (lambda service: service.pop("security_opt"), "gain privileges"),
    (lambda service: service.update(privileged=True), "is privileged"),
    (lambda service: service.update(user="0:0"), "runs as root"),
    (lambda service: service.pop("mem_limit"), "no limits"),
    (lambda service: service.pop("restart"), "restarts"),
    (lambda service: service.pop("logging"), "log grows"),
    (lambda service: service.pop("healthcheck"), "not looked after"),
    (lambda service: service.update(healthcheck={"disable": True}), "not looked after"),
    (lambda service: service.update(volumes=["./x:/x"]), "file of the host"),
    (lambda service: service.update(tmpfs=["/tmp"]), "in memory"),
    (lambda service: service.update(environment={"POSTGRES_PASSWORD": "x"}), "told a password")])
def test_a_planted_fault_is_found(plan: Plan, spoil: Callable[[Plan], object], told: str) -> None:
    spoilt = json.loads(json.dumps(plan))
    spoil(spoilt["services"]["proxy"])
    assert [fault for fault in faults_of(spoilt) if "proxy" in fault and told in fault] != []


@pytest.mark.parametrize("wrong", ["read_onely: true", "ports: 8765", "restart: sometimes"])
def test_what_is_no_compose_file_is_refused(wrong: str) -> None:
    with pytest.raises(ValueError):
        read(f"services:\n  service:\n    image: seamcost\n    {wrong}\n")


def test_only_who_must_reaches_whom(plan: Plan) -> None:
    networks = {name: set(service["networks"]) for name, service in plan["services"].items()}
    assert networks["proxy"].isdisjoint(networks["database"])
    assert {name for name, joined in networks.items() if "egress" in joined} == {"deliver"}
    assert {name for name, joined in networks.items() if "outside" in joined} == {"proxy"}
    assert {name for name, network in plan["networks"].items() if (network or {}).get("internal")} == {
        "inside", "data", "watch"}
    assert [name for name, service in plan["services"].items() if service.get("ports")] == ["proxy"]
    assert plan["services"]["proxy"]["ports"][0].startswith("127.0.0.1:")


def test_what_opens_no_port_is_asked_for_the_file_that_it_writes(plan: Plan) -> None:
    """The deliverer's for as long as /health/ready gives its row; the backup's for one due, and one that failed."""
    asked = {name: plan["services"][name]["healthcheck"]["test"] for name in ("deliver", "backup")}
    assert {tuple(test[:4]) for test in asked.values()} == {("CMD", "python", "-m", fresh.__name__)}
    deliver, backup = (plan["services"][name]["command"] for name in ("deliver", "backup"))
    assert asked["deliver"][4:] == [deliver[deliver.index("--heartbeat") + 1], f"{HEARTBEAT_STALE.seconds}"]
    every = 3600 * int(backup[backup.index("--every") + 1])
    assert asked["backup"][4] == f"{backup[1]}/{PROVEN}"
    assert every * (1 + 1 / SOONER) < int(asked["backup"][5]) < 2 * every
    assert "--prove" in backup


def test_who_watches_reaches_the_metrics_of_every_service_and_the_proxy_does_not(plan: Plan) -> None:
    assert {name for name, service in plan["services"].items() if "watch" in service["networks"]} == {"service"}
    told = settings_of(plan, "service")
    assert metrics_bind(told) == ["0.0.0.0:9464"]
    passed_on = re.findall(r"service:(\d+)", text_of("nginx/passing.conf"))
    assert passed_on == [str(told.port)]


def settings_of(plan: Plan, name: str) -> Settings:
    """What a service of the plan is told, but for its secrets."""
    return settings_from({variable: str(value) for variable, value in plan["services"][name]["environment"].items()
                          if variable.startswith("SEAMCOST_") and not variable.endswith("_FILE")})


def test_the_owner_of_the_tables_is_who_migrates_and_nobody_else(plan: Plan) -> None:
    services = plan["services"]
    secrets = {name: set(listed(service.get("secrets"))) for name, service in services.items()}
    assert {name for name, told in secrets.items() if "owner_password" in told} == {"migrate", "database"}
    for name in ("migrate", "service", "deliver", "backup"):
        (secret,) = secrets[name]
        assert services[name]["environment"]["SEAMCOST_DATABASE_PASSWORD_FILE"] == f"/run/secrets/{secret}"
        role = "seamcost" if name == "migrate" else "seamcost_service"
        assert settings_of(plan, name).database_url == f"postgresql://{role}@database/seamcost"
    assert {each["file"] for each in plan["secrets"].values()} == {
        "./secrets/owner_password", "./secrets/service_password"}


def test_the_database_is_migrated_once_before_any_service_starts(plan: Plan) -> None:
    for name in ("service", "deliver", "backup"):
        assert plan["services"][name]["depends_on"]["migrate"]["condition"] == "service_completed_successfully"
    assert plan["services"]["service"]["environment"]["SEAMCOST_MIGRATE"] == "0"
    assert plan["services"]["migrate"]["command"] == ["migrate"]


def test_two_services_leave_the_database_connections_to_spare(plan: Plan) -> None:
    """PostgreSQL's own 100, less three for superusers: a release beside the one before it, and the others."""
    services, told = plan["services"], settings_of(plan, "service")
    assert told.workers == 2 * services["service"]["cpus"]
    others = [name for name, each in services.items() if each["image"] == OURS and name not in ("service", "migrate")]
    assert 2 * told.workers * told.database_connections + len(others) * Settings().database_connections <= 97


def test_a_stop_has_the_time_that_it_may_take(plan: Plan) -> None:
    service = plan["services"]["service"]
    takes = int(service["environment"]["SEAMCOST_DRAIN_SECONDS"]) + server_settings(Settings(), 1, print)[
        "graceful_timeout"]
    assert takes < seconds(service["stop_grace_period"])


def seconds(duration: Any) -> float:
    """A duration as the parser gives it."""
    if isinstance(duration, int | float):
        return float(duration)
    minutes, rest = re.fullmatch(r"(?:(\d+)m)?(?:(\d+)s)?", str(duration)).groups()  # type: ignore[union-attr]
    return 60 * int(minutes or 0) + int(rest or 0)
