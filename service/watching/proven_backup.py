"""When a backup was last proven, told where it lies: a file beside the backups, in Prometheus's text format.

No row of the ledger: what was proven is a file in this folder, and its date is what a health check asks for.
Prometheus reads it where the folder is shown to a collector of text files.

Source: Prometheus documentation, "Exposition formats"; prometheus-client, "Textfile collector".
"""

from datetime import datetime
from pathlib import Path

from prometheus_client import CollectorRegistry, Gauge, write_to_textfile

PROVEN = "proven.prom"


def tell_proven(folder: Path, at: datetime, revision: int) -> None:
    """Note in a folder that its backup of that moment and revision was proven: the file is there whole, or as it was.

    Raises:  OSError.
    """
    registry = CollectorRegistry()
    Gauge("seamcost_proven_backup_timestamp_seconds", "Of which moment the newest backup is that was proven.",
          registry=registry).set(at.timestamp())
    Gauge("seamcost_proven_backup_revision", "At which revision of the ledger it stands.",
          registry=registry).set(revision)
    write_to_textfile(str(folder / PROVEN), registry)
