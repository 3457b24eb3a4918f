"""A roll's scans in cut order, one frame's scans side by side, and everything that is done with them by hand."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from sqlmodel import Session
from starlette.concurrency import run_in_threadpool

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.rolls.binders import show_page
from api.web.rolls.frame_records import records_of
from api.web.typed import is_whole, measured, seconds_off, whole
from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.rolls.change import get_roll
from catalogue.rolls.rows import range_of
from catalogue.rolls.scan_rows import ROLES
from catalogue.scans.edge.numbers import name_stock, read_edge
from catalogue.scans.log.frame_log import read_log_csv
from catalogue.scans.log.log_frames import apply_log, zone_named
from catalogue.scans.log.tracks import Track
from catalogue.scans.log.typed_log import read_log_lines
from catalogue.scans.look.frame_pictures import file_picture, scan_picture
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.showing_positive import clear_positive, likely_kind, positive_of_roll, set_positive
from catalogue.scans.match.covering import cover_page, cover_strip
from catalogue.scans.match.linking import change_scan, scan_row, untie
from catalogue.scans.read.files import file_row
from catalogue.scans.read.folder_runs import runs_of
from catalogue.scans.write.tell import write_sidecars
from catalogue.settings import scan_folder
from catalogue.store.apart import carry_out
from catalogue.store.engine import Archive

router = APIRouter()
PICTURE_HEADERS = {"cache-control": "private, no-cache"}


def show_scans(
    request: Request,
    archive: Archive,
    number: str,
    *,
    problem: str = "",
    said: str = "",
    typed: dict[str, str] | None = None,
) -> Response:
    """The page; `typed` holds what was typed into a form that was refused."""
    with archive.session(reading=True) as session:
        roll = get_roll(session, number)
        likely = likely_kind(session, number)
        by_label = {f.label: f for f in roll.frames}
        return page(
            request, "roll_scans.html", status=422 if problem else 200, roll=roll, problem=problem, said=said, typed=typed or {},
            strips=[(s, range_of(s.labels), [by_label[label] for label in s.labels]) for s in roll.strips],
            runs=runs_of(session, number), scan_folder=scan_folder(session), kinds=list(FilmKind), likely=likely,
            positive=positive_of_roll(session, number), scanned=sum(bool(f.scans) for f in roll.frames),
        )  # fmt: skip


@router.get("/rolls/{number}/scans")
def scans_of_roll(request: Request, number: str, archive: ArchiveHere) -> Response:
    """The scans of a roll, strip by strip."""
    return show_scans(request, archive, number)


@router.get("/rolls/{number}/log")
@router.get("/rolls/{number}/readings")
def scans_again(number: str) -> Response:
    """The roll's scans, for whoever comes back to the address of one of their forms."""
    return _back(number)


@router.post("/rolls/{number}/scans")
def change(request: Request, number: str, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the page, told apart by its button."""
    do = form.pop("do", "")
    try:
        if do == "sidecars":  # files are read and written, the archive isn't
            with archive.session(reading=True) as session:
                said = _sidecars(session, number)
        else:
            said = carry_out(archive, _do, number, do, form)
    except StripleafError as trouble:
        return show_scans(request, archive, number, problem=str(trouble), typed=form)
    return show_scans(request, archive, number, said=said) if said else _back(number)


def _back(number: str) -> Response:
    return RedirectResponse(f"/rolls/{quote(number)}/scans", status_code=303)


def _sidecars(session: Session, number: str) -> str:
    written = write_sidecars(session, number)
    kept = sum(bool(report.kept) for report in written)
    more = f" {kept} hold something from elsewhere, which was kept." if kept else ""
    return f"{len(written)} sidecars written beside the scans.{more}"


def _do(session: Session, number: str, do: str, form: dict[str, str]) -> str:
    """Carries out one form; returns a sentence to show, or nothing."""
    path = form.get("path", "").strip()
    if do == "positive":
        slope, stops = measured(form.get("slope", ""), "slope"), measured(form.get("stops", ""), "stops")
        kind, exposure = form.get("kind", ""), form.get("exposure", "common")
        strip_id = whole(form.get("of_strip", ""), "strip")
        return set_positive(session, number, kind, strip_id=strip_id, exposure=exposure, slope=slope, stops=stops or 0.0).found
    if do == "as scanned":
        clear_positive(session, number)
    elif do == "strip":
        strip = whole(form.get("strip", ""), "strip") or 0
        count = cover_strip(session, strip, path, from_the_end=form.get("from_the_end") == "yes")
        return f"{count} frames are shown by that scan of the strip."
    elif do == "move":
        scan = whole(form.get("scan", ""), "scan") or 0
        change_scan(session, scan, label=form.get("label", ""))
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")
    return ""


@router.post("/rolls/{number}/log")
async def bring_in_log(request: Request, number: str, archive: ArchiveHere) -> Response:
    """A frame log, typed or as CSV, with a GPX track if there is one."""
    async with request.form() as form:
        texts = {name: value for name, value in form.items() if isinstance(value, str)}
        files = {name: await value.read() for name, value in form.items() if not isinstance(value, str)}
    return await run_in_threadpool(_log, request, archive, number, texts, files)


def _log(request: Request, archive: Archive, number: str, texts: dict[str, str], files: dict[str, bytes]) -> Response:
    try:
        table, track = files.get("csv", b""), files.get("track", b"")
        log = read_log_csv(table) if table else read_log_lines(texts.get("lines", ""))
        behind = seconds_off(measured(texts.get("behind", ""), "seconds") or 0.0)
        with archive.session() as session:
            done = apply_log(
                session, number, log, track=Track.parse(track) if track else None, zone=zone_named(texts.get("zone", "")),
                clock_offset=behind,
            )  # fmt: skip
    except StripleafError as trouble:
        return show_scans(request, archive, number, problem=str(trouble), typed=texts)
    return show_scans(request, archive, number, said=done.words)


@router.get("/rolls/{number}/scans/{label}")
def scans_of_frame(request: Request, number: str, label: str, archive: ArchiveHere) -> Response:
    """All scans of one frame, as the file has it and as it is shown."""
    return show_frame(request, archive, number, label)


def show_frame(
    request: Request, archive: Archive, number: str, label: str, *, problem: str = "", said: str = "", **typed: str
) -> Response:
    """The page of one frame; `typed` holds what was typed into a form that was refused."""
    with archive.session(reading=True) as session:
        roll = get_roll(session, number)
        at = next((n for n, f in enumerate(roll.frames) if f.label == label), None)
        if at is None:
            raise NotFound(f"Roll {roll.number} has no frame {label[:20]}.")
        around = (roll.frames[at - 1] if at else None, roll.frames[at + 1] if at + 1 < len(roll.frames) else None)
        return page(
            request, "frame_scans.html", status=422 if problem else 200, roll=roll, frame=roll.frames[at], before=around[0],
            after=around[1], roles=ROLES, problem=problem, said=said, positive=positive_of_roll(session, number),
            typed=typed, **records_of(session, roll.frames[at], typed),
        )  # fmt: skip


@router.get("/scans/{scan_id}")
def scan_again(scan_id: int, archive: ArchiveHere) -> Response:
    """The frame that a scan shows, for whoever comes back to the address of its forms."""
    with archive.session(reading=True) as session:
        _, _, frame, roll = scan_row(session, scan_id)
        return RedirectResponse(f"/rolls/{quote(roll.number)}/scans/{quote(frame.label)}", status_code=303)


@router.post("/scans/{scan_id}")
def change_one(request: Request, scan_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """Puts one scan right, points at its film base, reads its edge, or takes it away."""
    said = ""
    with archive.session(reading=True) as session:
        _, _, frame, roll = scan_row(session, scan_id)
        number, label = roll.number, frame.label
    try:
        said = carry_out(archive, _do_one, scan_id, number, form)
    except StripleafError as trouble:
        kept = {name: form[name] for name in ("dx_number", "stock") if name in form}
        return show_frame(request, archive, number, label, problem=str(trouble), **kept)
    if said:
        return show_frame(request, archive, number, label, said=said)
    return RedirectResponse(f"/rolls/{quote(number)}/scans/{quote(label)}", status_code=303)


def _do_one(session: Session, scan_id: int, number: str, form: dict[str, str]) -> str:
    do = form.get("do", "")
    scan, *_ = scan_row(session, scan_id)
    if do == "role":
        change_scan(session, scan_id, role=form.get("role", ""))
    elif do == "turn":
        # On the screen: a mirrored picture turns the other way round in the file.
        change_scan(session, scan_id, quarter_turns=scan.quarter_turns + (-1 if scan.mirrored else 1))
    elif do == "mirror":
        change_scan(session, scan_id, mirrored=not scan.mirrored)
    elif do == "polarity":
        change_scan(session, scan_id, polarity=form.get("polarity", ""))
    elif do == "move":
        change_scan(session, scan_id, label=form.get("label", "").strip())
    elif do == "untie":
        untie(session, scan_id)
    elif do == "edge":
        report = read_edge(session, scan_id)
        return " ".join((report.words, *report.agreements))
    elif do == "stock":
        name_stock(session, form.get("dx_number", ""), form.get("stock", ""))
    elif "spot.x" in form and is_whole(form["spot.x"]) and is_whole(form.get("spot.y", "")):
        width, height = whole(form.get("width", ""), "width") or 400, whole(form.get("height", ""), "height") or 400
        point = (scan_id, min(1.0, int(form["spot.x"]) / width), min(1.0, int(form["spot.y"]) / height))
        row = positive_of_roll(session, number)
        kind = likely_kind(session, number) or FilmKind.BLACK_AND_WHITE
        if row is not None:
            kind = Inversion.from_json(row.inversion).kind
        return set_positive(session, number, kind, exposure=row.exposure if row else "common", point=point).found
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")
    return ""


@router.get("/pages/{page_id}/photograph")
def page_again(page_id: int) -> Response:
    """The page, for whoever comes back to the address of its form."""
    return RedirectResponse(f"/pages/{page_id}", status_code=303)


@router.post("/pages/{page_id}/photograph")
def photograph(request: Request, page_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """Ties a photograph of a whole page to every frame on it."""
    path = form.get("path", "").strip()
    try:
        carry_out(archive, cover_page, page_id, path)
    except StripleafError as trouble:
        return show_page(request, archive, page_id, problem=str(trouble), typed=path)
    return RedirectResponse(f"/pages/{page_id}", status_code=303)


@router.get("/scans/{scan_id}/picture")
def picture(scan_id: int, archive: ArchiveHere, large: bool = False, original: bool = False) -> Response:
    """A scan as it is shown, or as the file has it."""
    with archive.session(reading=True) as session:
        path = scan_picture(session, scan_id, large=large, original=original)
    return FileResponse(path, media_type="image/jpeg", headers=PICTURE_HEADERS)


@router.get("/files/{file_id}/picture")
def picture_of_file(file_id: int, archive: ArchiveHere, large: bool = False) -> Response:
    """A file that was read, tied to a frame or not."""
    with archive.session(reading=True) as session:
        path = file_picture(session, file_row(session, file_id), large=large)
    return FileResponse(path, media_type="image/jpeg", headers=PICTURE_HEADERS)
