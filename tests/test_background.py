"""Long work beside the requests: one of a name at a time, stopped when asked, and a failure told in a sentence."""

import logging
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from builders import registered
from scan_scenes import web_copies

from api.long.background import Background
from api.long.scan_jobs import CHECK, begin_check, begin_reading, go_on_reading, stop_reading, work_of
from catalogue.errors import ArchiveProblem, InvalidInput, NotFound, OutsideScanFolder
from catalogue.scans.match.approve import approve
from catalogue.scans.match.propose import proposal
from catalogue.scans.read.folder_runs import RunProgress, run_progress, start_run
from catalogue.store.engine import Archive

Stop = Callable[[], bool]
LONG = 30.0
"""Seconds; only a mistake makes a test wait so long."""


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


class Held:
    """Work that begins, and goes on until it is let go or asked to stop."""

    def __init__(self) -> None:
        self.begun, self.free, self.ended = threading.Event(), threading.Event(), threading.Event()

    def __call__(self, stop: Stop) -> None:
        self.begun.set()
        while not stop() and not self.free.wait(0.005):
            pass
        self.ended.set()


def test_of_one_name_there_is_one_work_at_a_time(background: Background) -> None:
    first, second, other = Held(), Held(), Held()
    assert background.start("reading 1", first)
    assert first.begun.wait(LONG)
    assert not background.start("reading 1", second)
    assert background.start("reading 2", other)
    assert background.running("reading 1")
    first.free.set()
    background.wait("reading 1", LONG)
    assert first.ended.is_set()
    assert not background.running("reading 1")
    assert not second.begun.is_set()
    assert background.running("reading 2")
    assert background.start("reading 1", second)


def test_many_who_begin_at_once_begin_one(background: Background) -> None:
    gate, works, begun = threading.Barrier(8), [Held() for _ in range(8)], []

    def begin(work: Held) -> None:
        gate.wait(LONG)
        begun.append(background.start("check", work))

    threads = [threading.Thread(target=begin, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(LONG)
    assert sorted(begun) == [False] * 7 + [True]


def test_stopping_asks_and_waiting_waits(background: Background) -> None:
    work = Held()
    background.start("check", work)
    background.stop("check")
    background.wait("check", LONG)
    assert work.ended.is_set()
    assert not background.running("check")


def test_what_is_not_there_can_be_stopped_and_waited_for(background: Background) -> None:
    background.stop("nothing")
    background.wait("nothing")
    background.say("nothing", "heard by nobody")
    assert (background.running("nothing"), background.said("nothing")) == (False, "")
    background.close()
    background.close()


def test_closing_waits_for_everything(background: Background) -> None:
    works = [Held() for _ in range(3)]
    for number, work in enumerate(works):
        background.start(f"reading {number}", work)
    background.close()
    assert all(work.ended.is_set() for work in works)
    assert not any(background.running(f"reading {number}") for number in range(3))


def test_the_failing_works_sentence_is_kept_until_it_begins_anew(background: Background) -> None:
    def failing(stop: Stop) -> None:
        raise InvalidInput("The folder is on a disk that is away. Plug it in.")

    background.start("reading 1", failing)
    background.wait("reading 1", LONG)
    assert background.said("reading 1") == "The folder is on a disk that is away. Plug it in."
    background.start("reading 1", lambda stop: None)
    background.wait("reading 1", LONG)
    assert background.said("reading 1") == ""


def test_a_mistake_of_the_program_is_told_too(background: Background, caplog: pytest.LogCaptureFixture) -> None:
    def mistaken(stop: Stop) -> None:
        raise OSError(28, "No space left on device")

    with caplog.at_level(logging.ERROR):
        background.start("check", mistaken)
        background.wait("check", LONG)
    assert "No space left on device" in background.said("check")
    assert background.said("check").endswith(".")
    assert "\n" not in background.said("check")
    assert caplog.records[0].exc_info  # where it happened stands in the log
    assert not background.running("check")


@pytest.fixture
def ready(archive: Archive) -> Path:
    """Roll 2031-001 and a folder of three of its frames; gives the folder."""
    with archive.session() as session:
        registered(session, 3, number="2031-001")
    web_copies(archive.folder / "scans" / "a", ["1", "2", "3"])
    return archive.folder / "scans" / "a"


def state(archive: Archive, run: int = 1) -> str:
    with archive.session(reading=True) as session:
        return run_progress(session, run).state


def test_a_reading_ends_with_a_proposal(archive: Archive, background: Background, ready: Path) -> None:
    begun = begin_reading(archive, background, "a", "2031-001")
    assert begin_reading(archive, background, "a", "2031-001").id == begun.id
    background.wait(work_of(begun.id), LONG)
    with archive.session(reading=True) as session:
        assert run_progress(session, begun.id).method == "names"
        assert [line.label for line in proposal(session, begun.id)] == ["1", "2", "3"]
    assert background.said(work_of(begun.id)) == ""


@pytest.mark.parametrize(
    ("folder", "number", "error"),
    [("none", "2031-001", NotFound), ("a", "1999-001", NotFound), ("..", "2031-001", OutsideScanFolder)],
)
def test_what_cannot_be_read_begins_nothing(
    archive: Archive, background: Background, ready: Path, folder: str, number: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        begin_reading(archive, background, folder, number)
    assert background.jobs == {}
    with pytest.raises(NotFound):
        run_progress_of(archive, 1)


def run_progress_of(archive: Archive, run: int) -> RunProgress:
    with archive.session(reading=True) as session:
        return run_progress(session, run)


def test_readings_that_are_none_begin_nothing(archive: Archive, background: Background) -> None:
    for act in (go_on_reading, stop_reading):
        with pytest.raises(NotFound):
            act(archive, background, 7)
    assert background.jobs == {}


def test_a_reading_that_breaks_off_says_why_and_can_go_on(
    archive: Archive, background: Background, ready: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> RunProgress:
        raise ArchiveProblem("Previews can't be written. Make room on the disk.")

    with monkeypatch.context() as patched:
        patched.setattr("api.long.scan_jobs.read_run", full)
        begin_reading(archive, background, "a", "2031-001")
        background.wait(work_of(1), LONG)
    assert background.said(work_of(1)) == "Previews can't be written. Make room on the disk."
    go_on_reading(archive, background, 1)
    background.wait(work_of(1), LONG)
    assert (state(archive), background.said(work_of(1))) == ("read", "")


def test_a_reading_is_stopped_before_its_first_file(archive: Archive, background: Background, ready: Path) -> None:
    with archive.session() as session:
        run = start_run(session, "a", "2031-001").id
    held = Held()
    background.start(work_of(run), held)
    assert stop_reading(archive, background, run).state == "stopped"
    assert held.ended.is_set()
    assert stop_reading(archive, background, run).state == "stopped"


def test_a_tied_reading_is_not_read_on(archive: Archive, background: Background, ready: Path) -> None:
    begin_reading(archive, background, "a", "2031-001")
    background.wait(work_of(1), LONG)
    with archive.session() as session:
        approve(session, 1)
    with pytest.raises(InvalidInput, match="Undo it first"):
        go_on_reading(archive, background, 1)
    assert state(archive) == "linked"
    assert not background.running(work_of(1))


@pytest.mark.parametrize("megabytes", [0, -1, 10_000_001, 10**30])
def test_a_check_of_impossibly_much_is_refused(archive: Archive, background: Background, megabytes: int) -> None:
    with pytest.raises(InvalidInput, match=f"{megabytes} MB"):
        begin_check(archive, background, megabytes)
    assert background.jobs == {}


def test_a_check_says_what_it_found(archive: Archive, background: Background, ready: Path) -> None:
    begin_reading(archive, background, "a", "2031-001")
    background.wait(work_of(1), LONG)
    (ready / "2.jpg").unlink()
    begin_check(archive, background, None)
    background.wait(CHECK, LONG)
    assert background.said(CHECK).startswith("3 files (")
    assert "1 not as they were linked" in background.said(CHECK)
