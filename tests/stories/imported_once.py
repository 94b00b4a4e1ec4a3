"""gunicorn's settings in stories: what the workers run is imported before they are forked, as `seamcost serve` has it.

Each worker would else import it again: with several hundred workers in a run of all tests that is minutes.
What is imported stays: the collector of garbage never looks at it (as `service/cli/__main__.py`).
"""

import gc

gc.disable()
import service.wiring  # noqa: E402, F401

gc.freeze()
gc.enable()
