"""How scans are shown: as positives, and the picture made for it."""

from collections.abc import Sequence

from sqlmodel import Session, col, select

from catalogue.rolls.scan_rows import area_of
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.shown import Look
from catalogue.store.tables.scans import FilmPositive, Scan

LARGE_FRAME_MM = 45.0
"""Longer pictures are printed from the large preview; 400 pixels on 36 mm are 280 to the inch."""


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


def look_of(scan: Scan, inversion: Inversion | None) -> Look:
    """How the scan is shown."""
    return Look(area_of(scan), scan.quarter_turns, scan.mirrored, inversion)
