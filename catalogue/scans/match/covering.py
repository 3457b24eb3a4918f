"""One file for many frames: a scan of a whole strip or a photograph of a whole page, cut by the plan of the page.

Where each frame lies in the file is computed from the millimetres of strip and page,
never guessed: the file, or the part of it named, shows the strip or page from edge to edge.
"""

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.page import page_view
from catalogue.rolls.rows import film_of, roll_row
from catalogue.scans.look.frame_pictures import file_picture
from catalogue.scans.look.shown import Area, Look
from catalogue.scans.match.linking import read_into_archive, tie
from catalogue.settings import scan_folder
from catalogue.store.tables.rolls import Frame, Roll, Strip, StripFrame
from catalogue.store.tables.scans import ScanFile

WHOLE: Area = (0.0, 0.0, 1.0, 1.0)


def _within(part: Area, x: float, y: float, w: float, h: float) -> Area:
    """A place inside the part, both in parts of their whole."""
    return part[0] + x * part[2], part[1] + y * part[3], w * part[2], h * part[3]


def _checked(part: Area) -> Area:
    x, y, w, h = part
    if not (0 <= x < 1 and 0 <= y < 1 and 0 < w <= 1 - x + 1e-9 and 0 < h <= 1 - y + 1e-9):
        raise InvalidInput("The part of the picture lies outside it. Give left, top, width and height in parts of it, 0 to 1.")
    return part


def _tie_area(session: Session, frame: Frame, file: ScanFile, area: Area, turns: int, mirrored: bool) -> None:
    from PIL import Image

    from catalogue.scans.look.fingerprints import fingerprint_of, grey_of

    scan = tie(session, frame, file, area=area, quarter_turns=turns, mirrored=mirrored)
    with Image.open(file_picture(session, file, Look(area), large=True)) as picture:
        scan.fingerprint = fingerprint_of(grey_of(picture)).to_bytes()
    session.add(scan)
    session.flush()


def cover_strip(session: Session, strip_id: int, path: str, *, part: Area = WHOLE, from_the_end: bool = False) -> int:
    """Ties a scan of a strip, lying across the picture, to its frames; gives how many.

    The strip's first frame lies on the left unless `from_the_end`: then the strip lies upside down in the picture.
    """
    strip = session.get(Strip, strip_id)
    if strip is None:
        raise NotFound(f"There is no strip {strip_id}. Look it up on its roll.")
    part = _checked(part)
    file = read_into_archive(session, scan_folder(session), path)
    film = film_of(session, session.get_one(Roll, strip.roll_id))
    query = (
        select(StripFrame, Frame)
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(StripFrame.strip_id == strip_id, StripFrame.part == "whole")  # half a frame doesn't stand for it
        .order_by(col(StripFrame.position))
    )
    count = 0
    high = film.frame_across_mm / film.gauge_width_mm
    for link, frame in session.exec(query).all():
        start = max(0.0, link.start_mm)
        along = min(frame.length_mm or film.frame_along_mm, strip.length_mm - start)
        x, w = start / strip.length_mm, along / strip.length_mm
        if from_the_end:
            x = 1 - x - w
        area = _within(part, x, (1 - high) / 2, w, high)
        _tie_area(session, frame, file, area, 2 if from_the_end else 0, False)
        count += 1
    return count


def cover_page(session: Session, page_id: int, path: str, *, part: Area = WHOLE) -> int:
    """Ties a photograph of a whole page, seen from its front as it hangs, to every frame on it; gives how many."""
    view = page_view(session, page_id)
    part = _checked(part)
    there = [placed for placed in view.plan.frames if not placed.out and placed.part == "whole"]
    if not there:
        raise InvalidInput(f"No film lies on page {view.number}, so there is nothing to tie to this photograph.")
    file = read_into_archive(session, scan_folder(session), path)
    size = view.plan.size
    count = 0
    for placed in there:
        r = placed.rect
        roll = roll_row(session, placed.roll)
        frame = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == placed.label)).one()
        area = _within(part, r.x / size.width, r.y / size.height, r.width / size.width, r.height / size.height)
        # As the strip lies: standing on its head, or seen from the other side. Turned first, then mirrored, as the plan
        # rotates first and mirrors after; both undo themselves, and a half turn and a mirroring commute.
        _tie_area(session, frame, file, area, 2 if placed.rotated else 0, placed.mirrored)
        count += 1
    return count
