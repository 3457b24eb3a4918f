"""Binders, one binder, and the map of a page."""

from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from sqlmodel import Session

from api.dependencies import ArchiveHere
from api.web.rendering import page
from api.web.rolls.page_map import page_map_svg
from catalogue.errors import InvalidInput, StripleafError
from catalogue.own_shapes import all_layouts
from catalogue.rolls.choices import choices_of_page
from catalogue.rolls.file import add_binder, add_page, get_binder, get_page, note_page, repunch, turn_page
from catalogue.rolls.move import strips_away
from catalogue.rolls.offers import SHELF, binders_on_shelf
from catalogue.rolls.page import places_of
from catalogue.sleeves.address import ordinal
from catalogue.sleeves.page_plan import PlacedFrame
from catalogue.store.engine import Archive
from catalogue.views import FrameChoice, PageView

router = APIRouter()


@router.get("/binders")
def binders(request: Request, archive: ArchiveHere, first: int = Query(default=1, ge=1)) -> Response:
    """The shelf, from this binder on."""
    with archive.session(reading=True) as session:
        return _shelf(request, session, first)


def _shelf(
    request: Request, session: Session, first: int = 1, *, status: int = 200, problem: str = "", name: str = ""
) -> Response:
    return page(
        request, "binders.html", status=status, shelf=binders_on_shelf(session, first), size=SHELF, away=strips_away(session),
        problem=problem, name=name,
    )  # fmt: skip


@router.post("/binders")
def new_binder(request: Request, archive: ArchiveHere, name: str = Form(default="")) -> Response:
    """Adds a binder."""
    try:
        with archive.session() as session:
            made = add_binder(session, name)
    except StripleafError as trouble:
        with archive.session(reading=True) as session:
            return _shelf(request, session, status=422, problem=str(trouble), name=name)
    return RedirectResponse(f"/binders/{made.id}", status_code=303)


@router.get("/binders/{binder_id}")
def binder(request: Request, binder_id: int, archive: ArchiveHere) -> Response:
    """One binder and its pages."""
    return _show_binder(request, archive, binder_id)


def _show_binder(request: Request, archive: Archive, binder_id: int, problem: str = "") -> Response:
    with archive.session(reading=True) as session:
        return page(
            request, "binder.html", status=422 if problem else 200, binder=get_binder(session, binder_id),
            layouts=all_layouts(session), problem=problem,
        )  # fmt: skip


@router.post("/binders/{binder_id}/pages")
def new_page(request: Request, binder_id: int, archive: ArchiveHere, layout: str = Form(default="")) -> Response:
    """Adds an empty page."""
    try:
        with archive.session() as session:
            made = add_page(session, binder_id, layout)
    except InvalidInput as trouble:
        return _show_binder(request, archive, binder_id, str(trouble))
    return RedirectResponse(f"/pages/{made.id}", status_code=303)


def picture_links(view: PageView) -> dict[tuple[str, str], str]:
    """Preview addresses of the scanned frames on a page."""
    return {(f.roll, f.label): f"/frames/{f.frame_id}/picture" for f in view.plan.frames if f.scan_id}


def choices_on(session: Session, view: PageView) -> dict[tuple[str, str], FrameChoice]:
    """What is marked of the frames on a page, by roll and label."""
    found = choices_of_page(session, view.id)
    return {(f.roll, f.label): found[f.frame_id] for f in view.plan.frames if f.frame_id in found}


def map_of(session: Session, view: PageView, sought: tuple[str, str] | None = None) -> Markup:
    """The page map of a page, ready for a template."""
    choices = choices_on(session, view)
    piece = "strip" if view.layout.columns == 1 else "row"

    def spoken(f: PlacedFrame) -> str:
        parts = [
            f"Frame {f.label} of roll {f.roll}",
            f.caption,
            f.state if f.state != "picture" else "",
            f"{ordinal(f.slot_from_top)} {piece} from the top, {ordinal(f.place)} from the ring side",
            "out" if f.out else "",
            "select" if choices.get((f.roll, f.label), FrameChoice()).selected else "",
            "crop marked" if choices.get((f.roll, f.label), FrameChoice()).crop else "",
        ]
        return ", ".join(p for p in parts if p)

    def link(f: PlacedFrame) -> str:
        return f"/pages/{view.id}?frame={quote(f'{f.roll}/{f.label}')}#sought"

    svg = page_map_svg(view.plan, links=link, spoken=spoken, pictures=picture_links(view), sought=sought, choices=choices)
    return Markup(svg)


@router.get("/pages/{page_id}")
def page_map(request: Request, page_id: int, archive: ArchiveHere, frame: str = "") -> Response:
    """The page to scale, with one frame sought."""
    return show_page(request, archive, page_id, frame)


def show_page(
    request: Request, archive: Archive, page_id: int, frame: str = "", *, problem: str = "", typed: str = ""
) -> Response:
    """The page; `typed` is the path of a photograph that was refused."""
    with archive.session(reading=True) as session:
        view = get_page(session, page_id)
        roll, _, label = frame.rpartition("/")
        sought = (roll, label) if roll else None
        found = next((f for f in view.plan.frames if (f.roll, f.label) == sought), None)
        svg = map_of(session, view, sought if found else None)
        words = ""
        if found:
            place = places_of(session, [found.frame_id]).get(found.frame_id)
            words = place.address.words if place else ""
        return page(
            request, "page_map.html", status=422 if problem else 200, view=view, svg=svg, found=found, words=words, sought=frame,
            problem=problem, typed=typed, selects=[key for key, choice in choices_on(session, view).items() if choice.selected],
        )  # fmt: skip


@router.post("/pages/{page_id}/hang")
def hang(page_id: int, archive: ArchiveHere, how: str = Form(), notes: str = Form(default="", max_length=2000)) -> Response:
    """Turns a page head to foot, says that it was re-punched, or keeps a note about it."""
    with archive.session() as session:
        view = get_page(session, page_id)
        if how == "turn":
            turn_page(session, page_id, not view.turned)
        elif how == "repunch":
            repunch(session, page_id, "left" if view.ring_side == "right" else "right")
        elif how == "note":
            note_page(session, page_id, notes)
    return RedirectResponse(f"/pages/{page_id}", status_code=303)
