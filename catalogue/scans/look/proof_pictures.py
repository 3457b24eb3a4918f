"""The pictures of pages to be printed: large enough for the scale, all with one exposure or each balanced by itself.

Planned here, and made like every picture shown when they are painted; what is set for a roll isn't changed by it.
"""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, UnreadablePicture
from catalogue.rolls.scan_rows import ScanPair, scans_of
from catalogue.scans.look.exposures import balance as balanced
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.showing_positive import EXPOSURES, scan_statistics
from catalogue.scans.look.shown import ShownPicture
from catalogue.scans.rows import LARGE_FRAME_MM, Positives, look_of
from catalogue.settings import scan_folder
from catalogue.sleeves.page_plan import PlacedFrame, StripInSlot
from catalogue.store.tables.rolls import Roll
from catalogue.views import PageView

AS_SET = "as set"


@dataclass(frozen=True)
class Proof:
    """Pages with their pictures as asked, how these are balanced throughout, and a sentence on those that aren't.

    `balance` is "each" or "common" where that holds for every picture, else "as set".
    """

    pages: tuple[PageView, ...]
    balance: str
    words: str


def proof_pictures(session: Session, pages: Sequence[PageView], balance: str = AS_SET, enlarged: float = 1.0) -> Proof:
    """The pages with pictures for a proof.

    `balance`: "each" makes every negative light by itself, "common" gives all of a roll the roll's one exposure (also
    on strips that have numbers of their own), "as set" is what is set for each roll. `enlarged`: 1.0 is true size;
    larger pictures are drawn from larger previews. Raises `InvalidInput` for another balance.
    """
    if balance not in (AS_SET, *EXPOSURES):
        raise InvalidInput("Pictures are balanced each by itself (each), with one exposure (common), or as set for the roll.")
    frames = [f for page in pages for f in page.plan.frames if f.scan_id and f.part == "whole"]
    numbers = {f.roll for f in frames}
    rolls = {r.number: r.id or 0 for r in session.exec(select(Roll).where(col(Roll.number).in_(numbers)))}
    making = _Making(session, Positives(session, list(rolls.values())), balance, enlarged)
    scans = scans_of(session, [f.frame_id for f in frames])
    unset: dict[str, None] = {}
    used: set[str] = set()
    pictures: dict[tuple[int, int], ShownPicture] = {}
    for frame in frames:
        pair = scans[frame.frame_id][0]
        picture, how = making.picture(pair, rolls[frame.roll], frame)
        pictures[frame.strip_id, frame.frame_id] = picture
        used.add(how)
        if not how:
            unset[frame.roll] = None
    words = ""
    if unset and balance != AS_SET:
        which = f"Roll {next(iter(unset))} has pictures" if len(unset) == 1 else f"Rolls {', '.join(unset)} have pictures"
        words = f"{which} shown as scanned, balanced neither way: slides, positive scans, or no kind of film is set."
    found = next(iter(used)) if len(used) == 1 else ""
    return Proof(tuple(_with(page, pictures) for page in pages), found or AS_SET, words)


class _Making:
    """How pictures are made for one proof."""

    def __init__(self, session: Session, positives: Positives, balance: str, enlarged: float) -> None:
        self._session, self._positives, self._balance, self._enlarged = session, positives, balance, enlarged
        self._folder, self._scans = Path(session.info["folder"]), scan_folder(session)

    def picture(self, pair: ScanPair, roll_id: int, frame: PlacedFrame) -> tuple[ShownPicture, str]:
        """The picture to make, and how it is balanced: "each", "common", or "" for neither."""
        inversion, how = self._inversion(pair, roll_id, frame.strip_id)
        scan, file = pair
        large = frame.rect.width * self._enlarged > LARGE_FRAME_MM
        return ShownPicture(self._folder, self._scans / file.path, file.sha256, look_of(scan, inversion), large), how

    def _inversion(self, pair: ScanPair, roll_id: int, strip_id: int) -> tuple[Inversion | None, str]:
        scan = pair[0]
        shown = self._positives.inversion(scan, roll_id, strip_id)
        if shown is None:
            return None, ""
        row = self._positives.of_strip.get(strip_id) or self._positives.of_roll[roll_id]
        if self._balance == AS_SET:
            return shown, "each" if row.exposure == "each" and scan.balance else "common"
        if self._balance == "common":
            whole = self._positives.of_roll.get(roll_id)
            if whole is None:
                return Inversion.from_json(row.inversion), ""  # strips alone have numbers: there is no one exposure
            return Inversion.from_json(whole.inversion), "common"
        if row.exposure == "each" and scan.balance:
            return shown, "each"
        start = Inversion.from_json(row.inversion)
        if start.kind is not FilmKind.SLIDE:
            with suppress(UnreadablePicture):
                return balanced(scan_statistics(self._session, [pair])[0], start, colours_of=start), "each"
        return shown, ""


def _with(page: PageView, pictures: Mapping[tuple[int, int], ShownPicture]) -> PageView:
    """The page with these pictures in its plan and on its strips, by strip and frame."""
    strips: list[StripInSlot] = []
    for strip in page.strips:
        frames = (replace(f, picture=pictures.get((strip.strip_id, f.frame_id), f.picture)) for f in strip.frames)
        strips.append(replace(strip, frames=tuple(frames)))
    placed = tuple(replace(f, picture=pictures.get((f.strip_id, f.frame_id), f.picture)) for f in page.plan.frames)
    return replace(page, strips=tuple(strips), plan=replace(page.plan, frames=placed))
