"""The archive as a whole: its name, how rolls are numbered, units, the scan folder, numbers without a roll."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from catalogue.errors import InvalidInput, StripleafError
from catalogue.own_shapes import own_formats, own_layouts
from catalogue.rolls.number import gaps, next_roll_number, record_gap
from catalogue.scans.match.linking import set_scan_folder
from catalogue.settings import archive_name, get_units, name_archive, roll_pattern, scan_folder, set_roll_pattern, set_units
from catalogue.store.engine import Archive
from catalogue.units import LENGTH_UNITS, TEMPERATURE_UNITS, VOLUME_UNITS, Units

router = APIRouter()
GAP_REASONS = ("never used", "blank", "destroyed", "away", "unknown")


def _show(
    request: Request, archive: Archive, *, problem: str = "", status: int = 200, typed: dict[str, str] | None = None
) -> Response:
    with archive.session(reading=True) as session:
        values = {
            "name": archive_name(session), "pattern": roll_pattern(session).text, "scan_folder": str(scan_folder(session)),
            "number": "", "reason": "", **(typed or {}),
        }  # fmt: skip
        return page(
            request, "archive.html", status=status, problem=problem, values=values, units=get_units(session),
            next_number=next_roll_number(session), gaps=gaps(session), reasons=GAP_REASONS, folder=archive.folder,
            unit_choices=(
                ("length", "Lengths", LENGTH_UNITS),
                ("temperature", "Temperatures", TEMPERATURE_UNITS),
                ("volume", "Volumes", VOLUME_UNITS),
            ),
            formats=own_formats(session), layouts=own_layouts(session),
        )  # fmt: skip


@router.get("/archive")
def show(request: Request, archive: ArchiveHere) -> Response:
    """Everything that holds for the whole archive."""
    return _show(request, archive)


@router.post("/archive")
def change(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the page, told apart by its button."""
    do = form.pop("do", "")
    try:
        with archive.session() as session:
            _do(session, do, form)
    except StripleafError as trouble:
        return _show(request, archive, problem=str(trouble), status=422, typed=form)
    return RedirectResponse("/archive", status_code=303)


def _do(session: Session, do: str, form: dict[str, str]) -> None:
    if do == "name":
        name_archive(session, form.get("name", ""))
    elif do == "pattern":
        set_roll_pattern(session, form.get("pattern", ""))
    elif do == "scans":
        set_scan_folder(session, form.get("scan_folder", "").strip())
    elif do == "units":
        plain = Units()
        set_units(session, Units(**{name: form.get(name, getattr(plain, name)) for name in ("length", "temperature", "volume")}))
    elif do == "gap":
        record_gap(session, form.get("number", ""), form.get("reason", ""))
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")
