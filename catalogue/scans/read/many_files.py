"""Reading many picture files at once, in processes of their own.

A damaged file can bring a decoder down for good. In a process of its own it takes nothing else with it: the file
is named, a new process takes its place, and the next file is read. The processes hold no numpy and no database.
"""

import os
import pickle
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from catalogue.errors import ArchiveProblem, InvalidInput, UnreadablePicture
from catalogue.scans.read.one_file import FileFacts, read_file

MOST_WORKERS = 16
SERVE = "from catalogue.scans.read.many_files import serve; serve()"


@dataclass(frozen=True)
class FileRead:
    """What became of one file: its facts, or the sentence that says why there are none."""

    path: Path
    facts: FileFacts | None
    reason: str = ""

    def __post_init__(self) -> None:
        if (self.facts is None) != bool(self.reason):
            raise ValueError(f"{self.path.name} needs either facts or a reason.")


def serve() -> None:
    """The other process: reads a path, answers with what became of it, until its input ends."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not get between the answers
    archive_folder: Path = pickle.load(sys.stdin.buffer)
    answer: FileRead | ArchiveProblem | str = "ready"
    with suppress(EOFError):
        while True:
            pickle.dump(answer, answers)
            answers.flush()
            answer = _answer(pickle.load(sys.stdin.buffer), archive_folder)


def _answer(path: Path, archive_folder: Path) -> FileRead | ArchiveProblem:
    try:
        return FileRead(path, read_file(path, archive_folder))
    except UnreadablePicture as problem:
        return FileRead(path, None, str(problem))
    except ArchiveProblem as problem:
        return problem


class _ReadingProcess:
    """One reading process, seen from outside."""

    def __init__(self, archive_folder: Path) -> None:
        # libvips would write its warnings about a file to our terminal; what matters is in the sentence.
        surroundings = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "VIPS_WARNING": "1"}
        self.process = subprocess.Popen(
            # A session of its own, so that Ctrl-C reaches us alone and the file in hand is finished.
            [sys.executable, "-W", "ignore", "-c", SERVE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=surroundings,
            start_new_session=True,
        )
        try:
            pickle.dump(archive_folder, self._pipe(self.process.stdin))
            self._pipe(self.process.stdin).flush()
            pickle.load(self._pipe(self.process.stdout))
        except (OSError, EOFError, pickle.UnpicklingError) as problem:
            self.close()  # else every file would be blamed in turn
            raise ArchiveProblem(
                f"No picture can be read: {sys.executable} does not start reading. Install the program again."
            ) from problem

    @staticmethod
    def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
        assert pipe is not None  # both were asked for
        return pipe

    def read(self, path: Path) -> FileRead:
        """What became of the file; raises `ArchiveProblem` where previews can't be written."""
        try:
            asked = self._pipe(self.process.stdin)
            pickle.dump(path, asked)
            asked.flush()
            answer: FileRead | ArchiveProblem = pickle.load(self._pipe(self.process.stdout))
        except (OSError, EOFError, pickle.UnpicklingError):
            self.close()  # it is ending; the next file must not be handed to it
            return FileRead(path, None, f"{path.name} brought its reader down; it may be damaged. Copy it again.")
        if isinstance(answer, ArchiveProblem):
            raise answer
        return answer

    def is_running(self) -> bool:
        """Whether it takes another file."""
        return self.process.poll() is None

    def close(self) -> None:
        """Ends it and waits until it has ended."""
        with suppress(OSError):
            self._pipe(self.process.stdin).close()
        self.process.wait()
        self._pipe(self.process.stdout).close()


def read_files(
    paths: Iterable[Path], archive_folder: Path, workers: int = 2, cancelled: Callable[[], bool] = lambda: False
) -> Iterator[FileRead]:
    """Reads the files in `workers` processes and gives each result as it is done, so not always in the order asked.

    Paths are taken one at a time. Once `cancelled` says so, or the iterator is closed, no further file is begun; those
    begun are finished. One that can't be read gives its reason and never stops the rest. Raises `InvalidInput` for an
    impossible number of workers and `ArchiveProblem` where previews can't be written.
    """
    if not 1 <= workers <= MOST_WORKERS:
        raise InvalidInput(f"{workers} workers are impossible; give 1 to {MOST_WORKERS}.")
    return _results(iter(paths), archive_folder, workers, cancelled)


def _results(paths: Iterator[Path], archive_folder: Path, workers: int, cancelled: Callable[[], bool]) -> Iterator[FileRead]:
    done: queue.Queue[FileRead | BaseException | None] = queue.Queue(maxsize=2 * workers)
    taking, stop = threading.Lock(), threading.Event()

    def work() -> None:
        reader: _ReadingProcess | None = None
        try:
            while not stop.is_set() and not cancelled():
                with taking:
                    path = next(paths, None)
                if path is None:
                    break
                if reader is None or not reader.is_running():
                    if reader is not None:
                        reader.close()
                    reader = _ReadingProcess(archive_folder)
                done.put(reader.read(path))
        except BaseException as problem:
            done.put(problem)
        finally:
            if reader is not None:
                reader.close()
            done.put(None)

    threads = [threading.Thread(target=work, name=f"reading {number}") for number in range(workers)]
    for thread in threads:
        thread.start()
    try:
        at_work = workers
        while at_work:
            result = done.get()
            if result is None:
                at_work -= 1
            elif isinstance(result, BaseException):
                raise result
            else:
                yield result
    finally:
        stop.set()
        while any(thread.is_alive() for thread in threads):
            with suppress(queue.Empty):  # a full queue would keep them waiting
                done.get(timeout=0.02)
