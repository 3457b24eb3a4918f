"""Binders and pages."""

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import PageOut
from catalogue.rolls.file import add_binder, add_page, get_binder, get_page, note_page, repunch, turn_page
from catalogue.rolls.offers import WHOLE, some_binders
from catalogue.views import BinderView

router = APIRouter(responses=PROBLEMS, tags=["binders"])


class NewBinder(BaseModel):
    """A binder to add."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(examples=["Binder 4"])
    notes: str = Field(default="", max_length=2000)


class NewPage(BaseModel):
    """A page to add behind the last one."""

    model_config = ConfigDict(extra="forbid")
    layout: str = Field(examples=["135-7x6"])
    ring_side: str | None = None


class PageChanges(BaseModel):
    """How the page now hangs, and a note about it."""

    model_config = ConfigDict(extra="forbid")
    turned: bool | None = None
    ring_side: str | None = None
    notes: str | None = Field(default=None, max_length=2000)


class PageLine(BaseModel):
    """One page in a binder's list."""

    id: int
    number: int
    layout: str
    rolls: list[str]
    free_slots: int


class BinderOut(BaseModel):
    """A binder and its pages."""

    id: int
    name: str
    notes: str
    pages: list[PageLine]

    @classmethod
    def of(cls, b: BinderView) -> "BinderOut":
        """From the domain's binder."""
        return cls(
            id=b.id,
            name=b.name,
            notes=b.notes,
            pages=[
                PageLine(
                    id=p.id,
                    number=p.number,
                    layout=p.layout_name,
                    rolls=list(p.rolls),
                    free_slots=p.free_slots,
                )
                for p in b.pages
            ],
        )


@router.get("/binders")
def binders(
    archive: ArchiveHere, first: int = Query(default=1, ge=1), limit: int = Query(default=WHOLE, ge=1, le=500)
) -> list[BinderOut]:
    """Binders as they stand on the shelf, so many from the first one asked for on."""
    with archive.session(reading=True) as session:
        return [BinderOut.of(b) for b in some_binders(session, first, limit)]


@router.post("/binders", status_code=201)
def new_binder(given: NewBinder, archive: ArchiveHere) -> BinderOut:
    """Adds a binder."""
    with archive.session() as session:
        return BinderOut.of(add_binder(session, given.name, given.notes))


@router.get("/binders/{binder_id}")
def binder(binder_id: int, archive: ArchiveHere) -> BinderOut:
    """One binder."""
    with archive.session(reading=True) as session:
        return BinderOut.of(get_binder(session, binder_id))


@router.post("/binders/{binder_id}/pages", status_code=201)
def new_page(binder_id: int, given: NewPage, archive: ArchiveHere) -> PageOut:
    """Adds a page."""
    with archive.session() as session:
        return PageOut.of(add_page(session, binder_id, given.layout, given.ring_side))


@router.get("/pages/{page_id}")
def page(page_id: int, archive: ArchiveHere) -> PageOut:
    """One page with everything on it."""
    with archive.session(reading=True) as session:
        return PageOut.of(get_page(session, page_id))


@router.patch("/pages/{page_id}")
def change_page(page_id: int, given: PageChanges, archive: ArchiveHere) -> PageOut:
    """Turns or re-punches a page; addresses follow."""
    with archive.session() as session:
        if given.turned is not None:
            turn_page(session, page_id, given.turned)
        if given.ring_side is not None:
            repunch(session, page_id, given.ring_side)
        if given.notes is not None:
            note_page(session, page_id, given.notes)
        return PageOut.of(get_page(session, page_id))
