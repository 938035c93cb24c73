"""How far a long run is: on standard error, where that is a terminal and standard output is none."""

import os
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Final, Protocol

from ventrules.cli.standard import STDIN
from ventrules.files import What, find_jobs

if TYPE_CHECKING:  # slow to import, and needed on a terminal only
    from rich.progress import Progress, TaskID

FIRST_S: Final = 1.0  # a run that is over sooner shows nothing
_UNABLE: Final = ("dumb", "unknown")  # terminals that cannot take a line back
_EACH_S: Final = 0.1
_PER_SECOND: Final = 5.0
_BAR_WIDTH: Final = 20  # beside it, a million jobs and their rate have room on 80 columns
_PIECE_BYTES: Final = 1024 * 1024


class Meter(Protocol):
    """Is told how far a run is."""

    @property
    def total(self) -> int | None:
        """How many jobs there are, where that is known."""

    def tell(self, done: int) -> None:
        """Take in how many jobs are done."""


class _NoMeter:
    total = None

    def tell(self, done: int) -> None:
        """Take it in, and show nothing."""


@contextmanager
def metered(paths: Sequence[str], *, lines: bool, wanted: bool) -> Iterator[Meter]:
    """Show how far a run is, if that is wanted and there is a terminal to show it on.

    Findings and progress on one terminal would be in each other's way, so that there is no bar where standard output is
    a terminal as well.

    Args:
        paths: What the run was given.
        lines: Whether standard input and files named have a job a line.
        wanted: Whether to show it.
    """
    if not wanted or not sys.stderr.isatty() or sys.stdout.isatty() or os.environ.get("TERM") in _UNABLE:
        yield _NoMeter()
        return
    count = _Count(paths, lines=lines)
    bar = _Bar(count)
    try:
        yield bar
    finally:
        count.stopped = True
        bar.close()


class _Count(threading.Thread):
    """Counts what a run will come to while it goes on; the total is None until it is known."""

    def __init__(self, paths: Sequence[str], *, lines: bool) -> None:
        super().__init__(name="count", daemon=True)
        self.total: int | None = None
        self.stopped = False
        self._paths = paths
        self._lines = lines

    def run(self) -> None:
        """Count, without looking into the files of folders."""
        if STDIN in self._paths and self._lines:
            return  # it is as long as it will be
        total = int(STDIN in self._paths)
        for found in find_jobs((path for path in self._paths if path != STDIN), lines=self._lines, look=False):
            if self.stopped:
                return
            total += self._jobs_in(found.path) if found.what is What.LINES else 1
        self.total = total

    def _jobs_in(self, path: FilePath) -> int:
        count, last = 0, b"\n"
        try:
            with path.open("rb") as stream:
                while (piece := stream.read(_PIECE_BYTES)) and not self.stopped:
                    count, last = count + piece.count(b"\n"), piece[-1:]
        except OSError:
            return 1
        return count + (last != b"\n")


class _Bar:
    def __init__(self, count: _Count) -> None:
        self._count = count
        self._next = time.monotonic() + FIRST_S
        self._shown: tuple[Progress, TaskID] | None = None

    @property
    def total(self) -> int | None:
        """How many jobs there are, where that is known."""
        return self._count.total

    def tell(self, done: int) -> None:
        """Show how many jobs are done, now and then."""
        now = time.monotonic()
        if now < self._next:
            return
        self._next = now + _EACH_S
        if self._shown is None:
            self._count.start()
            progress = _progress()
            self._shown = progress, progress.add_task("", total=None)
            progress.start()
        progress, task = self._shown
        progress.update(task, completed=done, total=self._count.total)

    def close(self) -> None:
        """Take the bar away."""
        if self._shown is not None:
            self._shown[0].stop()


def _progress() -> "Progress":
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import BarColumn, Progress, ProgressColumn, Task, TimeRemainingColumn  # noqa: PLC0415
    from rich.table import Column  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    class Counted(ProgressColumn):
        def render(self, task: Task) -> Text:
            of = f" of {task.total:,.0f}" if task.total is not None else ""
            rate = f", {task.speed:,.0f} a second" if task.speed else ""
            return Text(f"{task.completed:,.0f}{of} jobs{rate}")

    class Left(TimeRemainingColumn):
        def render(self, task: Task) -> Text:
            shown = super().render(task)
            return shown.append(" left") if task.total is not None else Text("")

    return Progress(
        BarColumn(bar_width=_BAR_WIDTH),
        Counted(table_column=Column(no_wrap=True)),
        Left(compact=True),
        console=Console(stderr=True),
        transient=True,
        refresh_per_second=_PER_SECOND,
        redirect_stdout=False,
        redirect_stderr=False,
    )
