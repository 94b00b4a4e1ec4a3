"""Progress of long work, on standard error: one line that moves on a terminal, a line now and then elsewhere."""

import sys
import time

import click

SECONDS_BETWEEN_LINES = 2.0


class Progress:
    """Told how much is done; shows it. Nothing is shown of work that is over at once, but for its last line."""

    def __init__(self, what: str, unit: str, total: int | None = None) -> None:
        self._what, self._unit, self._total = what, unit, total
        self._shown_at = time.monotonic()
        self._moves = sys.stderr.isatty()

    def __call__(self, done: int) -> None:
        """Show that so much is done, if it is time to."""
        now = time.monotonic()
        if self._moves:
            click.echo(f"\r{self._line(done)}", err=True, nl=False)
        elif now - self._shown_at >= SECONDS_BETWEEN_LINES:
            click.echo(self._line(done), err=True)
            self._shown_at = now

    def finish(self, done: int) -> None:
        """Show the last line."""
        click.echo(f"{chr(13) if self._moves else ''}{self._line(done)}, done.", err=True)

    def _line(self, done: int) -> str:
        of = "" if self._total is None else f" of {self._total}"
        return f"{self._what}: {done}{of} {self._unit}"
