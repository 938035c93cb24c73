"""An orderly end when a key or another process asks for one: what has been found is written, and nothing is torn."""

import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType, TracebackType
from typing import Final, Self

from ventrules.cli.main import OF_SIGNAL

_ASK: Final = (signal.SIGINT, signal.SIGTERM)
_ONE_ASKING_S: Final = 1.0  # some tools send a signal to a process and to its group: that is asked once


class Stopped(KeyboardInterrupt):
    """The run was asked to end."""


class Stop:
    """While it is entered, SIGINT and SIGTERM raise `Stopped`, but never while something is held.

    A second signal, later than a second after the first, ends the process at once.
    """

    def __init__(self) -> None:
        self.signal: int | None = None
        self._asked_at = 0.0
        self._held = False
        self._before: dict[signal.Signals, signal.Handlers] = {}

    def __enter__(self) -> Self:
        """Take the signals over, but for those that are ignored; other threads than the main one cannot."""
        if threading.current_thread() is threading.main_thread():
            for which in _ASK:
                if signal.getsignal(which) is not signal.SIG_IGN:
                    self._before[which] = signal.signal(which, self._asked)  # type: ignore[assignment]
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Give the signals back.

        Raises:
            SystemExit: `Stopped` came this far.
        """
        for which, handler in self._before.items():
            signal.signal(which, handler)
        if isinstance(error, Stopped):
            raise SystemExit(self.status) from None

    @property
    def status(self) -> int | None:
        """The exit status of a run that was asked to end; None when it was not."""
        return None if self.signal is None else OF_SIGNAL + self.signal

    def hold(self) -> None:
        """Let nothing be torn from here on."""
        self._held = True

    @contextmanager
    def held(self) -> Iterator[None]:
        """Let nothing be torn within: a signal is only noted."""
        self.hold()
        try:
            yield
        finally:
            self._held = False

    def _asked(self, number: int, _frame: FrameType | None) -> None:
        now = time.monotonic()
        if self.signal is None:
            self.signal, self._asked_at = number, now
            if not self._held:
                raise Stopped
        elif now - self._asked_at > _ONE_ASKING_S:
            signal.signal(number, signal.SIG_DFL)
            os.kill(os.getpid(), number)
