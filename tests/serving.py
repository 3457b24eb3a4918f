"""A real service on loopback for browser tests, and what they need of the browser."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from fastapi import FastAPI

CHROMIUM = shutil.which("chromium")
REQUIRED = os.environ.get("STRIPLEAF_BROWSER_REQUIRED") == "1"
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
# Both grounds and both widths, each once: axe takes a second a page and judges colours by the ground, targets by the width.
AXE_LOOKS_AT = ((390, "light"), (1280, "dark"))


def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def serving(app: FastAPI) -> Iterator[str]:
    """The app served on a free port of this machine, and its address."""
    port = free_port()
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(timeout=10)  # ends the application's own work, and closes its archive
