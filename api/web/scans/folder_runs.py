"""A reading of a folder: its progress, the proposal with doubts first, one approval, one undoing."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, BackgroundHere, TypedForm
from api.long.scan_jobs import begin_edges, begin_reading, go_on_reading, stop_reading, work_of
from api.web.rendering import page
from api.web.scans.scans import show_scans
from catalogue.errors import InvalidInput, StripleafError
from catalogue.rolls.change import get_roll
from catalogue.scans.look.showing_positive import likely_kind
from catalogue.scans.match.approve import approve, undo
from catalogue.scans.match.propose import name_patterns_for, proposal, propose, settle
from catalogue.scans.read.folder_runs import run_progress
from catalogue.store.apart import carry_out
from catalogue.store.engine import Archive

router = APIRouter()


@router.post("/rolls/{number}/readings")
def begin(request: Request, number: str, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Begins to read a folder for a roll."""
    try:
        progress = begin_reading(archive, background, form.get("folder", "").strip(), number)
    except StripleafError as trouble:
        return show_scans(request, archive, number, problem=str(trouble), typed=form)
    return RedirectResponse(f"/readings/{progress.id}", status_code=303)


def _show(
    request: Request,
    archive: Archive,
    background: BackgroundHere,
    run_id: int,
    *,
    problem: str = "",
    typed: dict[str, str] | None = None,
) -> Response:
    with archive.session(reading=True) as session:
        progress = run_progress(session, run_id)
        at_work = background.running(work_of(run_id))
        lines = proposal(session, run_id) if not at_work else ()
        return page(
            request, "reading.html", status=422 if problem else 200, run=progress, at_work=at_work, lines=lines,
            typed=typed or {},
            labels=[f.label for f in get_roll(session, progress.roll).frames],
            problem=problem, said=background.said(work_of(run_id)),
            patterns=name_patterns_for(session, run_id) if lines and progress.state != "linked" else (),
            likely=likely_kind(session, progress.roll),
            doubts=sum(bool(line.doubt) and not line.chosen and not line.refused for line in lines),
            tied=sum(line.label is not None for line in lines), left_out=sum(bool(line.refused) for line in lines),
        )  # fmt: skip


@router.get("/readings/{run_id}")
def show(request: Request, run_id: int, archive: ArchiveHere, background: BackgroundHere) -> Response:
    """The progress, or the proposal."""
    return _show(request, archive, background, run_id)


@router.post("/readings/{run_id}")
def change(request: Request, run_id: int, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Stops it, goes on with it, matches, approves or undoes."""
    do = form.pop("do", "")
    with archive.session(reading=True) as session:
        number = run_progress(session, run_id).roll
    try:
        if do == "stop":
            stop_reading(archive, background, run_id)
        elif do == "go on":
            go_on_reading(archive, background, run_id)
        elif do == "edges":
            begin_edges(archive, background, run_id)
        else:
            carry_out(archive, _do, run_id, do, form)
    except StripleafError as trouble:
        return _show(request, archive, background, run_id, problem=str(trouble), typed=form)
    if do in ("approve", "undo"):
        return RedirectResponse(f"/rolls/{quote(number)}/scans", status_code=303)
    return RedirectResponse(f"/readings/{run_id}", status_code=303)


def _do(session: Session, run_id: int, do: str, form: dict[str, str]) -> None:
    if do in ("names", "order", "pictures"):
        _settle_all(session, run_id, form)
        propose(session, run_id, do, form.get("pattern", ""))
    elif do == "keep":
        _settle_all(session, run_id, form)
    elif do == "approve":
        _settle_all(session, run_id, form)
        approve(session, run_id, form.get("polarity", ""))
    elif do == "undo":
        undo(session, run_id)
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")


def _settle_all(session: Session, run_id: int, form: dict[str, str]) -> None:
    """The frames chosen by hand on the page, where they differ from what is proposed."""
    chosen = {
        line.id: label or None
        for line in proposal(session, run_id)
        if not line.refused and (label := form.get(f"line:{line.id}")) is not None and label != (line.label or "")
    }
    if chosen:
        settle(session, run_id, chosen)
