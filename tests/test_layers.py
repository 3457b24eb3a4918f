"""The doors between the rooms: who may import whom, read from the source with ast."""

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = ("api", "catalogue", "printing", "example_archive")
PURE = ("catalogue.film", "catalogue.sleeves", "catalogue.paper")
BENCH = "catalogue.bench.rules"  # pure too, but printing is handed its results in views

FILES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(path: Path) -> set[str]:
    """Every module named in an import that is run, `from a import b` as `a` and `a.b`; what only types need is left out."""
    found: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for_types = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if node in for_types:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative imports hide the door that is used"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def within(module: str, *packages: str) -> bool:
    return any(module == package or module.startswith(package + ".") for package in packages)


def own(modules: set[str]) -> set[str]:
    return {m for m in modules if within(m, *ROOMS)}


@pytest.mark.parametrize("path", FILES, ids=module_name)
def test_doors(path: Path) -> None:
    me, used = module_name(path), imports_of(path)
    if within(me, "catalogue.film"):
        assert not {m for m in own(used) if not within(m, "catalogue.film", "catalogue.errors") and m != "catalogue"}
    if within(me, "catalogue.sleeves"):
        allowed = ("catalogue.film", "catalogue.sleeves", "catalogue.errors")
        assert not {m for m in own(used) if not within(m, *allowed) and m != "catalogue"}
    if within(me, BENCH):
        allowed = (BENCH, "catalogue.units", "catalogue.errors", *PURE)
        assert not {m for m in own(used) if not within(m, *allowed) and m != "catalogue"}
        assert not {m.split(".")[0] for m in used} - set(sys.stdlib_module_names) - {"catalogue"}
    if within(me, *PURE, BENCH):
        assert not {m for m in used if within(m, "sqlmodel", "sqlalchemy", "fastapi", "PIL", "numpy", "os")}
    if within(me, "catalogue"):
        assert not {m for m in used if within(m, "api", "printing", "example_archive")}
    if within(me, "printing"):
        allowed = ("printing", "catalogue.views", "catalogue.errors", *PURE)
        if within(me, "printing.kinds"):  # a kind asks the catalogue for what it is made of: session in, view out
            allowed = ("printing", "catalogue")
            assert not {m for m in used if within(m, "catalogue.store")}
        assert not {m for m in own(used) if not within(m, *allowed) and m != "catalogue"}
        assert not {m for m in used if within(m, "sqlmodel", "sqlalchemy")}
    if not within(me, "api"):
        assert not {m for m in used if within(m, "fastapi", "starlette", "uvicorn", "typer", "api")}
    if me not in ("printing.canvas.paint", "printing.canvas.fonts"):
        assert not {m for m in used if within(m, "reportlab")}


@pytest.mark.parametrize("path", FILES, ids=module_name)
def test_every_module_says_what_it_is_responsible_for(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_nothing_else_lies_at_the_top() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "api",
        "catalogue",
        "printing",
        "tests",
        "example_archive",
    }
    built = {"build", "dist", "stripleaf.egg-info"}  # made by pip, ignored by git
    assert {p.name for p in ROOT.iterdir() if not p.name.startswith(".")} - built <= allowed
