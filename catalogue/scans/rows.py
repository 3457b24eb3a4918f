"""Scans as rows: the best of each frame, how it is shown, and files kept by their path."""

from collections import defaultdict
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import UnreadablePicture
from catalogue.film.formats import FilmFormat
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.shown import Area, Look, make_shown
from catalogue.store.tables.scans import SCAN_ROLES, FilmPositive, Scan, ScanFile
from catalogue.units import MM_PER_INCH
from catalogue.views import ScanView

LARGE_FRAME_MM = 45.0
"""Longer pictures are printed from the large preview; 400 pixels on 36 mm are 280 to the inch."""

ScanPair = tuple[Scan, ScanFile]


def scans_of(session: Session, frame_ids: Sequence[int]) -> dict[int, list[ScanPair]]:
    """The scans of frames, the one that is shown first: the master, then working, cropped and web copies."""
    query = (
        select(Scan, ScanFile)
        .join(ScanFile, col(ScanFile.id) == col(Scan.file_id))
        .where(col(Scan.frame_id).in_(frame_ids))
        .order_by(col(Scan.id))
    )
    found: dict[int, list[ScanPair]] = defaultdict(list)
    for scan, file in session.exec(query):
        found[scan.frame_id].append((scan, file))
    for pairs in found.values():
        pairs.sort(key=lambda pair: SCAN_ROLES.index(pair[0].role))
    return found


class Positives:
    """How the negatives of some rolls are shown, read once."""

    def __init__(self, session: Session, roll_ids: Sequence[int]) -> None:
        rows = session.exec(select(FilmPositive).where(col(FilmPositive.roll_id).in_(roll_ids))).all()
        self.of_roll = {row.roll_id: row for row in rows if row.strip_id is None}
        self.of_strip = {row.strip_id: row for row in rows if row.strip_id is not None}

    def inversion(self, scan: Scan, roll_id: int, strip_id: int | None) -> Inversion | None:
        """What the scan is made positive with, or None: nothing is set, the film is a slide, or the scan is positive."""
        row = self.of_strip.get(strip_id or 0) or self.of_roll.get(roll_id)
        if row is None or scan.polarity == "positive":
            return None
        inversion = Inversion.from_json(row.inversion)
        if inversion.kind is FilmKind.SLIDE:
            return None
        return Inversion.from_json(scan.balance) if row.exposure == "each" and scan.balance else inversion


def area_of(scan: Scan) -> Area | None:
    """The part of the file that shows the frame, or None for all of it."""
    if scan.area_x is None or scan.area_y is None or scan.area_w is None or scan.area_h is None:
        return None
    return scan.area_x, scan.area_y, scan.area_w, scan.area_h


def look_of(scan: Scan, inversion: Inversion | None) -> Look:
    """How the scan is shown."""
    return Look(area_of(scan), scan.quarter_turns, scan.mirrored, inversion)


def picture_path(folder: Path, scan_folder: Path, pair: ScanPair, inversion: Inversion | None, along_mm: float) -> str | None:
    """The picture to draw for a frame, made where it isn't there yet; None where neither preview nor file can be read."""
    scan, file = pair
    with suppress(UnreadablePicture):
        look = look_of(scan, inversion)
        return str(make_shown(folder, scan_folder / file.path, file.sha256, look, large=along_mm > LARGE_FRAME_MM))
    return None


def ppi_on_film(file: ScanFile, area: Area | None, film: FilmFormat, along_mm: float | None = None) -> float:
    """Pixels per inch on the film, the lower of both directions; the scan, or its area, is taken to show the picture alone.

    `along_mm` is the length of a frame that is longer or shorter than its format has it.
    """
    width, height = file.width_px * (area[2] if area else 1), file.height_px * (area[3] if area else 1)
    along, across = sorted((along_mm or film.frame_along_mm, film.frame_across_mm), reverse=True)
    # The longer side of the scan lies along the longer side of the picture, however the scan lies.
    return min(max(width, height) / along, min(width, height) / across) * MM_PER_INCH


def scan_view(pair: ScanPair, scan_folder: Path, film: FilmFormat, along_mm: float | None = None) -> ScanView:
    """One scan as handed outward."""
    scan, file = pair
    return ScanView(
        id=scan.id or 0, path=file.path, sha256=file.sha256, width_px=file.width_px, height_px=file.height_px,
        file_date=file.file_date, absolute_path=str(scan_folder / file.path), role=scan.role, state=file.state,
        mirrored=scan.mirrored, quarter_turns=scan.quarter_turns, polarity=scan.polarity, bits=file.bits, kind=file.kind,
        captured=file.captured, stand_camera=file.stand_camera, ppi=round(ppi_on_film(file, area_of(scan), film, along_mm)),
        byte_size=file.byte_size,
    )  # fmt: skip
