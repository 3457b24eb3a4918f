"""The command line run by tests: in this process, where starting Python anew each time would take minutes."""

import io
import os
import runpy
import subprocess
import sys
import warnings
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PLAIN = {"NO_COLOR": "1", "TERM": "dumb", "PYTHONIOENCODING": "utf-8", "COLUMNS": "200"}


def run_here(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """`python -m api …` in this process, with these environment variables beside the usual ones."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    with pytest.MonkeyPatch.context() as patched, redirect_stdout(out), redirect_stderr(err), warnings.catch_warnings():
        patched.setattr(sys, "argv", ["stripleaf", *arguments])
        for name, value in (PLAIN | more).items():
            patched.setenv(name, value)
        try:
            runpy.run_module("api", run_name="__main__")
        except SystemExit as end:
            code = int(end.code or 0)
    return subprocess.CompletedProcess(arguments, code, out.getvalue(), err.getvalue())


def run_apart(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """The same in a process of its own, where nothing is imported yet and the terminal's warnings are seen."""
    return subprocess.run(
        [sys.executable, "-m", "api", *arguments],
        capture_output=True, text=True, encoding="utf-8", cwd=ROOT, env=os.environ | PLAIN | more, timeout=120, check=False,
    )  # fmt: skip
