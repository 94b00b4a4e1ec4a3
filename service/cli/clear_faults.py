"""What went wrong, as one clear sentence on standard error: never a traceback.

Exit status 2 is for what was asked wrongly (a flag, a setting, a value), 1 for what could not be done.
"""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any

import click

from service.domain.errors import Fault, NotFound, WrongValue
from service.persistence.backup_folder import FolderBusy, NotProven
from service.persistence.engines import DatabaseUrlWrong
from service.persistence.restoring import BackupDamaged, LedgerNotEmpty
from service.settings import SettingWrong
from service.use_cases.ledger_unavailable import LedgerUnavailable
from service.watching.writing_logs import writes_json

LOG = logging.getLogger("seamcost.cli")


class ClearFault(click.ClickException):
    """What could not be done, as a sentence: for who typed the command, or as a line of a log for machines."""

    exit_code = 1

    def show(self, file: IO[Any] | None = None) -> None:
        if writes_json():
            LOG.error("%s", self.message, extra={"fields": {"event": "could not"}})
        else:
            super().show(file)


class AskedWrongly(ClearFault):
    """What was asked wrongly, and the mend."""

    exit_code = 2


@contextmanager
def clear_faults() -> Iterator[None]:
    """Turn every fault that has a meaning for who typed the command into its sentence; a defect says that it is one."""
    try:
        yield
    except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
        raise
    except (SettingWrong, DatabaseUrlWrong) as wrong:
        raise AskedWrongly(str(wrong)) from wrong
    except Fault as fault:
        asked_wrongly = isinstance(fault, WrongValue | NotFound)
        raise (AskedWrongly if asked_wrongly else ClearFault)(fault.detail) from fault
    except (LedgerUnavailable, LedgerNotEmpty, BackupDamaged, FolderBusy, NotProven) as error:
        raise ClearFault(str(error)) from error
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        raise ClearFault(f"{named}{error.strerror or error}".rstrip(".") + ".") from error
    except Exception as defect:
        first_line = (str(defect).splitlines() or [""])[0]
        raise ClearFault(
            f"Something broke inside seamcost ({type(defect).__name__}: {first_line}). "
            "`seamcost --traceback COMMAND` shows where.") from defect
