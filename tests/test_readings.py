"""A folder of scans read, matched, approved and undone; found again from a crop; nothing half-linked, ever."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from builders import painted_page
from PIL import Image, ImageOps
from scan_scenes import Folder, as_image, copied, frame_picture, mixed_folder, web_copies
from small_scans import tied_by_name
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound, UnreadablePicture
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll
from catalogue.scans.look.fingerprints import fingerprint_of, grey_of
from catalogue.scans.look.frame_pictures import frame_picture as frame_picture_of
from catalogue.scans.look.from_picture import from_picture, read_query
from catalogue.scans.look.showing_positive import positive_of_roll
from catalogue.scans.match.approve import approve, undo
from catalogue.scans.match.propose import ProposalLine, proposal, propose, settle
from catalogue.scans.read.folder_runs import read_run, run_progress, start_run, stop_run
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.scans import RunFile, Scan, ScanFile

LABELS = [str(n) for n in range(1, 37)]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Folder]:
    """An archive folder with a roll of 36, small positives linked by name, and a mixed folder of copies read, not yet matched."""
    folder = tmp_path_factory.mktemp("readings") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(session, NewRoll(number="2031-050", frames=36, layout="135-6x6", process=None))
    web_copies(folder / "scans" / "web", LABELS)
    what = mixed_folder(folder / "scans" / "copies", LABELS)
    with archive.session() as session:
        tied_by_name(session, "2031-050", "web")
        run = start_run(session, "copies", "2031-050").id
    read_run(archive, run)
    archive.close()
    return folder, what


@pytest.fixture
def read(made: tuple[Path, Folder], tmp_path: Path) -> Iterator[tuple[Archive, Folder, int]]:
    """A copy of it, so that each test may do with it what it likes."""
    shutil.copytree(made[0], tmp_path / "archive")
    archive = open_archive(tmp_path / "archive")
    yield archive, made[1], 1
    archive.close()


@pytest.fixture(scope="module")
def tied(made: tuple[Path, Folder], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """A copy with everything tied by picture, only to be looked into."""
    folder = tmp_path_factory.mktemp("tied") / "archive"
    shutil.copytree(made[0], folder)
    archive = open_archive(folder)
    with archive.session() as session:
        propose(session, 1, "pictures")
        approve(session, 1)
    yield archive
    archive.close()


def lines_of(session: Session, run: int) -> dict[str, ProposalLine]:
    return {line.name: line for line in proposal(session, run)}


def test_a_mixed_folder_is_matched_by_picture_and_tied_with_one_approval(read: tuple[Archive, Folder, int]) -> None:
    archive, what, run = read
    with archive.session() as session:
        assert run_progress(session, run).refused == 1
        propose(session, run)
        assert run_progress(session, run).method == "pictures"
        lines = lines_of(session, run)
    assert {name: line.label for name, line in lines.items() if not line.refused} == what.frames
    assert "cut short" in lines[what.broken].refused
    assert lines[what.mirrored].mirrored
    assert [name for name, line in lines.items() if line.mirrored] == [what.mirrored]
    with archive.session(reading=True) as session:
        shown = [line for line in proposal(session, run) if not line.refused]
        doubtful = [bool(line.doubt) for line in shown]
        assert doubtful == sorted(doubtful, reverse=True)  # doubts first
        assert what.mirrored in [line.name for line in shown if line.doubt]
        assert session.exec(select(Scan).where(Scan.run_id == run)).all() == []  # nothing is tied before approval
    with archive.session() as session:
        assert approve(session, run) == 37
        scans = {f.label: f.scans for f in get_roll(session, "2031-050").frames}
    assert all(len([s for s in found if s.role == "master"]) == 1 for found in scans.values())
    assert len(scans[what.skipped]) == 1  # the small one from before, still its master
    assert sum(len(found) == 3 for found in scans.values()) == 2  # the repeats
    assert all(found[0].width_px == 1280 for label, found in scans.items() if label != what.skipped)
    mirrored = next(s for s in scans[LABELS[20]] if s.role == "master")
    assert mirrored.mirrored
    assert mirrored.path == f"copies/{what.mirrored}"


def test_negatives_are_shown_as_positives_and_positives_left_alone(read: tuple[Archive, Folder, int]) -> None:
    archive, what, run = read
    with archive.session() as session:
        record_process(session, "2031-050", ProcessInput(process="C-41"))
        propose(session, run)
        approve(session, run, "negative")
        frames = {f.label: f for f in get_roll(session, "2031-050").frames}
        found = positive_of_roll(session, "2031-050")
        assert found is not None
        assert found.exposure == "common"
        assert {s.polarity for f in frames.values() for s in f.scans if s.path.startswith("web/")} == {"positive"}
        assert {s.polarity for f in frames.values() for s in f.scans if s.path.startswith("copies/")} == {"negative"}
        for label in ("3", LABELS[20], what.skipped):
            with Image.open(frame_picture_of(session, frames[label].id)) as shown:
                small = np.asarray(shown.convert("L").resize((48, 32)), dtype=float)
            true = np.asarray(as_image(frame_picture(label)).convert("L").resize((48, 32)), dtype=float)
            # As the eye saw it, the mirrored one too: the tones run the same way at the same places.
            assert np.corrcoef(small.ravel(), true.ravel())[0, 1] > 0.9, label
        placed = [f for f in painted_page(session, 1) if f.picture]
        assert len(placed) == 36  # the page map and the contact sheet draw the same pictures


def test_one_press_undoes_the_whole_run(read: tuple[Archive, Folder, int]) -> None:
    archive, _, run = read
    with archive.session(reading=True) as session:
        before = [(f.label, [(s.path, s.role) for s in f.scans]) for f in get_roll(session, "2031-050").frames]
    with archive.session() as session:
        propose(session, run, "pictures")
        approve(session, run)
    with archive.session() as session:
        with pytest.raises(InvalidInput, match="already"):
            approve(session, run)
        assert undo(session, run) == 37
    with archive.session(reading=True) as session:
        assert [(f.label, [(s.path, s.role) for s in f.scans]) for f in get_roll(session, "2031-050").frames] == before
    with archive.session() as session:
        assert approve(session, run) == 37  # and it can be approved again


@pytest.mark.parametrize(
    ("label", "left", "top", "right", "bottom"),
    [  # each 60 to 68 % of the frame
        ("3", 0, 0, 0.78, 0.78), ("17", 0, 0, 0.78, 0.78), ("17", 0.2, 0.1, 1, 0.88), ("36", 0.2, 0.1, 1, 0.88),
        ("36", 0.15, 0, 0.8, 1), ("3", 0, 0.3, 1, 0.98),
    ],
)  # fmt: skip
def test_a_crop_of_any_picture_finds_its_negative(
    tied: Archive, label: str, left: float, top: float, right: float, bottom: float, tmp_path: Path
) -> None:
    whole = copied(label)
    crop = ImageOps.invert(ImageOps.mirror(whole.crop((
        int(left * whole.width), int(top * whole.height), int(right * whole.width), int(bottom * whole.height)
    ))))  # fmt: skip
    crop.convert("L").save(tmp_path / "found.jpg", quality=60)
    with tied.session(reading=True) as session:
        found = from_picture(session, read_query((tmp_path / "found.jpg").read_bytes()))
    first = found.hits[0]
    assert (first.hit.roll, first.hit.frame, first.sure) == ("2031-050", label, True)
    assert first.hit.address is not None
    assert first.hit.address.slot == (int(label) - 1) // 6 + 1


def test_a_picture_with_too_little_in_it_is_said_to_be_so(read: tuple[Archive, Folder, int]) -> None:
    archive, _, _ = read
    with archive.session(reading=True) as session:
        found = from_picture(session, fingerprint_of(grey_of(Image.new("L", (600, 400), 40))))
    assert (found.hits, found.enough) == ((), False)
    assert "too little" in found.words


def test_a_picture_of_something_else_is_not_taken_for_a_frame(read: tuple[Archive, Folder, int]) -> None:
    from skimage import data

    archive, _, _ = read
    with archive.session(reading=True) as session:
        found = from_picture(session, fingerprint_of(grey_of(Image.fromarray(data.astronaut()))))
    assert not any(h.sure for h in found.hits)
    assert "None of the" in found.words


@pytest.mark.parametrize("data", [b"", b"not a picture", b"\xff\xd8\xff\xe0" + b"\0" * 50])
def test_what_is_no_picture_is_said_in_a_sentence(data: bytes) -> None:
    with pytest.raises(UnreadablePicture, match="no picture that can be read"):
        read_query(data)


def test_reading_again_reads_no_finished_file(read: tuple[Archive, Folder, int], monkeypatch: pytest.MonkeyPatch) -> None:
    archive, what, _ = read
    with archive.session() as session:
        again = start_run(session, "copies", "2031-050").id  # the first run was read to its end, so this is another
        assert again != 1
    asked: list[Path] = []

    def none_read(paths: list[Path], *_: object) -> Iterator[object]:
        asked.extend(paths)
        return iter(())

    monkeypatch.setattr("catalogue.scans.read.folder_runs.read_files", none_read)
    read_run(archive, again)
    assert [p.name for p in asked] == [what.broken]


def test_a_stopped_run_goes_on_where_it_was(archive: Archive) -> None:
    folder = archive.folder / "scans" / "2031-001"
    web_copies(folder, LABELS[:8])
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-001", frames=8, layout="135-6x6"))
        run = start_run(session, "2031-001", "2031-001").id
    done: list[int] = []

    def stop_after_three(progress: object) -> None:
        done.append(1)
        if len(done) == 3:
            with archive.session() as session:
                stop_run(session, run)

    stopped = read_run(archive, run, workers=1, told=stop_after_three)
    assert stopped.state == "stopped"
    assert 3 <= stopped.done < 8
    with archive.session() as session:
        with pytest.raises(InvalidInput, match="Nothing is proposed"):
            approve(session, run)
        assert start_run(session, "2031-001", "2031-001").id == run
    finished = read_run(archive, run)
    assert (finished.state, finished.done, finished.bytes_done) == ("read", 8, finished.bytes_total)
    with archive.session() as session:
        propose(session, run)
        assert approve(session, run) == 8
        assert [f.scans[0].path for f in get_roll(session, "2031-001").frames] == [f"2031-001/{n}.jpg" for n in range(1, 9)]


def test_killed_in_the_middle_nothing_is_lost_or_doubled(archive: Archive) -> None:
    web_copies(archive.folder / "scans" / "2031-001", LABELS[:24])
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-001", frames=24, layout="135-6x6"))
        run = start_run(session, "2031-001", "2031-001").id
    program = (
        "import sys; from pathlib import Path; from catalogue.store.engine import open_archive;"
        " from catalogue.scans.read.folder_runs import read_run;"
        " read_run(open_archive(Path(sys.argv[1])), int(sys.argv[2]), workers=1)"
    )
    root = Path(__file__).parent.parent
    child = subprocess.Popen(
        [sys.executable, "-c", program, str(archive.folder), str(run)], cwd=root, env=os.environ | {"PYTHONPATH": str(root)}
    )
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and child.poll() is None:
        with archive.session(reading=True) as session:
            if run_progress(session, run).done >= 3:
                break
        time.sleep(0.005)
    child.send_signal(signal.SIGKILL)
    child.wait()
    with archive.session(reading=True) as session:
        seen = run_progress(session, run)
        files = session.exec(select(ScanFile)).all()
        rows = session.exec(select(RunFile).where(RunFile.state == "read")).all()
    assert seen.done >= 3
    assert len(files) == len(rows) == seen.done  # each file that is said to be read is known, and no other
    finished = read_run(archive, run)
    assert (finished.state, finished.done, finished.refused) == ("read", 24, 0)
    with archive.session(reading=True) as session:
        paths = [f.path for f in session.exec(select(ScanFile))]
    assert len(paths) == len(set(paths)) == 24
    assert not list((archive.folder / "previews").rglob("*.part"))


def test_names_are_tried_before_they_are_applied(read: tuple[Archive, Folder, int]) -> None:
    archive, _, run = read
    with archive.session() as session:
        propose(session, run, "names", "x{frame}")
        lines = lines_of(session, run)
        assert not any(line.label for line in lines.values())  # the numbers in the names are no frames of this roll
        assert all(line.doubt or line.refused for line in lines.values())
        with pytest.raises(InvalidInput):
            propose(session, run, "names", "{nonsense")
        with pytest.raises(InvalidInput, match="names, order, pictures"):
            propose(session, run, "magic")


def test_by_order_the_dates_decide_and_the_rest_is_doubtful(archive: Archive) -> None:
    from scan_scenes import jpeg_with_date

    folder = archive.folder / "scans" / "2031-001"
    folder.mkdir(parents=True)
    shots = ["1", "2", "2", "3", "4", "5", "6"]  # frame 2 twice; names say nothing
    for at, label in enumerate(shots):
        (folder / f"{'gdacfbe'[at]}.jpg").write_bytes(jpeg_with_date(copied(label, 2), f"2031:09:14 10:00:{at * 7:02}"))
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-001", frames=6, layout="135-6x6"))
        run = start_run(session, "2031-001", "2031-001").id
    read_run(archive, run)
    with archive.session() as session:
        propose(session, run)
        assert run_progress(session, run).method == "order"
        lines = lines_of(session, run)
    assert [lines[f"{'gdacfbe'[at]}.jpg"].label for at in range(7)] == shots
    assert sorted(line.role for line in lines.values()) == ["master"] * 6 + ["working"]


def test_the_person_has_the_last_word(read: tuple[Archive, Folder, int]) -> None:
    archive, what, run = read
    some, other = list(what.frames)[:2]
    with archive.session() as session:
        propose(session, run, "pictures")
        lines = lines_of(session, run)
        settle(session, run, {lines[some].id: "11"})
        settle(session, run, {lines[other].id: None})
        propose(session, run, "pictures")  # what was settled stays
        lines = lines_of(session, run)
        assert (lines[some].label, lines[some].chosen, lines[other].label) == ("11", True, None)
        with pytest.raises(NotFound):
            settle(session, run, {lines[some].id: "99"})
        with pytest.raises(NotFound):
            settle(session, run, {10_000: "1"})
        assert approve(session, run) == 36
        assert [s.path for f in get_roll(session, "2031-050").frames if f.label == "11" for s in f.scans][-1].startswith("web/")


@pytest.mark.parametrize(
    ("folder", "error"), [("none", NotFound), ("../..", InvalidInput), ("web/1.jpg", NotFound), ("empty", InvalidInput)]
)
def test_folders_that_cannot_be_read_are_said(read: tuple[Archive, Folder, int], folder: str, error: type[Exception]) -> None:
    archive, _, _ = read
    (archive.folder / "scans" / "empty").mkdir()
    with archive.session() as session, pytest.raises(error):
        start_run(session, folder, "2031-050")


def test_frames_differ_enough_for_the_scene_to_mean_something() -> None:
    prints = {label: fingerprint_of((frame_picture(label).mean(axis=2) * 255).astype("uint8")) for label in LABELS}
    assert all(p.enough for p in prints.values())
