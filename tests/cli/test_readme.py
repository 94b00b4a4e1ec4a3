"""The README's tour, run word for word against the demo that its own command serves."""

import signal
from pathlib import Path

from tests.cli.conftest import Start
from tests.cli.test_serve import introduced, stopped
from tests.stories.readme_tour import README, pieces, run


def test_every_answer_of_the_tour_is_what_the_service_gives(start: Start, tmp_path: Path) -> None:
    served = introduced(start("serve", "--demo", "--port", "0"), "Try:")
    tour = pieces(README.read_text(encoding="utf-8"))

    printed = list(run(tour, served.url, served.key))
    stopped(served.process, signal.SIGTERM)

    assert len(tour) >= 8
    assert printed == [piece.printed for piece in tour]
