"""The doors between the rooms: who may import whom, read from the source with ast and from the table in DEVELOPERS.md."""

import ast
import re
import sys
from collections import Counter, defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parent.parent
HOUSE = ("api", "catalogue", "example_archive", "printing")
TEMPLATES = sorted((ROOT / "api" / "templates").rglob("*.html"))
LONGEST_TEMPLATE_LINE = 120
FILES = sorted(path for part in HOUSE for path in (ROOT / part).rglob("*.py"))

LONGEST = 300  # lines of a module
LONGER = {  # module: why it is one piece
    "catalogue.bench.rules.baths.entries": "the entries of a ledger and what each must hold are read side by side",
    "catalogue.scans.log.frame_log": "one table of columns and every usual way of writing them",
    "catalogue.scans.look.picture_lookup": "one index and the one search in it",
    "catalogue.scans.read.embedded_facts": "what each kind of file says of itself, field by field",
    "catalogue.scans.write.xmp_tree": "one tree, changed without losing what others wrote into it",
    "catalogue.sleeves.cut_plan": "the cut planner is one search; its rules read together",
    "example_archive.scenario": "the invented years, told in order",
    "example_archive.subjects": "the invented pictures, one after another",
}
MOST_MODULES = 15  # in a folder


class Room(NamedTuple):
    name: str
    doors: frozenset[str]  # other rooms it may import
    libraries: frozenset[str]
    row: str


@cache
def rooms() -> dict[str, Room]:
    """The table under "Rooms and doors": a room may import what its row names; "above" are all rooms above it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = [line for line in text.split("## Rooms and doors")[1].split("\n## ")[0].splitlines() if line.startswith("|")]
    found: dict[str, Room] = {}
    for row in rows[2:]:
        names, _, may, libraries = (cell.strip() for cell in row.strip("|").split("|"))
        doors, _, closed = may.partition("but not")
        granted = set(re.findall(r"`([\w.]+)`", doors)) | (set(found) if "above" in doors else set())
        here = re.findall(r"`([\w.]+)`", names)
        for name in here:
            allowed = frozenset(granted - set(re.findall(r"`([\w.]+)`", closed)))
            found[name] = Room(name, allowed, frozenset(re.findall(r"`([\w.]+)`", libraries)), row)
    return found


def room_of(module: str) -> str | None:
    """The room with the longest name that holds this module."""
    parts = module.split(".")
    return next((name for n in range(len(parts), 0, -1) if (name := ".".join(parts[:n])) in rooms()), None)


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in FILES}


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports_of(tree: ast.AST) -> set[str]:
    """Every module named in an import: of `from a import b` it is `a.b` where that is a module of the house, else `a`."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the door that is used"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                found.add(inner if inner in MODULES else node.module or "")
    return found


def only_for_types(tree: ast.AST) -> set[str]:
    return {
        name
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
        for name in imports_of(node)
    }


def test_every_door_and_library_is_in_the_table() -> None:
    wrong = []
    for module, path in MODULES.items():
        here = room_of(module)
        if here is None:
            assert path.name == "__init__.py" and not imports_of(parsed(path)), f"{module} lies in no room of the table"
            continue
        room = rooms()[here]
        tree = parsed(path)
        for name in sorted(imports_of(tree)):
            top = name.split(".")[0]
            if top in HOUSE:
                there = room_of(name)
                if there != here and there not in room.doors:
                    wrong.append(f"{module} imports {name}: {here} has no door to {there}")
            elif top not in {*sys.stdlib_module_names, *room.libraries} and name not in only_for_types(tree):
                wrong.append(f"{module} imports {name}: not a library of {here}")
    assert not wrong, "\n".join(wrong)


def test_the_table_grants_no_library_and_names_no_room_that_is_not_there() -> None:
    used = defaultdict(set)
    for module, path in MODULES.items():
        used[room_of(module)] |= {name.split(".")[0] for name in imports_of(parsed(path))}
    of_row = defaultdict(set)
    for room in rooms().values():
        of_row[room.row] |= used[room.name]
    idle = {f"{room.row[:60]}: {library}" for room in rooms().values() for library in room.libraries - of_row[room.row]}
    empty = [name for name in rooms() if name not in used]
    unknown = [f"{room.name}: {door}" for room in rooms().values() for door in room.doors if door not in rooms()]
    assert (idle, empty, unknown) == (set(), [], [])


@pytest.mark.parametrize("pure", ["catalogue.film", "catalogue.sleeves", "catalogue.paper", "catalogue.bench.rules"])
def test_the_pure_core_touches_no_file(pure: str) -> None:
    for module, path in MODULES.items():
        if module.startswith(pure):
            assert not imports_of(parsed(path)) & {"os", "pathlib", "io", "shutil", "subprocess", "sqlite3", "time"}, module
            called = [node.func for node in ast.walk(parsed(path)) if isinstance(node, ast.Call)]
            assert not [f for f in called if isinstance(f, ast.Name) and f.id == "open"], module


def test_no_table_is_queried_at_the_edge() -> None:
    for module, path in MODULES.items():
        if module.startswith("api"):
            called = {node.func for node in ast.walk(parsed(path)) if isinstance(node, ast.Call)}
            names = {f.id for f in called if isinstance(f, ast.Name)} | {f.attr for f in called if isinstance(f, ast.Attribute)}
            assert not names & {"select", "exec", "scalars"}, f"{module} asks the database itself"


def test_every_module_says_what_it_is_responsible_for_and_is_small() -> None:
    silent = [module for module, path in MODULES.items() if not ast.get_docstring(parsed(path))]
    lengths = {module: len(path.read_text(encoding="utf-8").splitlines()) for module, path in MODULES.items()}
    assert (silent, {m: n for m, n in lengths.items() if n > LONGEST and m not in LONGER}) == ([], {})
    assert not [m for m in LONGER if lengths.get(m, 0) <= LONGEST], "named as longer without being so"


def test_no_line_of_a_template_is_long() -> None:
    lines = [(p.name, n, line) for p in TEMPLATES for n, line in enumerate(p.read_text(encoding="utf-8").splitlines(), 1)]
    assert lines and not [(name, n) for name, n, line in lines if len(line) > LONGEST_TEMPLATE_LINE]


def test_no_class_name_is_used_twice() -> None:
    homes = defaultdict(list)
    for module, path in MODULES.items():
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.ClassDef):
                homes[node.name].append(module)
    assert not {name: places for name, places in homes.items() if len(places) > 1}


def test_no_folder_holds_too_many_modules_and_none_is_an_attic() -> None:
    held = Counter(path.parent for path in FILES if path.name != "__init__.py")
    assert not {str(folder.relative_to(ROOT)): n for folder, n in held.items() if n > MOST_MODULES}
    assert not [m for m in MODULES if m.split(".")[-1] in {"utils", "util", "helpers", "helper", "common", "misc"}]


def test_nothing_else_lies_at_the_top() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "tests", *HOUSE}
    built = {"build", "dist", "stripleaf.egg-info"}  # made by pip, ignored by git
    assert {p.name for p in ROOT.iterdir() if not p.name.startswith(".")} - built <= allowed
