"""The command line: exit code 0, or another with one clear line on standard error."""

import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from commanding import ROOT, run_apart, run_here

from api.cli.endings import NOTHING, USAGE
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import open_archive


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cli") / "archive"
    opened = open_archive(folder)
    with opened.session() as session:
        add_binder(session, "Binder 1")
        register_roll(
            session,
            NewRoll(
                number="2031-014",
                frames="00-23, 23A, 24-36A",
                layout="135-7x6",
                binder="Binder 1",
                captions={"23A": "霧の渡し船"},
            ),
        )
    opened.close()
    return folder


def one_line(done: subprocess.CompletedProcess[str], code: int = NOTHING) -> str:
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    assert len(lines[0]) > 15
    return lines[0]


def test_find_says_where_in_words_and_as_json(archive: Path) -> None:
    said = run_apart("find", "14 23a", "--archive", str(archive))
    assert said.returncode == 0, said.stderr
    assert "Binder 1, page 1, " in said.stdout
    answer = json.loads(run_here("find", "渡し船", "--archive", str(archive), "--json").stdout)
    assert answer["hits"][0]["frame"] == "23A"
    assert {"binder", "page", "slot", "place", "words"} <= answer["hits"][0]["address"].keys()


def test_finding_nothing_is_said_and_ends_with_its_code(archive: Path) -> None:
    place = ("--archive", str(archive))
    said = run_here("find", "zeppelin", *place)
    assert (said.returncode, said.stdout) == (NOTHING, "Nothing found for “zeppelin”. Try fewer or other words.\n")
    as_json = run_here("find", "zeppelin", *place, "--json")
    assert (as_json.returncode, json.loads(as_json.stdout)) == (NOTHING, {"hits": [], "more": False})


def test_a_service_at_rest_is_without_what_only_reads_pdfs_or_migrates() -> None:
    code = "import sys, api.app; print(*{'pypdf', 'pypdfium2', 'cryptography', 'alembic', 'edtf', 'pyvips'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.split() == []


STARTED = """
import sys
from api.cli.main import app
app({arguments!r}, standalone_mode=False)
print(*(name for name in {heavy!r} if name in sys.modules), file=sys.stderr)
"""


@pytest.mark.parametrize(
    ("arguments", "heavy"),
    [
        (["--help"], ["fastapi", "sqlalchemy", "printing", "pydantic.main", "numpy"]),
        (["find", "2031-014"], ["fastapi", "alembic", "printing", "numpy", "PIL", "edtf"]),
    ],
)
def test_the_command_line_starts_light(archive: Path, arguments: list[str], heavy: list[str]) -> None:
    code = STARTED.format(arguments=arguments, heavy=heavy)
    place = {"STRIPLEAF_ARCHIVE": str(archive), "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=os.environ | place, check=False)
    assert (done.returncode, done.stderr.strip()) == (0, ""), done.stderr


def test_the_archive_can_come_from_the_environment(archive: Path) -> None:
    assert "2031-014" in run_here("find", "2031-014", STRIPLEAF_ARCHIVE=str(archive)).stdout


def test_find_makes_no_archive_where_there_is_none(tmp_path: Path) -> None:
    assert "no archive" in one_line(run_apart("find", "ferry", "--archive", str(tmp_path / "none")))
    assert list(tmp_path.iterdir()) == []


def test_print_writes_whole_pdfs_and_nothing_else(archive: Path, tmp_path: Path) -> None:
    sheet, label = tmp_path / "sheet.pdf", tmp_path / "label.pdf"
    place = ("--archive", str(archive))
    done = run_here("print", "contact-sheet", "2031-014", *place, "--paper", "A4", "--out", str(sheet))
    assert done.returncode == 0, done.stderr
    assert run_here("print", "page-label", "1", *place, "--out", str(label)).returncode == 0
    assert {p.name for p in tmp_path.iterdir()} == {"sheet.pdf", "label.pdf"}
    assert all(p.read_bytes().startswith(b"%PDF-") for p in tmp_path.iterdir())


@pytest.mark.parametrize(
    "arguments",
    [
        ("print", "contact-sheet", "1999-001", "--out", "{}/x.pdf"),
        ("print", "contact-sheet", "2031-014", "--paper", "A9", "--out", "{}/x.pdf"),
        ("print", "contact-sheet", "2031-014", "--fit", "somehow", "--out", "{}/x.pdf"),
        ("print", "contact-sheet", "2031-014", "--out", "{}/no/such/folder/x.pdf"),
        ("print", "page-label", "999", "--out", "{}/x.pdf"),
        ("print", "page-label", "one", "--out", "{}/x.pdf"),
        ("print", "page-label", "99999999999999999999999", "--out", "{}/x.pdf"),
    ],
)
def test_a_print_that_fails_leaves_no_file(archive: Path, tmp_path: Path, arguments: tuple[str, ...]) -> None:
    used = USAGE if arguments[2] in ("one", "9" * 23) else NOTHING
    one_line(run_here(*(a.format(tmp_path) for a in arguments), "--archive", str(archive)), used)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("arguments", [("nothing",), ("find",), ("serve", "--port", "70000"), ("find", "x", "--wrong")])
def test_wrong_usage_is_one_line(arguments: tuple[str, ...]) -> None:
    one_line(run_here(*arguments), USAGE)


def test_a_taken_port_is_said(archive: Path) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = str(holder.getsockname()[1])
        assert port in one_line(run_apart("serve", "--archive", str(archive), "--port", port))


@pytest.mark.parametrize("arguments", [("--help",), ("print", "--help"), ("demo", "--help")])
def test_help_ends_well(arguments: tuple[str, ...]) -> None:
    done = run_here(*arguments)
    assert done.returncode == 0
    assert done.stdout
