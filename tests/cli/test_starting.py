"""What a start of the service imports, and what it leaves for when it is needed."""

import subprocess
import sys
from pathlib import Path

from service.persistence.migrating import migrate

LATER = ("alembic", "mako", "joserfc", "cryptography", "opentelemetry")
"""What migrations, an identity provider and traces need: together a fifth of the time until a start is ready."""
ASKED = """
import gc, sys
from service.cli.__main__ import main
sys.argv = ["seamcost", "migrate"]
try:
    main()
finally:
    print(*sorted({name.partition(".")[0] for name in sys.modules}), gc.isenabled(), gc.get_freeze_count() > 100_000)
"""


def test_a_database_that_is_up_to_date_is_served_without_what_only_a_change_needs(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(url)
    done = subprocess.run([sys.executable, "-c", ASKED], text=True, capture_output=True, timeout=120, check=True,
                          env={"SEAMCOST_DATABASE_URL": url})
    *imported, collects, frozen = done.stdout.split()
    assert {"flask", "sqlalchemy"} <= set(imported)
    assert not set(LATER) & set(imported)
    assert (collects, frozen, done.stderr) == ("True", "True", "The database is up to date.\n")
