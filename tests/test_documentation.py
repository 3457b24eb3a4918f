"""The documents tell the truth: commands, settings and packages named there exist."""

import re
from pathlib import Path

import pytest
from commanding import run_here

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def command_after(marker: str) -> str:
    found = re.search(rf"<!-- {marker} -->\n```sh\n(.+)\n```", README)
    assert found, f"README.md has no command marked {marker}"
    return found[1]


def test_the_two_commands_install_and_run() -> None:
    assert "pip install" in command_after("demo")
    assert "stripleaf demo --archive" in command_after("demo")
    assert command_after("tests").endswith("pytest")


@pytest.mark.parametrize(
    "command",
    [
        ["demo"], ["serve"], ["find"], ["from-picture"],
        *(
            ["print", word]
            for word in (
                "contact-sheet", "page-label", "strip-list", "print-card", "cut-card", "roll-label", "numbers", "label-test",
                "bottle-tag", "spine", "slips", "book", "finding-aid",
            )
        ),
        *(["scans", word] for word in ("read", "approve", "undo", "positive", "check", "coverage", "sidecars", "names", "log")),
    ],
)  # fmt: skip
def test_every_command_in_the_readme_has_its_options(command: list[str]) -> None:
    line = next(line for line in README.splitlines() if line.startswith("stripleaf " + " ".join(command)))
    answer = run_here(*command, "--help")
    assert answer.returncode == 0, answer.stderr
    for option in re.findall(r"--[a-z-]+", line):
        assert option in answer.stdout


def test_every_setting_read_by_the_code_is_documented() -> None:
    read = {
        name
        for room in ("api", "catalogue", "printing", "example_archive")
        for path in (ROOT / room).rglob("*.py")
        for name in re.findall(r"STRIPLEAF_[A-Z_]+", path.read_text(encoding="utf-8"))
    }
    assert read
    assert not {name for name in read if name not in README + DEVELOPERS}


def test_every_file_named_for_contributors_exists() -> None:
    named = set(re.findall(r"`((?:api|catalogue|printing|tests|example_archive)/[\w/]+\.py)`", DEVELOPERS))
    assert named
    assert not {name for name in named if not (ROOT / name).exists()}
