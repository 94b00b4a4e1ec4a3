"""Where a database stands: a SQLite file over a network is not served, a server with few places is told of."""

import logging
from pathlib import Path

import pytest

from service import operating
from service.cli.serve import warn_of_connections
from service.persistence import where_it_stands
from service.settings import Settings
from tests.cli.conftest import Run
from tests.postgres import PostgresServer

MOUNTED = """22 1 0:20 / / rw,relatime shared:1 - ext4 /dev/root rw
30 22 0:31 / {folder} rw,relatime shared:2 - nfs4 files.example:/export rw,vers=4.2
31 30 0:32 / {folder}/here rw - tmpfs tmpfs rw
"""


@pytest.fixture
def over_a_network(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that the system says lies on another host, with one in it that does not."""
    folder = tmp_path / "on files"
    (folder / "here").mkdir(parents=True)
    mounts = tmp_path / "mountinfo"
    mounts.write_text(MOUNTED.format(folder=str(folder).replace(" ", "\\040")))
    monkeypatch.setattr(where_it_stands, "MOUNTS", mounts)
    return folder


def test_a_file_over_a_network_is_not_served_and_not_made(run: Run, over_a_network: Path) -> None:
    done = run("serve", "--database", f"sqlite:///{over_a_network}/ledger.db")
    assert (done.exit_code, "network (nfs4)" in done.stderr, "use PostgreSQL" in done.stderr) == (2, True, True)
    assert not (over_a_network / "ledger.db").exists()


def test_a_link_is_followed_and_a_local_folder_below_is_local(over_a_network: Path, tmp_path: Path) -> None:
    (tmp_path / "link.db").symlink_to(over_a_network / "ledger.db")
    told = [operating.place_of(Settings(database_url=f"sqlite:///{path}")).network for path in (
        tmp_path / "link.db", over_a_network / "here" / "ledger.db", tmp_path / "ledger.db")]
    assert told == ["nfs4", None, None]


def test_more_connections_than_the_server_gives_are_told_of(
    postgres_url: str, postgres_server: PostgresServer, caplog: pytest.LogCaptureFixture
) -> None:
    """Of 200 in all three are kept for others; a limit of the database's own is lower."""
    settings = Settings(database_url=postgres_url, database_connections=8)
    allowed = operating.place_of(settings).connections
    assert allowed == 200 - 3
    with caplog.at_level(logging.WARNING):
        warn_of_connections(settings, 24, allowed)
        assert caplog.messages == []
        warn_of_connections(settings, 25, allowed)
    assert "200 together" in caplog.text
    assert "SEAMCOST_DATABASE_CONNECTIONS" in caplog.text
    name = postgres_url.split("@/")[1].split("?")[0]
    postgres_server._run(f"ALTER DATABASE {name} CONNECTION LIMIT 20")
    assert operating.place_of(settings).connections == 20
