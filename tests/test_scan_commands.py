"""The command line for scans: exit code 0, or another with one clear line on standard error; JSON where it is asked for."""

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from commanding import run_apart as run_elsewhere
from commanding import run_here
from PIL import Image
from scan_scenes import as_image, frame_picture, web_copies

from api.cli.endings import NOTHING, STOPPED, USAGE
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.scans.match.approve import approve
from catalogue.scans.match.propose import propose
from catalogue.scans.read.folder_runs import read_run, run_progress, start_run
from catalogue.store.engine import open_archive

ROOT = Path(__file__).parent.parent


def environment(archive: Path) -> dict[str, str]:
    return os.environ | {"NO_COLOR": "1", "TERM": "dumb", "PYTHONIOENCODING": "utf-8", "STRIPLEAF_ARCHIVE": str(archive)}


def run(archive: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return run_here(*arguments, STRIPLEAF_ARCHIVE=str(archive))


def run_apart(archive: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return run_elsewhere(*arguments, STRIPLEAF_ARCHIVE=str(archive))


def done(answer: subprocess.CompletedProcess[str], code: int = 0) -> str:
    assert (answer.returncode, "Traceback" in answer.stderr) == (code, False), answer.stderr
    return answer.stdout


def one_line(answer: subprocess.CompletedProcess[str], code: int) -> str:
    """The one line that says what is wrong."""
    assert answer.returncode == code, answer.stderr + answer.stdout
    lines = answer.stderr.splitlines()
    assert len(lines) == 1, answer.stderr
    assert lines[0].startswith("stripleaf: ")
    assert len(lines[0]) > 25
    return lines[0]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Roll 2031-001 of three frames, its folder read as reading 1 and tied; roll 2031-002 has a folder and no scan."""
    folder = tmp_path_factory.mktemp("scan-commands") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        for number in ("2031-001", "2031-002"):
            register_roll(session, NewRoll(number=number, frames=3, layout="135-7x6", captions={"2": "霧の渡し船"}))
    for name in ("a", "b"):
        web_copies(folder / "scans" / name, ["1", "2", "3"])
    with archive.session() as session:
        start_run(session, "a", "2031-001")
    read_run(archive, 1)
    with archive.session() as session:
        propose(session, 1)
        approve(session, 1)
    archive.close()
    return folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Path:
    shutil.copytree(made, tmp_path / "archive")
    return tmp_path / "archive"


def scans_of(folder: Path, number: str) -> list[list[str]]:
    opened = open_archive(folder)
    with opened.session(reading=True) as session:
        found = [[s.path for s in f.scans] for f in get_roll(session, number).frames]
    opened.close()
    return found


def test_a_folder_is_read_shown_tied_and_taken_back(archive: Path) -> None:
    read = run(archive, "scans", "read", "2031-002", "b", "--by", "names", "--pattern", "{frame}")
    assert "Nothing is tied yet" in done(read)
    assert [line.split() for line in read.stdout.splitlines()[:3]] == [[n, f"{n}.jpg"] for n in ("1", "2", "3")]
    assert "3 of 3 files" in read.stderr
    assert scans_of(archive, "2031-002") == [[], [], []]
    assert done(run(archive, "scans", "approve", "2")) == "3 scans tied.\n"
    assert scans_of(archive, "2031-002") == [["b/1.jpg"], ["b/2.jpg"], ["b/3.jpg"]]
    assert "already" in one_line(run(archive, "scans", "approve", "2"), NOTHING)
    assert done(run(archive, "scans", "undo", "2")) == "3 scans taken back.\n"
    assert "nothing to undo" in one_line(run(archive, "scans", "undo", "2"), NOTHING)


def test_reading_and_approving_is_one_command(archive: Path) -> None:
    assert "3 scans tied. Take it back with: stripleaf scans undo 2." in done(
        run(archive, "scans", "read", "2031-002", "b", "--pattern", "{frame}", "--approve")
    )


def test_interrupted_the_same_command_goes_on(archive: Path) -> None:
    web_copies(archive / "scans" / "long", [str(n) for n in range(1, 25)])
    command = [sys.executable, "-m", "api", "scans", "read", "2031-002", "long"]
    child = subprocess.Popen(
        command, cwd=ROOT, env=environment(archive), stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        # Tests begun in the background of a shell inherit that an interruption is to be ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    assert child.stderr is not None
    seen = b""
    while b"1 of 24" not in seen:
        seen += child.stderr.read(1)
    child.send_signal(signal.SIGINT)
    out, rest = child.communicate(timeout=60)
    assert child.returncode == STOPPED, rest
    assert b"Traceback" not in rest
    assert rest.splitlines()[-1].startswith(b"Stopped: ")
    assert out == b""
    opened = open_archive(archive)
    with opened.session(reading=True) as session:
        stopped = run_progress(session, 2)
    opened.close()
    assert stopped.state == "stopped"
    assert 1 <= stopped.done < 24
    gone_on = run(archive, "scans", "read", "2031-002", "long")
    assert "/readings/2" in done(gone_on)
    assert "24 of 24 files" in gone_on.stderr


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("read", "1999-001", "a"), NOTHING, "no roll 1999-001"),
        (("read", "2031-001", "none"), NOTHING, "no folder none"),
        (("read", "2031-001", "../.."), NOTHING, "scan folder"),
        (("read", "2031-001"), USAGE, "folder"),
        (("read", "2031-001", "a", "--by", "magic"), NOTHING, "not by magic"),
        (("read", "2031-001", "a", "--by", "names", "--pattern", "{nonsense"), NOTHING, ""),
        (("approve", "99"), NOTHING, "no reading 99"),
        (("approve", "9" * 30), USAGE, ""),
        (("undo", "9" * 30), USAGE, ""),
        (("undo", "one"), USAGE, ""),
        (("undo", "99"), NOTHING, "no reading 99"),
        (("check", "--megabytes", "0"), USAGE, ""),
        (("sidecars", "1999-001"), NOTHING, "no roll"),
        (("sidecars", "2031-002"), NOTHING, "no scan"),
        (("names", "2031-002"), NOTHING, "no scan of a single frame"),
        (("names", "2031-001", "--copies-to", "/dev/null/x"), NOTHING, ""),
        (("positive", "2031-001", "hologram"), NOTHING, ""),
        (("positive", "2031-002", "colour negative"), NOTHING, "no scan"),
        (("positive", "2031-001", "colour negative", "--stops", "nan"), NOTHING, ""),
        (("positive", "2031-001", "colour negative", "--stops", "1e300"), NOTHING, ""),
        (("log", "2031-001", "/none.csv"), NOTHING, "/none.csv can't be read"),
        (("log", "2031-001", "/"), NOTHING, "can't be read"),
        (("log", "2031-001", "{}/log.csv", "--track", "/none.gpx"), NOTHING, "/none.gpx"),
        (("log", "2031-001", "{}/log.csv", "--track", "{}/log.csv"), NOTHING, ""),
        (("log", "2031-001", "{}/log.csv", "--behind", "1e300"), NOTHING, "behind"),
        (("log", "2031-001", "{}/log.csv", "--behind", "nan"), NOTHING, "behind"),
        (("log", "2031-001", "{}/log.csv", "--zone", "Nowhere/At all"), NOTHING, "no time zone"),
        (("log", "2031-001", "{}/99.csv"), NOTHING, "no frame 99"),
        (("nothing",), USAGE, ""),
    ],
)
def test_what_is_wrong_is_one_line(made: Path, tmp_path: Path, arguments: tuple[str, ...], code: int, words: str) -> None:
    (tmp_path / "log.csv").write_text("frame,caption\n1,Quay\n", encoding="utf-8")
    (tmp_path / "99.csv").write_text("frame,caption\n99,Quay\n", encoding="utf-8")
    before = scans_of(made, "2031-001")
    answer = run(made, "scans", *(a.format(tmp_path) if "{}" in a else a for a in arguments))
    assert words in one_line(answer, code)
    assert scans_of(made, "2031-001") == before


def test_a_number_too_large_is_one_line_from_the_shell_too(made: Path) -> None:
    one_line(run_apart(made, "scans", "approve", "9" * 30), USAGE)


def test_no_archive_is_made_by_looking(tmp_path: Path) -> None:
    for arguments in (("scans", "coverage"), ("scans", "check"), ("from-picture", str(ROOT / "README.md"))):
        answer = run(tmp_path / "none", *arguments)
        one_line(answer, NOTHING)
    assert list(tmp_path.iterdir()) == []


def test_check_ends_with_one_where_a_file_is_not_as_it_was(archive: Path) -> None:
    assert "all as they were linked" in done(run(archive, "scans", "check"))
    (archive / "scans" / "a" / "1.jpg").rename(archive / "scans" / "a" / "first.jpg")
    said = done(run(archive, "scans", "check"), 1)
    assert "a/1.jpg lies now at a/first.jpg. It is the master of 2031-001 / 1." in said
    accepted = run(archive, "scans", "check", "--accept-moves")
    assert "1 moves taken as meant" in done(accepted), accepted.stdout
    assert scans_of(archive, "2031-001")[0] == ["a/first.jpg"]
    lost = (archive / "scans" / "a" / "2.jpg").read_bytes()
    for copy in [p for p in (archive / "scans").rglob("*.jpg") if p.read_bytes() == lost]:
        copy.unlink()  # a copy left anywhere would be taken for the file, moved
    answer = run(archive, "scans", "check", "--accept-moves")
    assert "a/2.jpg is missing. It is the master of 2031-001 / 2." in done(answer, 1)
    assert answer.stderr == ""


def test_a_move_on_to_a_file_read_meanwhile_is_no_mistake_of_the_program(archive: Path) -> None:
    (archive / "scans" / "a" / "1.jpg").rename(archive / "scans" / "a" / "first.jpg")
    done(run(archive, "scans", "check"), 1)
    done(run(archive, "scans", "read", "2031-001", "a"))
    assert "1 moves taken" in done(run(archive, "scans", "check", "--accept-moves"))  # both rows become one


def test_sidecars_names_and_copies(archive: Path, tmp_path: Path) -> None:
    written = done(run(archive, "scans", "sidecars", "2031-001")).splitlines()
    assert len(written) == 3
    assert all(Path(p).is_file() and p.endswith(".xmp") for p in written)
    listed = done(run(archive, "scans", "names", "2031-001")).splitlines()
    assert len(listed) == 4
    assert "2031-001" in listed[1]
    copies = done(run(archive, "scans", "names", "2031-001", "--copies-to", str(tmp_path / "copies"))).splitlines()
    assert [Path(c).read_bytes() for c in copies] == [(archive / "scans" / "a" / f"{n}.jpg").read_bytes() for n in (1, 2, 3)]
    (archive / "scans" / "a" / "1.jpg.xmp").write_text("<no xmp", encoding="utf-8")
    one_line(run(archive, "scans", "sidecars", "2031-001"), NOTHING)


def test_positive_log_and_coverage(archive: Path, tmp_path: Path) -> None:
    assert len(done(run(archive, "scans", "positive", "2031-001", "black-and-white negative", "--each", "--stops", "0.5"))) > 10
    assert "slide" in done(run(archive, "scans", "positive", "2031-001", "slide"))
    log = tmp_path / "log.csv"
    log.write_text("frame,time,caption\n1,2031-05-14T10:00,Quay\n2,2031-05-14T11:00,Mole\n", encoding="utf-8")
    track = tmp_path / "way.gpx"
    track.write_text(
        '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        '<trkpt lat="54.1" lon="8.2"><time>2031-05-14T08:00:10Z</time></trkpt></trkseg></trk></gpx>',
        encoding="utf-8",
    )
    said = done(run(archive, "scans", "log", "2031-001", str(log), "--track", str(track), "--zone", "+02:00", "--behind", "10"))
    assert said.startswith("2 frames noted, 1 of them placed by the track. ")
    lines = done(run(archive, "scans", "coverage")).splitlines()
    assert lines[0].startswith("2031-001: 3 preview only")
    assert lines[1].startswith("2031-002: 3 not scanned")


def test_a_picture_finds_its_negative_in_words_and_as_json(made: Path, tmp_path: Path) -> None:
    picture = tmp_path / "found.png"
    as_image(frame_picture("2")).convert("L").save(picture)
    said = done(run(made, "from-picture", str(picture)))
    assert said.startswith("It is from roll 2031-001, frame 2.\n")
    assert "Binder 1, page 1" in said
    told = json.loads(done(run_apart(made, "from-picture", str(picture), "--json")))
    assert (told["enough"], told["hits"][0]["roll"], told["hits"][0]["frame"]) == (True, "2031-001", "2")
    assert told["hits"][0]["title"] == "霧の渡し船"
    assert told["hits"][0]["address"]["binder"] == "Binder 1"


def test_a_picture_of_nothing_ends_with_one_and_is_still_json(made: Path, tmp_path: Path) -> None:
    Image.new("L", (300, 200), 90).save(tmp_path / "grey.png")
    answer = run(made, "from-picture", str(tmp_path / "grey.png"), "--json")
    told = json.loads(done(answer, 1))
    assert (told["enough"], told["hits"]) == (False, [])
    assert answer.stderr == ""


def test_what_is_no_picture_is_one_line(made: Path, tmp_path: Path) -> None:
    (tmp_path / "text.jpg").write_bytes(b"no picture")
    (tmp_path / "empty.jpg").write_bytes(b"")
    # A file that lets its decoder remark on it, and one of 100 million pixels in a few kilobytes.
    (tmp_path / "cut.tif").write_bytes(b"II*\0\x08\0\0\0\x03\0\0\x01\x03\0\x01")
    Image.new("1", (10_000, 10_000)).save(tmp_path / "large.png")
    for name, words in (("cut.tif", ""), ("large.png", "10000 × 10000")):
        assert words in one_line(run_apart(made, "from-picture", str(tmp_path / name)), NOTHING)
    for name in ("text.jpg", "empty.jpg"):
        assert "no picture" in one_line(run(made, "from-picture", str(tmp_path / name)), NOTHING)
    assert "can't be read" in one_line(run(made, "from-picture", str(tmp_path)), NOTHING)
    assert "can't be read" in one_line(run(made, "from-picture", str(tmp_path / "none.jpg")), NOTHING)
