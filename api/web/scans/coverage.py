"""What is scanned and how finely, and whether the files are still as they were linked."""

from collections.abc import Mapping

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, BackgroundHere, TypedForm
from api.long.scan_jobs import CHECK, begin_check
from api.web.rendering import page
from api.web.typed import whole
from catalogue.errors import InvalidInput, StripleafError
from catalogue.scans.check.coverage import AT_ONCE, GRADES, aim, covered_pages, covered_rolls, set_aim
from catalogue.scans.check.fixity import accept_change, accept_moves, events, troubles
from catalogue.store.apart import carry_out
from catalogue.store.engine import Archive

router = APIRouter()
NOTHING: Mapping[str, str] = {}


def _show(
    request: Request, archive: Archive, background: BackgroundHere, problem: str = "", rolls_from: int = 1,
    pages_from: int = 1, typed: Mapping[str, str] = NOTHING,
) -> Response:  # fmt: skip
    with archive.session(reading=True) as session:
        rolls, pages = covered_rolls(session, rolls_from), covered_pages(session, pages_from)
        return page(
            request, "coverage.html", status=422 if problem else 200, rolls=rolls, pages=pages, size=AT_ONCE, grades=GRADES,
            aim=aim(session),
            troubles=troubles(session), events=events(session, 30), problem=problem, checking=background.running(CHECK),
            said=background.said(CHECK), typed=typed,
        )  # fmt: skip


@router.get("/scans")
def show(
    request: Request, archive: ArchiveHere, background: BackgroundHere, rolls_from: int = Query(default=1, ge=1),
    pages_from: int = Query(default=1, ge=1),
) -> Response:  # fmt: skip
    """The coverage map from a roll and a page on, and the state of the files."""
    return _show(request, archive, background, rolls_from=rolls_from, pages_from=pages_from)


def _do(session: Session, do: str, form: dict[str, str]) -> None:
    if do == "aim":
        set_aim(session, whole(form.get("ppi", ""), "resolution") or 0)
    elif do == "moves":
        accept_moves(session)
    elif do == "changed":
        accept_change(session, whole(form.get("file", ""), "file") or 0)
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")


@router.post("/scans")
def change(request: Request, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Sets the aim, re-checks files, or approves what a re-check found."""
    do = form.get("do", "")
    try:
        if do == "check":
            begin_check(archive, background, whole(form.get("megabytes", ""), "number of megabytes"))
        elif do == "stop":
            background.stop(CHECK)
        else:
            carry_out(archive, _do, do, form)
    except StripleafError as trouble:
        kept: dict[str, str] = {name: form[name] for name in ("ppi", "megabytes") if name in form}
        return _show(request, archive, background, str(trouble), typed=kept)
    return RedirectResponse("/scans", status_code=303)
