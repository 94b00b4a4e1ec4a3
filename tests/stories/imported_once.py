"""gunicorn's settings in stories: what the workers run is imported before they are forked, as `seamcost serve` has it.

Each worker would else import it again: with several hundred workers in a run of all tests that is minutes.
"""

import service.wiring  # noqa: F401
