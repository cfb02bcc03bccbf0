"""The survey in a process of its own, so that the board stays quick while it thinks; what was solved before is only read.

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
    """One worker process; one document at a time. Started when first there is something to solve."""

    def __init__(self, tell: Callable[[int, Message], None]) -> None:
        """``tell(ticket, message)`` is called from a thread of the solver's own."""
        self._tell = tell
        self._process: subprocess.Popen[bytes] | None = None
        self._ticket = self._given_up = 0
        self._lock = threading.Lock()

    def solve(self, document: ExchangeDocument, draws: int) -> int:
        """Begin; returns the ticket that the messages will carry. The one before must have ended."""
        self._ticket += 1
        threading.Thread(target=self._begin, args=(self._ticket, document, draws), daemon=True).start()
        return self._ticket

    def stop(self) -> None:
        """End the process; whatever it was at is given up."""
        with self._lock:
            self._given_up = self._ticket
            process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    def _begin(self, ticket: int, document: ExchangeDocument, draws: int) -> None:
        """The answer at once where it is kept; else the document goes to the process."""
        known = _kept(document, draws)
        with self._lock:
            if ticket <= self._given_up:
                return
            if known is None and (self._process is None or self._process.poll() is not None):
                self._start()
            process = self._process
        if known is not None:
            self._tell(ticket, known)
            return
        assert process is not None and process.stdin is not None
        with contextlib.suppress(OSError, ValueError):  # ended meanwhile: whoever listens to it hears so
            _put(process.stdin, (ticket, document, draws))

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


def _kept(document: ExchangeDocument, draws: int) -> Message | None:
    """What the process would answer, where that takes no solving."""
    from longlens.errors import NotSolvable
    from longlens.systems.surveying import recall

    try:
        found = recall(document, draws=draws)
    except NotSolvable as e:
        return "needs", e.what, list(e.needs)
    except Exception:  # the process will say what is wrong
        return None
    return None if found is None else ("solved", found)


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
