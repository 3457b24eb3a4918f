"""The command line for everything on paper: each command writes a PDF with as many sheets as it says, or one line and no file."""

import re
import sys
from pathlib import Path

import pypdf
import pytest
from builders import registered

from api.cli import main as cli
from catalogue.desk import papers
from catalogue.rolls.change import list_rolls
from catalogue.rolls.file import add_binder
from catalogue.rolls.move import take_out
from catalogue.rolls.number import next_roll_number
from catalogue.store.engine import open_archive


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two rolls, one strip out, A4 and A3 in the house, and a correction for every label sheet."""
    place: Path = tmp_path_factory.mktemp("commands") / "archive"
    archive = open_archive(place)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        roll = registered(session, 12, number="2031-001", subject="Heron on the mole")
        registered(session, 36, number="2031-002")
        take_out(session, roll.strips[1].id, "with the printer", "2031-11-30")
        papers.choose_papers(session, ["A4", "A3"])
        papers.keep_correction(session, 1.5, -1)
    archive.close()
    return place


def run(monkeypatch: pytest.MonkeyPatch, folder: Path, *arguments: str) -> int:
    """The command's exit code; it runs in this process, as `stripleaf` would."""
    monkeypatch.setattr(sys, "argv", ["stripleaf", "print", *arguments, "--archive", str(folder)])
    try:
        cli.main()
    except SystemExit as end:
        return int(end.code or 0)
    return 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("contact-sheet", "2031-002", "--paper", "A3"), "2031-002"),
        (("page-label", "1"), "Binder 1"),
        (("strip-list", "1"), "1–6"),
        (("print-card", "2031-001", "3"), "2031-001"),
        (("cut-card", "--number", "2031-003", "--frames", "1-36", "--format", "135-24x36"), "2031-003"),
        (("roll-label", "2031-001", "--stock", "a4-3x7", "--start", "5"), "Heron on the mole"),
        (("numbers", "--count", "30", "--copies", "2"), "-003"),
        (("label-test", "--stock", "letter-3x10"), "+1.5 mm across and −1 mm down"),
        (("bottle-tag", "Fixer", "--what", "1+4", "--rolls", "10"), "10 rolls"),
        (("spine", "1", "--width", "35"), "Binder 1"),
        (("slips",), "with the printer"),
        (("book", "1"), "Heron on the mole"),
        (("finding-aid",), "Extent and medium"),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)  # fmt: skip
def test_each_command_writes_the_sheets_it_names(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...], said: str,
) -> None:  # fmt: skip
    out = tmp_path / "made.pdf"
    assert run(monkeypatch, folder, *arguments, "--out", str(out)) == 0
    told = capsys.readouterr().out
    found = re.match(rf"{re.escape(str(out))}, (\d+) sheets?: .", told)
    assert found, told
    pages = pypdf.PdfReader(out).pages
    assert len(pages) == int(found[1])
    assert said in " ".join(" ".join(page.extract_text() for page in pages).split())
    assert [p.name for p in tmp_path.iterdir()] == ["made.pdf"]


def test_sixty_numbers_go_over_two_sheets_and_nothing_is_issued_or_stored(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tmp_path: Path
) -> None:
    def known() -> tuple[str, list[str]]:
        archive = open_archive(folder)
        with archive.session(reading=True) as session:
            found = next_roll_number(session), [r.number for r in list_rolls(session)]
        archive.close()
        return found

    before = known()
    out = tmp_path / "numbers.pdf"
    assert run(monkeypatch, folder, "numbers", "--count", "60", "--out", str(out)) == 0
    assert len(pypdf.PdfReader(out).pages) == 2  # 48 labels a sheet
    assert run(monkeypatch, folder, "cut-card", "--number", "2031-003", "--out", str(tmp_path / "card.pdf")) == 0
    assert known() == before


def test_the_finding_aid_is_a_web_page_where_the_name_says_so(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "aid.html"
    assert run(monkeypatch, folder, "finding-aid", "--out", str(out)) == 0
    assert "Scope and content" in out.read_text(encoding="utf-8")
    assert "one web page" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("strip-list", "99"), 1),
        (("print-card", "2031-001", "77"), 1),
        (("roll-label", "1999-001"), 1),
        (("book", "99"), 1),
        (("spine", "99"), 1),
        (("spine", "1", "--width", "3"), 2),
        (("label-test", "--stock", "cloth"), 1),
        (("roll-label", "2031-001", "--start", "25"), 1),
        (("numbers", "--dx", "9"), 2),
        (("numbers", "--count", "0"), 2),
        (("bottle-tag", "Fixer", "--mixed", "yesterday"), 1),
        (("cut-card", "--format", "f" * 70), 1),
        (("cut-card", "--frames", "0-"), 1),
        (("strip-list", "1", "--paper", "napkin"), 1),
        (("book", "1", "--paper", "A3"), 1),
    ],
    ids=str,
)
def test_a_command_that_fails_says_one_line_and_leaves_no_file(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...], code: int,
) -> None:  # fmt: skip
    assert run(monkeypatch, folder, *arguments, "--out", str(tmp_path / "made.pdf")) == code
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 1, lines
    assert "mistake in the program" not in lines[0]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["none/such.pdf", "made.txt", "."])
def test_a_name_that_cannot_be_written_is_said(
    monkeypatch: pytest.MonkeyPatch, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    kind = "finding-aid" if name == "made.txt" else "slips"
    assert run(monkeypatch, folder, kind, "--out", name) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []
