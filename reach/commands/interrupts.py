"""Ctrl-C ends a command with 130 within two seconds, whatever it is in the middle of.

Python raises KeyboardInterrupt in the main thread only between two of its own steps: a solver or compiler at
work holds it up, and a library that is being loaded or calls back into Python may lose it. So a thread of its
own hears of Ctrl-C at once and gives the command a moment to tidy up by itself; then it ends the process, its
children and its temporary files.
"""

from __future__ import annotations

import atexit
import multiprocessing
import os
import signal
import socket
import sys
import threading
from types import TracebackType
from typing import Any

from reach.files import drop_temporaries

PATIENCE_S = 1.2
STATUS = 130  # 128 and the number of the signal, as shells have it
WORDS = "stopped; nothing half-written is left."


class Interrupts:
    """Hears Ctrl-C while a command runs. asked : whether it was pressed."""

    def __init__(self) -> None:
        self.asked = False
        self._ended = threading.Event()
        self._hears, self._told = socket.socketpair()
        self._told.setblocking(False)
        signal.set_wakeup_fd(self._told.fileno(), warn_on_full_buffer=False)
        # one lost by a destructor or a callback is told by the thread; nothing to show
        self._before = sys.unraisablehook
        sys.unraisablehook = self._unraisable
        threading.Thread(target=self._listen, name="interrupts", daemon=True).start()

    def __enter__(self) -> Interrupts:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        signal.set_wakeup_fd(-1)
        if self.asked:  # what an interrupted library left half built complains until the very end
            atexit.register(_say_no_more)
        else:
            sys.unraisablehook = self._before

    def _unraisable(self, unraisable: Any) -> None:
        if not self.asked and not issubclass(unraisable.exc_type, KeyboardInterrupt):
            self._before(unraisable)

    def _listen(self) -> None:
        while number := self._hears.recv(1):
            if number[0] != signal.SIGINT:
                continue
            self.asked = True
            if not self._ended.wait(PATIENCE_S):
                _end()
            return


def _say_no_more() -> None:
    """All has been said; the interpreter, taking itself apart, writes past Python's own hooks."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)


def _end() -> None:
    for child in multiprocessing.active_children():
        child.kill()
    drop_temporaries()
    show_cursor = "\x1b[?25h" if sys.stderr.isatty() else ""  # a bar on its way hides it
    os.write(2, f"{show_cursor}{WORDS}\n".encode())
    os._exit(STATUS)
