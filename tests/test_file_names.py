"""Proposed file names: film order by name, safe everywhere, and copies that are whole or not there."""

import csv
import hashlib
import io
import os
import subprocess
import unicodedata
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import AlreadyExists, ArchiveProblem, InvalidInput, NotFound, StripleafError
from catalogue.film.frame_numbers import parse_frames
from catalogue.scans.match.name_patterns import NamePattern, try_pattern
from catalogue.scans.match.pattern_suggestions import suggest_patterns
from catalogue.scans.write import file_names
from catalogue.scans.write.file_names import FileOfFrame, NewName, copy_under_new_names, names_csv, propose_names, safe_name


def named(*frames: str, roll: str = "2031-014", version: str = "") -> list[str]:
    files = [FileOfFrame(Path(f"scan{n}.TIF"), roll, frame, version) for n, frame in enumerate(frames)]
    return [pair.new for pair in propose_names(files)]


def test_names_as_written() -> None:
    assert named("7", "07A", "36A", "0", "00", "0A") == [
        "2031-014_07.tif",
        "2031-014_07A.tif",
        "2031-014_36A.tif",
        "2031-014_-0.tif",
        "2031-014_--00.tif",
        "2031-014_-0A.tif",
    ]
    assert named("7", "112") == ["2031-014_007.tif", "2031-014_112.tif"]
    assert named("?", "?3", "S") == ["2031-014_unknown.tif", "2031-014_unknown003.tif", "2031-014_---S.tif"]
    assert named("7", version="print 2") == ["2031-014_07-print 2.tif"]


@pytest.mark.parametrize("frames", ["00-36A by halves", "0-38", "00, 0, 0A, 1-12A by halves", "95-105A by halves"])
def test_names_sort_in_film_order(frames: str) -> None:
    labels = [frame.text for frame in parse_frames(frames)]
    names = named("S", *labels, "?", "?2", "?10")
    assert sorted(names) == names
    # The sort of the operating system, by character code.
    listed = subprocess.run(
        ["sort"],
        input="\n".join(reversed(names)),
        env={"LC_ALL": "C", "PATH": os.environ["PATH"]},
        capture_output=True,
        text=True,
    )
    assert listed.stdout.split() == names
    both = [FileOfFrame(Path(f"{v}{n}.tif"), "9", label, v) for n, label in enumerate(labels) for v in ("", "b")]
    framed = [pair.new for pair in propose_names(both)]
    order = {pair.new: both[n].frame for n, pair in enumerate(propose_names(both))}
    assert list(dict.fromkeys(order[name] for name in sorted(framed))) == labels, "versions of a frame stay together"


def test_matching_by_names_reads_the_names_back() -> None:
    frames = parse_frames("00-36A by halves")
    names = named(*(frame.text for frame in frames))
    pattern = suggest_patterns(names, "2031-014", frames)[0].pattern
    assert pattern is not None
    assert [one.frame for one in try_pattern(NamePattern.parse(pattern.text), names, "2031-014", frames)] == list(frames)


def test_collisions_are_settled_the_same_way_in_any_order() -> None:
    files = [
        FileOfFrame(Path("b/1.tif"), "R/1", "7"),
        FileOfFrame(Path("a/1.tif"), "R/1", "7"),
        FileOfFrame(Path("a/2.tif"), "R:1", "07"),
        FileOfFrame(Path("a/3.tif"), "r-1", "7"),
        FileOfFrame(Path("a/4.tif"), "R-1", "7", "2"),
        FileOfFrame(Path("a/5.jpg"), "R-1", "7"),
    ]
    expected = {
        "a/4.tif": "R-1_07-2.tif",
        "a/5.jpg": "R-1_07.jpg",
        "a/1.tif": "R-1_07.tif",
        "b/1.tif": "R-1_07-3.tif",
        "a/2.tif": "R-1_07-4.tif",
        "a/3.tif": "r-1_07-5.tif",
    }
    for order in (files, files[::-1], files[3:] + files[:3]):
        assert {str(pair.old): pair.new for pair in propose_names(order)} == expected
        assert [pair.old for pair in propose_names(order)] == [file.path for file in order]


def reserved(name: str) -> bool:
    """The device rule as the maker of that family of systems publishes it (from memory): the part before the first dot."""
    first = name.split(".")[0].rstrip(" ").upper()
    return first in {"CON", "PRN", "AUX", "NUL"} or (
        first[:3] in {"COM", "LPT"} and len(first) == 4 and first[3] in "0123456789¹²³"
    )


def assert_safe(name: str) -> None:
    assert name and len(name.encode()) <= 180
    assert not set(name) & set('/\\:*?"<>|') and not [c for c in name if ord(c) < 32 or 127 <= ord(c) < 160]
    assert name[-1] not in ". " and name[0] not in " .-~=+@"
    assert not reserved(name)
    assert unicodedata.is_normalized("NFC", name)


ANY = st.text(max_size=120) | st.sampled_from(
    ["con", "CON.x", "nul ", "LPT¹", "com9.a", "..", "a. .", "e\u0301" * 90, "👩‍🔬" * 40, "\u202etxt", "=1+1"]
)


@given(ANY, st.sampled_from(["", ".tif", ".x y", "." + "é" * 60, "."]))
def test_any_text_becomes_a_safe_name(stem: str, ending: str) -> None:
    name = safe_name(stem, ending)
    assert_safe(name)
    front, dot, back = name.rpartition(".")
    assert safe_name(front if dot else name, dot + back if dot else "") == name


@given(st.lists(st.tuples(ANY.filter(lambda t: bool(t.strip())), st.sampled_from(["00", "0", "7", "36A", "?"]), ANY), max_size=6))
def test_any_rolls_get_safe_names_of_their_own(given_files: list[tuple[str, str, str]]) -> None:
    files = [FileOfFrame(Path(f"{n}.tiff"), roll, frame, version) for n, (roll, frame, version) in enumerate(given_files)]
    names = [pair.new for pair in propose_names(files)]
    assert len({name.casefold() for name in names}) == len(files)
    for name in names:
        assert_safe(name)
        assert name.endswith(".tiff")


def test_devices_and_long_rolls() -> None:
    assert safe_name("CON", ".tif") == "CON_.tif"
    assert named("1", roll="aux.2") == ["aux_.2_01.tif"]
    long = named("36A", roll="日" * 100)[0]
    assert len(long.encode()) <= 180 and long.endswith("日_36A.tif")
    assert safe_name("👩‍🔬" * 40).endswith("👩‍🔬"), "no emoji torn apart"


def test_the_disk_takes_the_names(tmp_path: Path) -> None:
    for stem in ["日本語" * 30, "e\u0301", "CON", "a\x00b", "x" * 400, "\ud800"]:
        name = safe_name(stem, ".tif")
        (tmp_path / name).touch()
        assert (tmp_path / name).is_file()


def test_the_list_is_csv() -> None:
    plan = [NewName(Path('a,"b"\n.tif'), "R_01.tif"), NewName(Path("=1+1.tif"), "R_02.tif"), NewName(Path("-x.tif"), "Ω_03.tif")]
    text = names_csv(plan)
    # RFC 4180: quotes around a field with comma, quote or line break, quotes doubled, CR LF at each line's end.
    assert text == 'old,new\r\n"a,""b""\n.tif",R_01.tif\r\n./=1+1.tif,R_02.tif\r\n./-x.tif,Ω_03.tif\r\n'
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))[1:]
    assert [Path(row[0]) for row in rows] == [pair.old for pair in plan]


def scans(folder: Path, count: int = 3) -> list[NewName]:
    folder.mkdir()
    for n in range(count):
        (folder / f"in{n}.tif").write_bytes(bytes([n]) * 3_000_000)
        os.utime(folder / f"in{n}.tif", (1_000_000 + n, 2_000_000 + n))
    return list(propose_names([FileOfFrame(folder / f"in{n}.tif", "R", str(n)) for n in range(count)]))


def state(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}


def test_copies_are_whole_and_the_scans_untouched(tmp_path: Path) -> None:
    plan = scans(tmp_path / "in")
    before = state(tmp_path / "in")
    made = copy_under_new_names(plan, tmp_path / "out" / "deep")
    assert state(tmp_path / "in") == before
    assert sorted(p.name for p in (tmp_path / "out" / "deep").iterdir()) == ["R_-0.tif", "R_01.tif", "R_02.tif"]
    for number, copy in enumerate(made):
        assert copy.old == plan[number].old
        assert copy.sha256 == hashlib.sha256(bytes([number]) * 3_000_000).hexdigest()
        assert copy.copy.read_bytes() == copy.old.read_bytes()
        assert copy.copy.stat().st_mtime == 2_000_000 + number


def test_without_links_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = scans(tmp_path / "in")

    def refused(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", refused)
    assert len(copy_under_new_names(plan, tmp_path / "out")) == 3
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["R_-0.tif", "R_01.tif", "R_02.tif"]


@pytest.mark.parametrize("linked", [True, False])
def test_nothing_is_overwritten(linked: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = scans(tmp_path / "in")
    out = tmp_path / "out"
    out.mkdir()
    (out / "r_02.TIF").write_bytes(b"theirs")
    with pytest.raises(AlreadyExists, match=r"R_02\.tif already \(1 of 3"):
        copy_under_new_names(plan, out)
    (out / "r_02.TIF").unlink()
    # A file that appears while the copies are made.
    copy = file_names._copy

    def meanwhile(source: Path, target: Path) -> str:
        (out / "R_02.tif").write_bytes(b"theirs")
        return copy(source, target)

    def refused(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(file_names, "_copy", meanwhile)
    if not linked:
        monkeypatch.setattr(os, "link", refused)
    with pytest.raises(AlreadyExists, match="appeared meanwhile"):
        copy_under_new_names(plan, out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == {"R_02.tif": b"theirs"}


def test_a_copy_that_differs_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = scans(tmp_path / "in")
    sync, calls = os.fsync, []

    def damaged(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            os.pwrite(handle, b"!", 10)
        sync(handle)

    monkeypatch.setattr(os, "fsync", damaged)
    with pytest.raises(ArchiveProblem, match=r"copy of in1\.tif differs"):
        copy_under_new_names(plan, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = scans(tmp_path / "in")
    (tmp_path / "out").mkdir()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(ArchiveProblem, match="No space left"):
            copy_under_new_names(plan, tmp_path / "out")
    with monkeypatch.context() as patch:
        patch.setattr(file_names.shutil, "disk_usage", lambda _: SimpleNamespace(free=10))
        with pytest.raises(ArchiveProblem, match="9000000 bytes and 10 are free"):
            copy_under_new_names(plan, tmp_path / "out")
    assert not list((tmp_path / "out").iterdir())


def test_plans_that_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.tif").write_bytes(b"a")
    here = tmp_path / "a.tif"
    cases: list[tuple[list[NewName], type[StripleafError], str]] = [
        ([NewName(here, "../b.tif")], InvalidInput, "not a name"),
        ([NewName(here, "nul.tif")], InvalidInput, "not a name"),
        ([NewName(here, ".tif")], InvalidInput, "not a name"),
        ([NewName(here, "")], InvalidInput, "not a name"),
        ([NewName(here, "x" * 177 + ".tif")], InvalidInput, "not a name"),
        ([NewName(here, "b.tif"), NewName(here, "B.tif")], InvalidInput, "Two files"),
        ([NewName(tmp_path / "no.tif", "b.tif")], NotFound, "no file"),
        ([NewName(here, "a.tif")], AlreadyExists, "already"),
    ]
    for plan, kind, said in cases:
        with pytest.raises(kind, match=said):
            copy_under_new_names(plan, tmp_path)
    with pytest.raises(AlreadyExists, match="is a file"):
        copy_under_new_names([NewName(here, "b.tif")], here)
    assert state(tmp_path).keys() == {"a.tif"}


def test_requests_that_are_refused() -> None:
    with pytest.raises(InvalidInput, match="not a frame number"):
        FileOfFrame(Path("a.tif"), "R", "seven")
    with pytest.raises(InvalidInput, match=r"a\.tif has no roll"):
        FileOfFrame(Path("a.tif"), " ", "7")
    with pytest.raises(InvalidInput, match="named twice"):
        propose_names([FileOfFrame(Path("a.tif"), "R", "7"), FileOfFrame(Path("a.tif"), "R", "8")])
    with pytest.raises(InvalidInput, match="5001 files"):
        propose_names([FileOfFrame(Path(f"{n}.tif"), "R", "7") for n in range(5001)])
