"""Developing tanks: listed, and added by their measures."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import whole
from catalogue.bench.rules.figures import parse_volume, volume_words
from catalogue.bench.tanks import add_tank, list_tanks
from catalogue.errors import InvalidInput, StripleafError
from catalogue.settings import get_units
from catalogue.store.engine import Archive

router = APIRouter(prefix="/bench")


def _show(request: Request, archive: Archive, form: dict[str, str], problem: str = "") -> Response:
    with archive.session(reading=True) as session:
        tanks, units = list_tanks(session), get_units(session)
    return page(
        request, "tanks.html", status=422 if problem else 200, tanks=tanks, units=units, form=form, problem=problem,
        poured=volume_words,
    )  # fmt: skip


@router.get("/tanks")
def show(request: Request, archive: ArchiveHere) -> Response:
    """All tanks, and the form for another."""
    return _show(request, archive, {})


@router.post("/tanks")
def add(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps a tank, or shows the page again with what is wrong and everything typed."""
    try:
        with archive.session() as session:
            unit = get_units(session).volume
            reels = whole(form.get("reels", ""), "number of reels")
            if reels is None or not form.get("holds", "").strip():
                raise InvalidInput("Say how many reels for 35 mm film stand in it, and how much it holds.")
            least = form.get("least", "")
            name = form.get("name", "")
            if len(name) > 60:
                raise InvalidInput(f"A tank's name has up to 60 characters, not {len(name)}. Shorten it.")
            add_tank(
                session, name, reels, parse_volume(form["holds"], unit), parse_volume(least, unit) if least.strip() else None
            )  # fmt: skip
    except StripleafError as trouble:
        return _show(request, archive, form, str(trouble))
    return RedirectResponse("/bench/tanks", status_code=303)
