"""One file for many frames: a scan of a whole strip or a photograph of a whole page, cut by the plan of the page.

Where each frame lies in the file is computed from the millimetres of strip and page,
never guessed: the file, or the part of it named, shows the strip or page from edge to edge.
"""

from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.page import page_view
from catalogue.rolls.rows import film_of
from catalogue.rolls.scan_rows import Area
from catalogue.scans.look.shown import Look, make_shown
from catalogue.scans.match.linking import read_into_archive, tie
from catalogue.settings import scan_folder
from catalogue.store.apart import set_apart
from catalogue.store.tables.rolls import Frame, Roll, Strip, StripFrame

WHOLE: Area = (0.0, 0.0, 1.0, 1.0)


def _within(part: Area, x: float, y: float, w: float, h: float) -> Area:
    """A place inside the part, both in parts of their whole."""
    return part[0] + x * part[2], part[1] + y * part[3], w * part[2], h * part[3]


def _checked(part: Area) -> Area:
    x, y, w, h = part
    if not (0 <= x < 1 and 0 <= y < 1 and 0 < w <= 1 - x + 1e-9 and 0 < h <= 1 - y + 1e-9):
        raise InvalidInput("The part of the picture lies outside it. Give left, top, width and height in parts of it, 0 to 1.")
    return part


@dataclass(frozen=True)
class _Covered:
    """A frame, where it lies in the file, and what puts it right."""

    frame: Frame
    area: Area
    quarter_turns: int
    mirrored: bool


def _fingerprint_of_part(folder: Path, path: Path, sha256: str, area: Area) -> bytes:
    from PIL import Image

    from catalogue.scans.look.fingerprints import fingerprint_of, grey_of

    with Image.open(make_shown(folder, path, sha256, Look(area), large=True)) as picture:
        return fingerprint_of(grey_of(picture)).to_bytes()


def _tie_areas(session: Session, path: str, shown: list[_Covered]) -> int:
    root, folder = scan_folder(session), Path(session.info["folder"])
    file = read_into_archive(session, root, path)
    calls = ((folder, root / file.path, file.sha256, one.area) for one in shown)
    for one, fingerprint in zip(shown, set_apart(session, _fingerprint_of_part, *calls), strict=True):
        scan = tie(session, one.frame, file, area=one.area, quarter_turns=one.quarter_turns, mirrored=one.mirrored)
        scan.fingerprint = fingerprint
    session.flush()
    return len(shown)


def cover_strip(session: Session, strip_id: int, path: str, *, part: Area = WHOLE, from_the_end: bool = False) -> int:
    """Ties a scan of a strip, lying across the picture, to its frames; gives how many.

    The strip's first frame lies on the left unless `from_the_end`: then the strip lies upside down in the picture.
    """
    strip = session.get(Strip, strip_id)
    if strip is None:
        raise NotFound(f"There is no strip {strip_id}. Look it up on its roll.")
    part = _checked(part)
    film = film_of(session, session.get_one(Roll, strip.roll_id))
    query = (
        select(StripFrame, Frame)
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(StripFrame.strip_id == strip_id, StripFrame.part == "whole")  # half a frame doesn't stand for it
        .order_by(col(StripFrame.position))
    )
    shown = []
    high = film.frame_across_mm / film.gauge_width_mm
    for link, frame in session.exec(query).all():
        start = max(0.0, link.start_mm)
        along = min(frame.length_mm or film.frame_along_mm, strip.length_mm - start)
        x, w = start / strip.length_mm, along / strip.length_mm
        if from_the_end:
            x = 1 - x - w
        area = _within(part, x, (1 - high) / 2, w, high)
        shown.append(_Covered(frame, area, 2 if from_the_end else 0, False))
    return _tie_areas(session, path, shown)


def cover_page(session: Session, page_id: int, path: str, *, part: Area = WHOLE) -> int:
    """Ties a photograph of a whole page, seen from its front as it hangs, to every frame on it; gives how many."""
    view = page_view(session, page_id)
    part = _checked(part)
    there = [placed for placed in view.plan.frames if not placed.out and placed.part == "whole"]
    if not there:
        raise InvalidInput(f"No film lies on page {view.number}, so there is nothing to tie to this photograph.")
    size = view.plan.size
    rows = select(Frame).where(col(Frame.id).in_([placed.frame_id for placed in there]))
    frames = {frame.id: frame for frame in session.exec(rows)}
    shown = []
    for placed in there:
        r = placed.rect
        area = _within(part, r.x / size.width, r.y / size.height, r.width / size.width, r.height / size.height)
        # As the strip lies: standing on its head, or seen from the other side. Turned first, then mirrored, as the plan
        # rotates first and mirrors after; both undo themselves, and a half turn and a mirroring commute.
        shown.append(_Covered(frames[placed.frame_id], area, 2 if placed.rotated else 0, placed.mirrored))
    return _tie_areas(session, path, shown)
