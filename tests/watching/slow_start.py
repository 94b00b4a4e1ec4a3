"""`seamcost`, whose first snapshots take as long as the file is there that SLOW_START names.

    python -m tests.watching.slow_start serve ...
"""

import os
import time
from pathlib import Path
from typing import Any

from service import wiring
from service.cli.commands import main


def switch_slowness_in() -> None:
    build = wiring.build_first

    def slow(*arguments: Any) -> None:
        while Path(os.environ["SLOW_START"]).exists():
            time.sleep(0.02)
        build(*arguments)

    wiring.build_first = slow


if __name__ == "__main__":
    switch_slowness_in()
    main(prog_name="seamcost")
