"""The commands as people type them: help, keys, settings, care of the ledger, and faults in one sentence."""

import json
from pathlib import Path

import pytest

from service import operating, wiring
from service.cli.commands import main
from service.settings import Settings
from tests.cli.conftest import Run, Start

KEY = r"seam_[0-9a-f]{8}_[A-Za-z0-9_-]{43}"


def status_of(folder: Path, key: str, path: str = "/v1/keys") -> int:
    """What the service answers to a key."""
    app = wiring.web_app(Settings(database_url=f"sqlite:///{folder / 'seamcost.db'}"))
    return app.test_client().get(path, headers={"Authorization": f"Bearer {key}"}).status_code


def test_the_help_names_every_command_and_each_has_its_own(run: Run) -> None:
    told = run("--help").stdout
    for name in ("serve", "migrate", "keys", "costs", "openapi", "backup", "restore", "verify"):
        assert f"\n  {name} " in told
        assert run(name, "--help").exit_code == 0
        assert (main.commands[name].help or "").strip()


@pytest.mark.parametrize("flag", ["--database", "--host", "--port", "--workers", "--threads", "--demo"])
def test_serve_explains_each_flag(run: Run, flag: str) -> None:
    assert flag in run("serve", "--help").stdout


def test_a_key_is_printed_alone_and_opens_the_service(start: Start, run: Run, tmp_path: Path) -> None:
    assert run("migrate").exit_code == 0
    out, told = start("keys", "create", "head chef", "--scope", "admin").communicate(timeout=60)

    assert out.endswith("\n")
    assert out.count("\n") == 1
    assert out.startswith("seam_")
    assert "head chef" in told
    assert out.strip() not in told
    assert status_of(tmp_path, out.strip()) == 200


def test_a_key_opens_its_scope_alone_until_it_is_revoked(run: Run, tmp_path: Path) -> None:
    run("migrate")
    key = run("keys", "create", "bar till", "--scope", "costs:read", "--days", "30").stdout.strip()
    assert [status_of(tmp_path, key, path) for path in ("/v1/dish-costs", "/v1/cut-costs")] == [200, 403]

    listed = run("keys", "list").stdout
    assert "bar till" in listed
    assert key not in listed
    assert run("keys", "revoke", key.split("_")[1]).exit_code == 0
    assert status_of(tmp_path, key, "/v1/dish-costs") == 401


def test_what_the_database_file_holds_is_for_its_owner_alone(run: Run, tmp_path: Path) -> None:
    run("migrate")
    run("backup", "ledger.jsonl")
    modes = {path.name: path.stat().st_mode & 0o077 for path in tmp_path.iterdir()}
    assert modes == {"seamcost.db": 0, "ledger.jsonl": 0}


@pytest.mark.parametrize(("arguments", "environment", "status", "named"), [
    (["keys", "create", "x", "--scope", "everything"], {}, 2, "costs:read"),
    (["keys", "create", "a\nb", "--scope", "read"], {}, 2, "U+000A"),
    (["keys", "create", "x", "--scope", "read", "--days", "0"], {}, 2, "--days"),
    (["keys", "create", "x"], {}, 2, "--scope"),
    (["keys", "revoke", "00000000"], {}, 2, "00000000"),
    (["costs", "dishes", "--as-of", "monday"], {}, 2, "--as-of"),
    (["costs", "dishes", "--known-at", "99"], {}, 2, "revision"),
    (["serve", "--port", "70000"], {}, 2, "--port"),
    (["serve"], {"SEAMCOST_PORT": "80a"}, 2, "SEAMCOST_PORT"),
    (["serve"], {"SEAMCOST_HOST": "192.0.2.1"}, 2, "SEAMCOST_HOST"),
    (["serve", "--demo", "--port", "0"], {"SEAMCOST_DATABASE_URL": "postgresql://localhost/seamcost"}, 2, "embedded"),
    (["migrate", "--database", "mysql://localhost/x"], {}, 2, "postgresql://"),
    (["migrate", "--database", "sqlite:///no/such/folder/x.db"], {}, 1, "open"),
    (["keys", "list", "--database", "sqlite:///missing.db"], {}, 1, "seamcost migrate"),
    (["costs", "cuts", "--database", "sqlite:///missing.db"], {}, 1, "seamcost migrate"),
    (["backup", "no/such/folder/x.jsonl"], {}, 1, "No such file"),
    (["restore", "missing.jsonl"], {}, 2, "missing.jsonl"),
    (["verify", "--anchor", "12"], {}, 2, "REVISION:HASH"),
    (["verify", "--anchor", f"1:{'0' * 64}"], {}, 1, "does not hold"),
])
def test_what_goes_wrong_is_told_in_a_sentence(
    run: Run, arguments: list[str], environment: dict[str, str], status: int, named: str
) -> None:
    assert run("migrate").exit_code == 0
    done = run(*arguments, **environment)

    assert (done.exit_code, done.stdout) == (status, "")
    assert "Traceback" not in done.stderr
    assert named in done.stderr
    assert len(done.stderr.splitlines()) <= 16  # a choice lists every scope


def test_a_defect_says_that_it_is_one_and_shows_where_when_asked(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_arguments: object) -> None:
        raise ZeroDivisionError("a planted defect")

    monkeypatch.setattr(operating, "verify", broken)
    told = run("verify")
    assert told.exit_code == 1
    assert "a planted defect" in told.stderr
    assert "--traceback" in told.stderr
    assert isinstance(run("--traceback", "verify").exception, ZeroDivisionError)


def test_a_flag_wins_over_the_environment(run: Run, tmp_path: Path) -> None:
    run("migrate", "--database", "sqlite:///flag.db", SEAMCOST_DATABASE_URL="sqlite:///environment.db")
    assert [path.name for path in tmp_path.iterdir()] == ["flag.db"]
    run("migrate", SEAMCOST_DATABASE_URL="sqlite:///environment.db")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["environment.db", "flag.db"]


def test_migrating_again_changes_nothing(run: Run, tmp_path: Path) -> None:
    run("migrate")
    before = run("verify").stdout
    assert run("migrate").exit_code == 0
    assert run("verify").stdout == before


def test_the_api_document_goes_to_standard_output_or_a_file(run: Run, tmp_path: Path) -> None:
    printed = run("openapi").stdout_bytes
    assert json.loads(printed)["openapi"].startswith("3.1.")
    assert run("openapi", "--output", "openapi.json").stdout == ""
    assert (tmp_path / "openapi.json").read_bytes() == printed


@pytest.mark.parametrize("name", ["ledger.jsonl", "ledger.jsonl.gz"])
def test_a_backup_restored_elsewhere_is_the_same_ledger(run: Run, demo_file: Path, name: str) -> None:
    assert demo_file.exists()
    assert run("backup", name).exit_code == 0
    assert run("restore", name, "--database", "sqlite:///other.db").exit_code == 0

    head = run("verify").stdout
    assert run("verify", "--database", "sqlite:///other.db").stdout == head
    assert run("verify", "--anchor", head.strip()).exit_code == 0
    for what in ("dishes", "cuts", "recipes"):
        assert run("costs", what, "--csv").stdout == run(
            "costs", what, "--csv", "--database", "sqlite:///other.db").stdout


def test_a_ledger_moves_to_either_database(run: Run, demo_file: Path, database_url: str) -> None:
    assert run("backup", "ledger.jsonl", "--database", f"sqlite:///{demo_file}").exit_code == 0
    assert run("restore", "ledger.jsonl", "--database", database_url).exit_code == 0
    moved = [run(*command, "--database", database_url).stdout for command in (["verify"], ["costs", "dishes"])]
    assert moved == [run(*command).stdout for command in (["verify"], ["costs", "dishes"])]
    assert "grilled-cap" in moved[1]


def test_neither_backup_nor_restore_goes_over_what_is_there(run: Run, demo_file: Path) -> None:
    run("backup", "ledger.jsonl")
    again = run("backup", "ledger.jsonl")
    assert (again.exit_code, "--force" in again.stderr) == (1, True)
    assert run("backup", "ledger.jsonl", "--force").exit_code == 0
    assert run("restore", "ledger.jsonl").exit_code == 1
    assert demo_file.exists()


def test_a_backup_cut_short_is_not_restored(run: Run, demo_file: Path, tmp_path: Path) -> None:
    run("backup", "ledger.jsonl", "--database", f"sqlite:///{demo_file}")
    whole = (tmp_path / "ledger.jsonl").read_bytes()
    (tmp_path / "ledger.jsonl").write_bytes(whole[: len(whole) // 2])

    done = run("restore", "ledger.jsonl", "--database", "sqlite:///other.db")

    assert done.exit_code == 1
    assert "ledger.jsonl" in done.stderr
    assert run("verify", "--database", "sqlite:///other.db").stdout.startswith("0:")


def test_a_renewed_signing_secret_ends_sessions_and_cursors_and_no_key(run: Run, demo_file: Path) -> None:
    """A worker of before goes by the old one, as the command says; one that starts afterwards by the new."""
    key = run("keys", "create", "chef", "--scope", "read").stdout.strip()
    clients = [wiring.web_app(Settings(database_url=f"sqlite:///{demo_file}")).test_client() for _ in range(2)]
    before, after = clients
    mine = {"Authorization": f"Bearer {key}"}
    page = f"/v1/ingredients?limit=1&cursor={before.get('/v1/ingredients?limit=1', headers=mine).json['next_cursor']}"
    cookie = before.post("/session", json={"key": key}).headers["Set-Cookie"].partition(";")[0]
    assert run("keys", "renew-signing-secret").exit_code == 0
    answers = [(client.get(page, headers=mine), client.get("/session", headers={"Cookie": cookie}))
               for client in clients]
    assert [(paged.status_code, session.json["signed_in"]) for paged, session in answers] == [(200, True), (422, False)]
    assert answers[1][0].json["type"].endswith("/wrong-cursor")
    assert after.get("/v1/ingredients?limit=1", headers=mine).status_code == 200
