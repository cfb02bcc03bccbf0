"""The survey in a process of its own, so that the board stays quick while it thinks.

Run as ``python -m longlens.studio.solver``: documents come in by standard input and answers go out by standard output, as
pickles between this program's own two processes (nothing from a file is ever unpickled). It ends with its parent, because
its input ends then.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from longlens.dossier.exchange import ExchangeDocument

#: What comes back: ("progress", word, part), ("solved", Solution), ("needs", reason, needs) or ("failed", text).
Message = tuple[Any, ...]


class Solver:
    """One worker process; one document at a time. Started when first asked."""

    def __init__(self, tell: Callable[[int, Message], None]) -> None:
        """``tell(ticket, message)`` is called from a thread of the solver's own."""
        self._tell = tell
        self._process: subprocess.Popen[bytes] | None = None
        self._ticket = 0

    def solve(self, document: ExchangeDocument, draws: int) -> int:
        """Begin; returns the ticket that the messages will carry. The one before must have ended."""
        self._ticket += 1
        if self._process is None or self._process.poll() is not None:
            self._start()
        assert self._process is not None and self._process.stdin is not None
        _put(self._process.stdin, (self._ticket, document, draws))
        return self._ticket

    def stop(self) -> None:
        """End the process; whatever it was at is given up."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    def _start(self) -> None:
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "longlens.studio.solver"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
        )
        threading.Thread(target=self._listen, args=(self._process,), daemon=True).start()

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdout is not None
        try:
            while True:
                ticket, message = pickle.load(process.stdout)  # noqa: S301 - our own worker's
                self._tell(ticket, message)
        except (EOFError, OSError, pickle.UnpicklingError):
            if process is self._process:  # it was not we who ended it
                self._tell(self._ticket, ("failed", "the survey's process ended early (out of memory?)"))


def _put(stream: IO[bytes], what: Any) -> None:
    pickle.dump(what, stream, protocol=pickle.HIGHEST_PROTOCOL)
    stream.flush()


def _work() -> None:
    """The worker's loop."""
    results = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    sys.stdout = sys.stderr  # a stray print must not break the stream
    with contextlib.suppress(OSError):
        os.nice(5)  # the page in front of the person goes first
    from longlens.errors import LonglensError, NotSolvable
    from longlens.systems.surveying import solve

    while True:
        try:
            ticket, document, draws = pickle.load(sys.stdin.buffer)  # noqa: S301 - our own parent's
        except EOFError:
            return

        def tell(word: str, part: float, ticket: int = ticket) -> None:
            _put(results, (ticket, ("progress", word, part)))

        answer: Message
        try:
            answer = ("solved", solve(document, draws=draws, progress=tell))
        except NotSolvable as e:
            answer = ("needs", e.what, list(e.needs))
        except LonglensError as e:
            answer = ("needs", str(e), [])
        except Exception as e:
            answer = ("failed", f"the survey made a mistake ({type(e).__name__}: {e})")
        _put(results, (ticket, answer))


if __name__ == "__main__":
    with contextlib.suppress(BrokenPipeError, KeyboardInterrupt):
        _work()
