"""Long work in a thread of its own: one of a name at a time, asked to stop, never left half done."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from catalogue.errors import StripleafError

Work = Callable[[Callable[[], bool]], None]
"""Takes a function that says whether to stop, and returns at the next good place where it does."""


@dataclass
class _Job:
    thread: threading.Thread
    stop: threading.Event
    said: str = ""
    counted: tuple[int, int] = (0, 0)


@dataclass
class Background:
    """The long work of one service."""

    jobs: dict[str, _Job] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self, name: str, work: Work) -> bool:
        """Begins the work unless it is under way already; says whether it was begun."""
        stop = threading.Event()

        def run() -> None:
            try:
                work(stop.is_set)
            except StripleafError as problem:
                self.say(name, str(problem))
            except Exception as mistake:  # whoever waits must hear of it; where it happened stands in the log
                logging.getLogger(__name__).exception("%s broke off", name)
                what = " ".join(f"{type(mistake).__name__}: {mistake}".split())[:300]
                self.say(name, f"It broke off ({what}). What was done is kept; begin it again to go on.")

        with self.lock:
            if self._running(name):
                return False
            self.jobs[name] = _Job(threading.Thread(target=run, name=name, daemon=True), stop)
            self.jobs[name].thread.start()
        return True

    def say(self, name: str, words: str) -> None:
        """Keeps a sentence about the work for whoever looks at it."""
        with self.lock:
            if name in self.jobs:
                self.jobs[name].said = words

    def said(self, name: str) -> str:
        """The last sentence about the work, or nothing."""
        with self.lock:
            return self.jobs[name].said if name in self.jobs else ""

    def count(self, name: str, done: int, total: int) -> None:
        """Keeps how much of the work is done."""
        with self.lock:
            if name in self.jobs:
                self.jobs[name].counted = (done, total)

    def counted(self, name: str) -> tuple[int, int]:
        """How much is done, and of how much; nothing of nothing for work that wasn't begun."""
        with self.lock:
            return self.jobs[name].counted if name in self.jobs else (0, 0)

    def _running(self, name: str) -> bool:
        return name in self.jobs and self.jobs[name].thread.is_alive()

    def running(self, name: str) -> bool:
        """Whether the work is under way."""
        with self.lock:
            return self._running(name)

    def stop(self, name: str) -> None:
        """Asks the work to stop at the next good place."""
        with self.lock:
            if name in self.jobs:
                self.jobs[name].stop.set()

    def wait(self, name: str, seconds: float = 60) -> None:
        """Waits until the work has ended."""
        with self.lock:
            job = self.jobs.get(name)
        if job:
            job.thread.join(seconds)

    def close(self) -> None:
        """Asks everything to stop and waits for it."""
        for name in list(self.jobs):
            self.stop(name)
        for name in list(self.jobs):
            self.wait(name)
