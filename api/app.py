"""The application: routes, errors, guard, static files."""

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi.staticfiles import StaticFiles
from sqlalchemy.exc import IntegrityError, OperationalError
from starlette.exceptions import HTTPException

from api.background import Background
from api.errors import on_domain_error, on_http_error, on_store_error, on_validation_error
from api.json import binders, documents, find, prints, readings, rolls, scans, shapes, strips
from api.security import LOOPBACK, Guard
from api.web import archive as web_archive
from api.web import binders as web_binders
from api.web import coverage as web_coverage
from api.web import docs as web_docs
from api.web import find as web_find
from api.web import from_picture as web_from_picture
from api.web import own_shapes as web_own_shapes
from api.web import printing as web_printing
from api.web import readings as web_readings
from api.web import register as web_register
from api.web import rolls as web_rolls
from api.web import scans as web_scans
from catalogue.errors import StripleafError
from catalogue.store.database import open_archive


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
    for room in (shapes, binders, rolls, strips, find, documents, prints, readings, scans):
        app.include_router(room.router, prefix="/api")
    for page in (
        web_find, web_from_picture, web_register, web_binders, web_rolls, web_scans, web_readings, web_coverage, web_printing,
        web_archive, web_own_shapes, web_docs,
    ):  # fmt: skip
        app.include_router(page.router, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    return app
