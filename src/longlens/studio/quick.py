"""Quick answers in a thread of their own: the loop that serves the tabs only asks and hears.

Every answer is worked out from the last full survey and the document alone, never from the quick answer before it. So what
comes out does not hang on which requests were dropped in between: the same survey and the same records give the same numbers,
to the bit.
"""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from longlens.errors import LonglensError

if TYPE_CHECKING:
    from longlens.dossier.exchange import ExchangeDocument
    from longlens.survey.answer import Solution
    from longlens.survey.live import Live


@dataclass(frozen=True)
class Asked:
    """One request: the stage, the base of its last full survey, the document and its hash."""

    stage: str | None
    live: Live
    document: ExchangeDocument
    key: str


@dataclass(frozen=True)
class Found:
    """What came of it. ``solution`` None: the full survey must be asked, because of ``why``."""

    asked: Asked
    solution: Solution | None
    answer: dict[str, Any] | None
    why: str = ""


def quick_answer(asked: Asked) -> Found:
    """The new answer from the solution that stands, where that is honest (survey/live.py says when)."""
    from longlens.survey.report import answer

    asked.live.warm()
    try:
        # on a copy: the base stays the full survey's
        got = copy.copy(asked.live).update(asked.document)
    except LonglensError as error:
        return Found(asked, None, None, str(error))  # the full survey will say it in its own words
    if got.solution is None:
        return Found(asked, None, None, got.why)
    return Found(asked, got.solution, answer(got.solution, covariances=False))


class Quick:
    """The thread. One request waits at most: a newer one takes its place. ``tell`` is called from the thread."""

    def __init__(self, tell: Callable[[Found], None]) -> None:
        self._tell = tell
        self._next: Asked | Live | None = None
        self._there = threading.Condition()
        self._thread: threading.Thread | None = None

    def ask(self, what: Asked) -> None:
        """Ask for the newest; what waited is dropped, what is being worked on ends and is told."""
        self._put(what)

    def warm(self, live: Live) -> None:
        """Do beforehand what the first request would need, unless a request waits already."""
        self._put(live, only_if_idle=True)

    def _put(self, what: Asked | Live, *, only_if_idle: bool = False) -> None:
        with self._there:
            if only_if_idle and self._next is not None:
                return
            self._next = what
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="quick answers", daemon=True)
                self._thread.start()
            self._there.notify()

    def _run(self) -> None:
        while True:
            with self._there:
                while self._next is None:
                    self._there.wait()
                what, self._next = self._next, None
            if not isinstance(what, Asked):
                what.warm()
                continue
            try:
                found = quick_answer(what)
            except Exception as error:  # the full survey follows in any case
                found = Found(what, None, None, f"the quick answer made a mistake ({type(error).__name__}: {error})")
            self._tell(found)
