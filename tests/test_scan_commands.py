"""Scans on the command line: exit codes, one clear line on standard error, and what is printed."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from scan_scenes import copied, web_copies

from catalogue.filing import add_binder
from catalogue.registering import NewRoll, register_roll
from catalogue.rolls import get_roll
from catalogue.store.database import open_archive

ROOT = Path(__file__).parent.parent


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    archive = open_archive(tmp_path / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(session, NewRoll(number="2031-001", frames=6, layout="135-6x6"))
    archive.close()
    web_copies(tmp_path / "archive" / "scans" / "r", ["1", "2", "3"])
    return tmp_path / "archive"


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "api", *words, "--archive", str(folder)],
        capture_output=True, text=True, cwd=ROOT, env=os.environ | {"NO_COLOR": "1", "TERM": "dumb"}, check=False,
    )  # fmt: skip


def test_read_approve_find_check_and_undo(folder: Path, tmp_path: Path) -> None:
    read = run(folder, "scans", "read", "2031-001", "r")
    assert read.returncode == 0, read.stderr
    assert "3 of 3 files" in read.stderr
    assert [line.split()[:2] for line in read.stdout.splitlines()[:3]] == [[n, f"{n}.jpg"] for n in "123"]
    assert "Nothing is tied yet" in read.stdout
    approved = run(folder, "scans", "approve", "1")
    assert (approved.returncode, approved.stdout) == (0, "3 scans tied.\n")

    copied("2").crop((0, 0, 1100, 780)).save(tmp_path / "crop.jpg")
    found = run(folder, "from-picture", str(tmp_path / "crop.jpg"), "--json")
    assert found.returncode == 0, found.stderr
    assert json.loads(found.stdout)["hits"][0]["frame"] == "2"
    assert "second frame from the ring side" in run(folder, "from-picture", str(tmp_path / "crop.jpg")).stdout

    assert run(folder, "scans", "check").returncode == 0
    (folder / "scans" / "r" / "1.jpg").rename(folder / "scans" / "elsewhere.jpg")
    moved = run(folder, "scans", "check")
    assert (moved.returncode, "lies now at elsewhere.jpg" in moved.stdout) == (1, True)
    accepted = run(folder, "scans", "check", "--accept-moves")
    assert (accepted.returncode, "1 moves taken as meant" in accepted.stdout) == (0, True)

    assert "3 preview only" in run(folder, "scans", "coverage").stdout
    names = run(folder, "scans", "names", "2031-001")
    assert names.stdout.count("2031-001_") == 3
    copies = run(folder, "scans", "names", "2031-001", "--copies-to", str(tmp_path / "copies"))
    assert copies.returncode == 0, copies.stderr
    assert len(list((tmp_path / "copies").iterdir())) == 3
    assert len(run(folder, "scans", "sidecars", "2031-001").stdout.splitlines()) == 3
    positive = run(folder, "scans", "positive", "2031-001", "colour negative", "--each")
    assert positive.returncode == 0, positive.stderr
    undone = run(folder, "scans", "undo", "1")
    assert (undone.returncode, undone.stdout) == (0, "3 scans taken back.\n")


def test_a_log_is_brought_in(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("frame,caption\n1,Heron\n", encoding="utf-8")
    done = run(folder, "scans", "log", "2031-001", str(tmp_path / "log.csv"))
    assert (done.returncode, done.stdout) == (0, "1 frames noted.\n")
    archive = open_archive(folder)
    with archive.session(reading=True) as session:
        assert get_roll(session, "2031-001").frames[0].caption == "Heron"
    archive.close()


@pytest.mark.parametrize(
    "words",
    [
        ["scans", "read", "9999", "r"],
        ["scans", "read", "2031-001", "none"],
        ["scans", "read", "2031-001", "r", "--by", "magic"],
        ["scans", "approve", "7"],
        ["scans", "undo", "7"],
        ["scans", "check", "--megabytes", "0"],
        ["scans", "sidecars", "2031-001"],
        ["scans", "names", "2031-001"],
        ["scans", "positive", "2031-001", "tin type"],
        ["scans", "log", "2031-001", "no-such.csv"],
        ["from-picture", "no-such.jpg"],
    ],
)
def test_what_cannot_be_ends_with_one_line(folder: Path, words: list[str]) -> None:
    ended = run(folder, *words)
    assert ended.returncode > 1
    last = ended.stderr.strip().splitlines()
    assert last[-1].startswith("stripleaf: ")
    assert "Traceback" not in ended.stderr
    assert "mistake in the program" not in ended.stderr


def test_a_picture_like_none_ends_with_code_1(folder: Path, tmp_path: Path) -> None:
    copied("9").save(tmp_path / "other.jpg")
    assert run(folder, "from-picture", str(tmp_path / "other.jpg")).returncode == 1
