"""Progress that people can follow: a bar on a terminal, now and then a plain line elsewhere."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Self

from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

if TYPE_CHECKING:
    from types import TracebackType

    from rich.console import Console

_EVERY_SECONDS = 10.0


class Teller:
    """Says how far the demo is; a context manager that leaves the screen tidy."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._started = self._last_line = time.monotonic()
        self._bar = (
            Progress(
                TextColumn("{task.description}"),
                BarColumn(bar_width=20),
                MofNCompleteColumn(),
                TimeElapsedColumn(),
                console=console,
                transient=True,
            )
            if console.is_terminal
            else None
        )
        self._task = self._bar.add_task("starting", total=None) if self._bar else None

    def __enter__(self) -> Self:
        if self._bar:
            self._bar.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.done()

    def note(self, text: str) -> None:
        """Say one thing at once."""
        self._console.print(f"{self._clock()} {text}", markup=False, highlight=False)

    def progress(self, done: int, total: int, what: str) -> None:
        """The planner's kind of progress: so many of so many."""
        if self._bar and self._task is not None:
            self._bar.update(self._task, completed=done, total=total, description=what[:40].ljust(40))
        now = time.monotonic()
        if done == total or (self._bar is None and now - self._last_line >= _EVERY_SECONDS):
            self._last_line = now
            self.note(f"{done} of {total} {what}")

    def done(self) -> None:
        """Take the bar off the screen."""
        if self._bar:
            self._bar.stop()

    def _clock(self) -> str:
        return f"[{time.monotonic() - self._started:3.0f} s]"
