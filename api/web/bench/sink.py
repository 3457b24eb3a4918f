"""One session: its overview, the clock, the end at the sink, clips, and telling the dry strips apart."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import measured, whole
from catalogue.bench.rules.figures import format_time
from catalogue.bench.rules.times.schedule import step_words
from catalogue.bench.sink.hang import alike, finish_session, hang_rolls, hanger_words, tell_roll
from catalogue.bench.sink.log import actual_celsius, actual_seconds, give_up_session, session_view, skipped
from catalogue.bench.sink.logged_drift import development_words
from catalogue.bench.sink.sink_words import session_cautions, timed, warmth
from catalogue.errors import InvalidInput, StripleafError
from catalogue.settings import get_units
from catalogue.store.engine import Archive

router = APIRouter()


def _show(
    request: Request,
    archive: Archive,
    session_id: int,
    *,
    problem: str = "",
    status: int = 200,
    form: dict[str, str] | None = None,
) -> Response:
    with archive.session(reading=True) as session:
        view, units = session_view(session, session_id), get_units(session)
        done = {
            s.position: {"took": actual_seconds(view, s.position), "warmth": actual_celsius(view, s.position),
                         "skipped": skipped(view, s.position)}
            for s in view.steps
        }  # fmt: skip
        return page(
            request, "session.html", status=status, view=view, units=units, problem=problem, form=form or {}, done=done,
            clock=format_time, warmth=lambda step: warmth(step, units), lines=[step_words(timed(s, units)) for s in view.steps],
            alike=alike(view), hanger=hanger_words, cautions=session_cautions(view),
            drift=development_words(session, view), quote=quote,
        )  # fmt: skip


@router.get("/bench/sessions/{session_id}")
def show(request: Request, session_id: int, archive: ArchiveHere) -> Response:
    """The session: what is planned, what happened, what comes next."""
    return _show(request, archive, session_id)


@router.get("/bench/sessions/{session_id}/clock")
def clock(request: Request, session_id: int, archive: ArchiveHere) -> Response:
    """The clock at the sink."""
    with archive.session(reading=True) as session:
        view, units = session_view(session, session_id), get_units(session)
    here = f"/api/sessions/{session_id}/clock"
    return page(
        request, "sink_clock.html", title=f"Session {view.id}: {view.title}", source=here, log=here,
        step_lines=[step_words(timed(s, units)) for s in view.steps], cautions=session_cautions(view),
        back=f"/bench/sessions/{session_id}", back_words="To the session",
    )  # fmt: skip


@router.post("/bench/sessions/{session_id}")
def change(request: Request, session_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the page, told apart by its button."""
    try:
        with archive.session() as session:
            _do(session, session_id, form)
    except StripleafError as trouble:
        return _show(request, archive, session_id, problem=str(trouble), status=422, form=form)
    return RedirectResponse(f"/bench/sessions/{session_id}", status_code=303)


def _do(session: Session, session_id: int, form: dict[str, str]) -> None:
    do = form.get("do", "")
    if do == "finish":
        units = get_units(session)
        back = {n.removeprefix("back-"): measured(v, "volume poured back") for n, v in form.items() if n.startswith("back-")}
        known = {int(n): units.ml(v) for n, v in back.items() if v is not None and n.isascii() and n.isdigit()}
        finish_session(session, session_id, known)
    elif do == "clips":
        clips = {n.removeprefix("clip-"): whole(v, "clip") for n, v in form.items() if n.startswith("clip-")}
        hang_rolls(session, session_id, {n: v for n, v in clips.items() if v is not None})
    elif do == "tell":
        tell_roll(
            session, session_id, form.get("number", ""), stock=form.get("stock", "").strip(),
            frames=whole(form.get("frames", ""), "number of frames"), seen=form.get("seen", "").strip(),
            sure=bool(form.get("sure")),
        )  # fmt: skip
    elif do == "give up":
        give_up_session(session, session_id)
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")
