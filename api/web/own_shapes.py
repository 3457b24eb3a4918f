"""Own sleeve pages and own formats, added by measuring; a page is looked at before it is kept."""

import re
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.rolls.page_map import page_map_svg
from api.web.typed import measured, whole
from catalogue.errors import InvalidInput, StripleafError
from catalogue.film.formats import FilmFormat
from catalogue.own_shapes import add_format, add_layout, all_formats, all_layouts, layout_of
from catalogue.settings import get_units
from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import SleeveLayout
from catalogue.sleeves.page_plan import plan_page
from catalogue.store.engine import Archive
from catalogue.units import Units

router = APIRouter(prefix="/archive")

PAGE_MEASURES = {
    "page_width": "Page, width", "page_height": "Page, height", "slot_length": "Slot, length along the film",
    "slot_width": "Slot, width across the film", "row_pitch": "From the top of one slot to the top of the next",
    "column_pitch": "From one column to the next, if there are several", "first_x": "First slot, from the left edge",
    "first_y": "First slot, from the top edge", "index_x": "Index area, from the left edge",
    "index_y": "Index area, from the top edge", "index_width": "Index area, width", "index_height": "Index area, height",
}  # fmt: skip
FORMAT_MEASURES = {
    "gauge_width": "Film, width", "frame_along": "Picture, along the film", "frame_across": "Picture, across the film",
    "pitch": "From the start of one picture to the next",
}  # fmt: skip


def _key(name: str) -> str:
    """A key from the name: letters, figures and hyphens of any script."""
    plain = re.sub(r"[^\w]+", "-", name.casefold()).strip("-_")
    if not plain:
        raise InvalidInput("Give it a name, for example Tall page of 6.")
    return f"own-{plain}"[:60]


def _lengths(form: dict[str, str], measures: dict[str, str], units: Units, optional: tuple[str, ...] = ()) -> dict[str, float]:
    """Typed measures in mm; raises `InvalidInput` naming the first one left empty."""
    found = {}
    for name, words in measures.items():
        figure = measured(form.get(name, ""), words)
        if figure is None and name not in optional:
            raise InvalidInput(f"Measure this too: {words[0].lower()}{words[1:]}.")
        if figure is not None:
            found[name] = units.mm(figure)
    return found


def layout_from(form: dict[str, str], units: Units) -> SleeveLayout:
    """The measured page; raises `ImpossibleLayout` or `InvalidInput`."""
    name = " ".join(form.get("name", "").split())[:80]
    mm = _lengths(form, PAGE_MEASURES, units, ("column_pitch",))
    gauges = tuple(g.strip() for g in form.get("gauges", "").split(",") if g.strip())
    return SleeveLayout(
        _key(name), name, Size(mm["page_width"], mm["page_height"]), form.get("ring_side", "left"),
        whole(form.get("rows", ""), "number of rows") or 0, whole(form.get("columns", ""), "number of columns") or 1,
        mm["slot_length"], mm["slot_width"], mm["row_pitch"], mm.get("column_pitch") or mm["slot_length"],
        mm["first_x"], mm["first_y"], form.get("first_frame_at", "ring"),
        Rect(mm["index_x"], mm["index_y"], mm["index_width"], mm["index_height"]), form.get("material", "").strip()[:60], gauges,
    )  # fmt: skip


def _form_of(layout: SleeveLayout, units: Units) -> dict[str, str]:
    """The form filled with a known page's measures, to begin from."""
    a = layout.index_area
    mm = (
        layout.page.width, layout.page.height, layout.slot_length_mm, layout.slot_width_mm, layout.row_pitch_mm,
        layout.column_pitch_mm, layout.first_x_mm, layout.first_y_mm, a.x, a.y, a.width, a.height,
    )  # fmt: skip
    figures = {name: units.length_figure(value) for name, value in zip(PAGE_MEASURES, mm, strict=True)}
    return figures | {
        "rows": str(layout.rows), "columns": str(layout.columns), "ring_side": layout.ring_side,
        "first_frame_at": layout.first_frame_at, "material": layout.material, "gauges": ", ".join(layout.gauges),
    }  # fmt: skip


def _page_screen(
    request: Request, archive: Archive, form: dict[str, str], *, look: SleeveLayout | None = None, problem: str = ""
) -> Response:
    svg, holds = Markup(), []
    with archive.session(reading=True) as session:
        units, layouts, formats = get_units(session), all_layouts(session), all_formats(session)
    if look:
        svg = Markup(page_map_svg(plan_page(look, []), links=lambda f: "", spoken=lambda f: "", pictures={}))
        # 220 has the pictures of 120: of several gauges the first is enough to judge by.
        taken = [(f.name, look.frames_per_slot(f)) for f in formats if not look.gauges or f.gauge == look.gauges[0]]
        holds = [f"{count} of {name.replace(', ', ' ')}" for name, count in taken if count]
    return page(
        request, "own_page.html", status=422 if problem else 200, form=form, units=units, layouts=layouts, look=look, svg=svg,
        holds=holds, problem=problem, measures=PAGE_MEASURES,
    )  # fmt: skip


@router.get("/pages")
def measure_page(request: Request, archive: ArchiveHere, like: str = "135-7x6") -> Response:
    """The form for an own page, filled with the measures of a known one."""
    with archive.session(reading=True) as session:
        form = _form_of(layout_of(session, like), get_units(session))
    return _page_screen(request, archive, {"name": "", "like": like, **form})


@router.post("/pages")
def keep_page(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Shows the measured page, or keeps it."""
    try:
        keep = form.get("do") == "keep"
        with archive.session(reading=not keep) as session:
            made = layout_from(form, get_units(session))
            if not keep:
                return _page_screen(request, archive, form, look=made)
            add_layout(session, made)
    except StripleafError as trouble:
        return _page_screen(request, archive, form, problem=str(trouble))
    return RedirectResponse("/archive", status_code=303)


def format_from(form: dict[str, str], units: Units) -> FilmFormat:
    """The measured format; raises `InvalidInput`."""
    name = " ".join(form.get("name", "").split())[:80]
    mm = _lengths(form, FORMAT_MEASURES, units)
    values: dict[str, Any] = {f"{key}_mm": value for key, value in mm.items()}
    count = whole(form.get("exposures", ""), "number of exposures")
    kind = form.get("kind", "strip")
    if kind not in ("strip", "sheet", "mount"):
        raise InvalidInput("A format is film in strips, a sheet or a mount.")
    gauge = form.get("gauge", "").strip()[:20] or _key(name)
    return FilmFormat(
        key=_key(name), name=name, gauge=gauge, kind=kind,  # type: ignore[arg-type]  # checked above
        usual_exposures=(count,) if count else (), source="measured by the owner", **values,
    )  # fmt: skip


def _format_screen(request: Request, archive: Archive, form: dict[str, str], problem: str = "") -> Response:
    with archive.session(reading=True) as session:
        units, formats = get_units(session), all_formats(session)
    gauges = list(dict.fromkeys(f.gauge for f in formats))
    return page(
        request, "own_format.html", status=422 if problem else 200, form=form, units=units, measures=FORMAT_MEASURES,
        gauges=gauges, problem=problem,
    )  # fmt: skip


@router.get("/formats")
def measure_format(request: Request, archive: ArchiveHere) -> Response:
    """The form for an own format."""
    return _format_screen(request, archive, {"gauge": "135", "kind": "strip"})


@router.post("/formats")
def keep_format(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps a measured format."""
    try:
        with archive.session() as session:
            add_format(session, format_from(form, get_units(session)))
    except StripleafError as trouble:
        return _format_screen(request, archive, form, str(trouble))
    return RedirectResponse("/archive", status_code=303)
