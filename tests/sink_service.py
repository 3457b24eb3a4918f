"""A small service in memory that keeps the contract of the clock at the sink, with a clock of its own to be moved."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from fastapi import FastAPI, HTTPException, Request
from fastapi.responses import HTMLResponse
from fastapi.staticfiles import StaticFiles

from api.security import Guard
from api.web.rendering import page
from catalogue.bench.rules.times.schedule import Agitation, TimedStep, step_words, steps_as_json

BEGAN = datetime(2031, 5, 4, 18, 0, tzinfo=UTC)
# US Navy manual 14209: the first 30 s, then 5 s each minute, pour out in the last 10 s.
NAVY = Agitation(first_s=30, every_s=60, for_s=5)
STEPS = (
    TimedStep(
        "developer", 180, "developer", "20.0 °C", NAVY, 10, wanted_c=20.0, note="Fill within 10 to 20 s, knock out bubbles."
    ),
    TimedStep("stop bath", 30, "stop bath", "18 to 22 °C", Agitation(first_s=30), 10),
    TimedStep("fixer", 300, "fixer", "18 to 22 °C", NAVY, 10),
    TimedStep("hot rinse", 60, "rinse", "20 °C", optional=True),
    TimedStep("wash", 6600, "wash", "18 to 22 °C"),
)
CAUTIONS = (
    "Wear gloves and eye protection; keep the room aired.",
    "Never pour acid stop bath into a developer tray; rinse first.",
    "Follow the maker's data sheet and your local rules for used baths.",
)


class SinkService:
    """The session of one evening: its log, and the time by the server's clock."""

    def __init__(self) -> None:
        self.start()

    def start(self) -> None:
        """Back to an untouched session."""
        self.now = BEGAN
        self.log: list[dict[str, Any]] = []
        self.got: list[str] = []  # every POST and DELETE with its key, sent twice or not
        self.refusing = ""
        self.lose_answers = 0
        self.unit = "C"

    def stamp(self) -> str:
        return self.now.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def later(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)

    def session(self) -> dict[str, Any]:
        return {"id": "evening", "now": self.stamp(), "unit": self.unit, "steps": steps_as_json(STEPS), "log": self.log}

    def whats(self) -> list[str]:
        return [f"{fact['step']} {fact['what']}" for fact in self.log]


def sink_app(service: SinkService) -> FastAPI:
    """The page, the static folder and the two addresses, behind the real guard with its headers."""
    app = FastAPI()
    app.add_middleware(Guard)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent.parent / "api" / "static"))
    app.state.archive = SimpleNamespace(close=lambda: None)

    @app.get("/sink")
    async def sink(request: Request) -> HTMLResponse:
        return page(
            request,
            "sink_clock.html",
            title="Evening of 4 May",
            source="/session",
            log="/session/log",
            step_lines=[step_words(step) for step in STEPS],
            cautions=CAUTIONS,
            back="/sink",
            back_words="Leave the sink",
        )

    @app.get("/session")
    async def session() -> dict[str, Any]:
        return service.session()

    @app.post("/session/log")
    async def write(fact: dict[str, Any]) -> dict[str, Any]:
        service.got.append(f"POST {fact['key']}")
        if service.refusing:
            raise HTTPException(409, service.refusing)
        if fact["key"] not in [one["key"] for one in service.log]:
            service.log.append(fact)
        if service.lose_answers:
            service.lose_answers -= 1
            raise HTTPException(503, "The answer is lost.")
        return service.session()

    @app.delete("/session/log/{key}")
    async def take_back(key: str) -> dict[str, Any]:
        service.got.append(f"DELETE {key}")
        if not service.log or service.log[-1]["key"] != key:
            raise HTTPException(404, "There is no such entry at the end.")
        service.log.pop()
        return service.session()

    return app
