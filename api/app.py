"""The application: routes, errors, guard, static files."""

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import APIRouter, FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from sqlalchemy.exc import IntegrityError, OperationalError
from starlette.exceptions import HTTPException

from api.errors import on_domain_error, on_http_error, on_store_error, on_validation_error
from api.json.bench import bottles, recipes, sessions, supplies, waiting
from api.json.desk import papers, print_desk, prints
from api.json.rolls import binders, choices, enlargements, find, rolls, shapes, strips
from api.json.scans import folder_runs, scans, state
from api.long.background import Background
from api.security import LOOPBACK, Guard
from api.web import archive as web_archive
from api.web import docs as web_docs
from api.web import own_shapes as web_own_shapes
from api.web.bench import bench as web_bench
from api.web.bench import bottles as web_bottles
from api.web.bench import recipes as web_recipes
from api.web.bench import reckon as web_reckon
from api.web.bench import sessions as web_sessions
from api.web.bench import sink as web_sink
from api.web.bench import supplies as web_supplies
from api.web.bench import tanks as web_tanks
from api.web.desk import papers as web_papers
from api.web.desk import print_desk as web_print_desk
from api.web.desk import printing as web_printing
from api.web.rolls import binders as web_binders
from api.web.rolls import choices as web_choices
from api.web.rolls import enlargements as web_enlargements
from api.web.rolls import find as web_find
from api.web.rolls import register as web_register
from api.web.rolls import rolls as web_rolls
from api.web.scans import coverage as web_coverage
from api.web.scans import folder_runs as web_folder_runs
from api.web.scans import from_picture as web_from_picture
from api.web.scans import scans as web_scans
from catalogue.errors import StripleafError
from catalogue.store.engine import open_archive

# One a line, so that two changes don't meet.
_ROOMS: tuple[Any, ...] = (
    shapes,
    binders,
    rolls,
    strips,
    find,
    prints,
    folder_runs,
    scans,
    state,
    waiting,
    sessions,
    papers,
    choices,
    enlargements,
    print_desk,
    recipes,
    bottles,
    supplies,
)
_PAGES: tuple[Any, ...] = (
    web_find,
    web_from_picture,
    web_register,
    web_binders,
    web_rolls,
    web_scans,
    web_folder_runs,
    web_coverage,
    web_printing,
    web_archive,
    web_own_shapes,
    web_docs,
    web_bench,
    web_sessions,
    web_sink,
    web_papers,
    web_choices,
    web_enlargements,
    web_print_desk,
    web_recipes,
    web_reckon,
    web_tanks,
    web_bottles,
    web_supplies,
)

_ROUTES = APIRouter()
for _room in _ROOMS:
    _ROUTES.include_router(_room.router, prefix="/api")
for _page in _PAGES:
    _ROUTES.include_router(_page.router, include_in_schema=False)


def create_app(archive_folder: Path, *, hosts: Iterable[str] = LOOPBACK) -> FastAPI:
    """The service for one archive; raises `ArchiveProblem` where it can't be opened."""

    @asynccontextmanager
    async def open_while_serving(app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.background.close()
        app.state.archive.close()

    app = FastAPI(
        lifespan=open_while_serving,
        title="Stripleaf",
        version="1",
        openapi_url="/api/openapi.json",
        docs_url=None,  # the stock page loads scripts from outside; api/web/docs.py has our own
        redoc_url=None,
    )
    app.state.archive = open_archive(archive_folder)
    app.state.background = Background()
    app.add_middleware(Guard, hosts=tuple(hosts))
    app.add_exception_handler(StripleafError, on_domain_error)
    app.add_exception_handler(RequestValidationError, on_validation_error)
    app.add_exception_handler(HTTPException, on_http_error)
    for kind in (OverflowError, IntegrityError, OperationalError):
        app.add_exception_handler(kind, on_store_error)
    # The routes themselves, not a router: they work out what they take at their first request, once for all applications.
    app.router.routes.extend(_ROUTES.routes)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    return app
