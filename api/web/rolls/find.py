"""The first page: find a roll or a frame; the ground switch; preview pictures."""

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from api.dependencies import ArchiveHere
from api.web.rendering import page
from api.web.typed import inside, is_whole
from catalogue.own_shapes import format_of
from catalogue.rolls.find import find
from catalogue.rolls.scan_rows import shown_scans
from catalogue.scans.look.frame_pictures import frame_picture

router = APIRouter()


@router.get("/")
def home(
    request: Request,
    archive: ArchiveHere,
    q: str = Query(default="", max_length=300),
    year: str = "",
    format: str = "",
    stock: str = "",
    camera: str = "",
    binder: str = "",
) -> Response:
    """Searches, or lists the newest rolls."""
    narrowed = {"year": year, "format": format, "stock": stock, "camera": camera, "binder": binder}
    with archive.session(reading=True) as session:
        found = find(
            session, q, year=int(year) if is_whole(year) else None, format=format or None, stock=stock or None,
            camera=camera or None, binder=binder or None, limit=60,
        )  # fmt: skip
        names = {key: format_of(session, key).name for key in found.formats}
        ids = [h.frame_id for h in found.hits if h.frame_id]
        scanned = shown_scans(session, ids)
    return page(request, "find.html", q=q, found=found, narrowed=narrowed, format_names=names, scanned=scanned)


@router.get("/frames/{frame_id}/picture")
def picture(frame_id: int, archive: ArchiveHere, large: bool = False) -> Response:
    """The best picture of a frame."""
    with archive.session(reading=True) as session:
        path = frame_picture(session, frame_id, large=large)
    # Asked for anew each time, as another scan may be the master by now; unchanged, it isn't sent again.
    return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "private, no-cache"})


@router.post("/ground")
def ground(to: str = Form(), back: str = Form(default="/")) -> Response:
    """Switches between paper, dim and the system's ground."""
    answer = RedirectResponse(inside(back, "/"), status_code=303)
    answer.set_cookie(
        "ground",
        to if to in ("paper", "dim") else "system",
        max_age=31_536_000,
        samesite="lax",
        httponly=True,
    )
    return answer
