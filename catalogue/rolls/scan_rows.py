"""The scans of frames as rows and as handed outward; no file is opened for that."""

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy.orm import defer
from sqlmodel import Session, col, select

from catalogue.film.formats import FilmFormat
from catalogue.store.tables.scans import SCAN_ROLES, Scan, ScanFile
from catalogue.units import MM_PER_INCH
from catalogue.views import ScanView

ScanPair = tuple[Scan, ScanFile]
ROLES = SCAN_ROLES
"""What a scan is to its frame, that which is shown first in front."""
Area = tuple[float, float, float, float]
"""Left, top, width, height in parts of the upright picture."""


def scans_of(session: Session, frame_ids: Sequence[int]) -> dict[int, list[ScanPair]]:
    """The scans of frames, the one that is shown first: the master, then working, cropped and web copies."""
    query = (
        select(Scan, ScanFile)
        .join(ScanFile, col(ScanFile.id) == col(Scan.file_id))
        .where(col(Scan.frame_id).in_(frame_ids))
        .order_by(col(Scan.id))
        .options(defer(Scan.fingerprint), defer(ScanFile.fingerprint))  # type: ignore[arg-type]
    )
    found: dict[int, list[ScanPair]] = defaultdict(list)
    for scan, file in session.exec(query):
        found[scan.frame_id].append((scan, file))
    for pairs in found.values():
        pairs.sort(key=lambda pair: SCAN_ROLES.index(pair[0].role))
    return found


def shown_scans(session: Session, frame_ids: Sequence[int]) -> dict[int, int]:
    """The key of the scan that is shown of each frame that has one."""
    query = select(Scan.frame_id, Scan.role, Scan.id).where(col(Scan.frame_id).in_(frame_ids)).order_by(col(Scan.id).desc())
    found = sorted(session.exec(query), key=lambda row: SCAN_ROLES.index(row[1]), reverse=True)
    return {frame: key or 0 for frame, _, key in found}


def area_of(scan: Scan) -> Area | None:
    """The part of the file that shows the frame, or None for all of it."""
    if scan.area_x is None or scan.area_y is None or scan.area_w is None or scan.area_h is None:
        return None
    return scan.area_x, scan.area_y, scan.area_w, scan.area_h


def ppi_on_film(size_px: tuple[float, float], film: FilmFormat, along_mm: float | None = None) -> float:
    """Pixels per inch on the film, the lower of both directions, of so many pixels that show the picture alone.

    `along_mm` is the length of a frame that is longer or shorter than its format has it.
    """
    width, height = size_px
    along, across = sorted((along_mm or film.frame_along_mm, film.frame_across_mm), reverse=True)
    # The longer side of the scan lies along the longer side of the picture, however the scan lies.
    return min(max(width, height) / along, min(width, height) / across) * MM_PER_INCH


def scan_view(pair: ScanPair, scan_folder: Path, film: FilmFormat, along_mm: float | None = None) -> ScanView:
    """One scan as handed outward."""
    scan, file = pair
    shown_px = (file.width_px * (scan.area_w or 1), file.height_px * (scan.area_h or 1))
    return ScanView(
        id=scan.id or 0, path=file.path, sha256=file.sha256, width_px=file.width_px, height_px=file.height_px,
        file_date=file.file_date, absolute_path=str(scan_folder / file.path), role=scan.role, state=file.state,
        mirrored=scan.mirrored, quarter_turns=scan.quarter_turns, polarity=scan.polarity, bits=file.bits, kind=file.kind,
        captured=file.captured, stand_camera=file.stand_camera, ppi=round(ppi_on_film(shown_px, film, along_mm)),
        byte_size=file.byte_size,
    )  # fmt: skip
