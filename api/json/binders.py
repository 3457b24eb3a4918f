"""Binders and new pages in them."""

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere, RowId
from api.errors import documented
from api.json.models import BinderOut, PageOut
from api.json.pages import page_out
from catalogue.filing import add_binder, add_page, list_binders

router = APIRouter(tags=["binders"])


class NewBinder(BaseModel):
    """A binder to add."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=200, examples=["Binder 3"])
    notes: str = Field(default="", max_length=4000)


class NewPage(BaseModel):
    """A page to put behind the last one; no ring side takes the layout's."""

    model_config = ConfigDict(extra="forbid")
    layout: str = Field(max_length=60, examples=["135-7x5"])
    ring_side: Literal["left", "right"] | None = None


@router.get("/binders", responses=documented(503))
def binders(archive: ArchiveHere) -> list[BinderOut]:
    """All binders with their pages, as they stand on the shelf."""
    with archive.session() as session:
        return [BinderOut.model_validate(binder) for binder in list_binders(session)]


@router.post("/binders", status_code=201, responses=documented(409, 422))
def new_binder(archive: ArchiveHere, given: NewBinder) -> BinderOut:
    """Adds an empty binder."""
    with archive.session() as session:
        return BinderOut.model_validate(add_binder(session, given.name, given.notes))


@router.post("/binders/{binder_id}/pages", status_code=201, responses=documented(404, 422))
def new_page(archive: ArchiveHere, binder_id: RowId, given: NewPage) -> PageOut:
    """Adds an empty page behind the last one of the binder."""
    with archive.session() as session:
        return page_out(add_page(session, binder_id, given.layout, given.ring_side))
