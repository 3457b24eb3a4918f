"""Which negative is this picture from? Any copy of it, looked up among the fingerprints of all scans."""

import threading
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from sqlmodel import Session, col, func, select

from catalogue.errors import UnreadablePicture
from catalogue.rolls.page import places_of
from catalogue.scans.look.fingerprints import Fingerprint, fingerprint_of, grey_of
from catalogue.scans.look.picture_lookup import FOUND, Match, PictureIndex, standing_words
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import Scan, ScanFile
from catalogue.views import Hit

MAX_PIXELS = 60_000_000
CLEARLY = 0.1
"""A score so much above the next is no question of taste."""


@dataclass(frozen=True)
class PictureHit:
    """A frame that the picture may be from: `score` 0 to 1, `sure` from the shipped threshold on, and how it lies in it."""

    hit: Hit
    score: float
    sure: bool
    scan_id: int
    how: str


@dataclass(frozen=True)
class PictureFound:
    """What a look-up by picture gave; `enough` says whether there is anything in the picture to go by."""

    hits: tuple[PictureHit, ...]
    enough: bool
    pictures: int

    @property
    def words(self) -> str:
        """The answer as a sentence."""
        if not self.enough:
            return "There is too little in this picture to tell it from others. Try one that shows more."
        if not self.pictures:
            return "No scan is linked yet, so there is nothing to compare with."
        sure = [h for h in self.hits if h.sure]
        if not sure:
            return f"None of the {self.pictures} pictures here is like it. The nearest are shown, and none is likely."
        first = f"roll {sure[0].hit.roll}, frame {sure[0].hit.frame}"
        if len(sure) == 1 or sure[0].score - sure[1].score >= CLEARLY:
            return f"It is from {first}."
        return f"{len(sure)} frames are like it; the likeliest is {first}."


class _Kept:
    """The index of an archive, kept while nothing was added."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.of: dict[Path, tuple[tuple[object, ...], PictureIndex]] = {}


_kept = _Kept()


def _stamp(session: Session) -> tuple[object, ...]:
    scans = session.exec(select(func.count(), func.max(Scan.id))).one()
    read = session.exec(select(func.max(ScanFile.read_at))).one()
    return (*scans, read)


def picture_index(session: Session) -> PictureIndex:
    """The fingerprints of all scans, by scan id; made anew only where scans were added, taken away or read again."""
    folder = Path(session.info["folder"])
    stamp = _stamp(session)
    with _kept.lock:
        kept = _kept.of.get(folder)
        if kept is None or kept[0] != stamp:
            query = select(Scan.id, Scan.fingerprint, Scan.area_x, ScanFile.fingerprint).join(
                ScanFile, col(ScanFile.id) == col(Scan.file_id)
            )
            entries = [
                (key or 0, stored)
                for key, own, area, whole in session.exec(query)
                if (stored := own if area is not None else whole) is not None
            ]
            kept = (stamp, PictureIndex(entries))
            _kept.of[folder] = kept
        return kept[1]


def read_query(data: bytes) -> Fingerprint:
    """The fingerprint of a picture handed in. Raises `UnreadablePicture` for what is none or too large."""
    from PIL import Image

    try:
        with Image.open(BytesIO(data)) as picture:
            if picture.width * picture.height > MAX_PIXELS:
                raise UnreadablePicture(
                    f"That picture has {picture.width} × {picture.height} pixels; up to {MAX_PIXELS // 1_000_000} million are "
                    "looked at. A smaller copy is enough."
                )
            picture.draft("L", (1024, 1024))
            return fingerprint_of(grey_of(picture))
    except UnreadablePicture:
        raise
    except Exception as problem:  # a damaged file makes decoders raise anything
        raise UnreadablePicture("That is no picture that can be read. Choose a JPEG, PNG or TIFF file.") from problem


def _how(match: Match) -> str:
    parts = []
    left, right, top, bottom = match.window
    if (right - left) * (bottom - top) < 0.93:
        parts.append("a part of it")
    parts += standing_words(match.mirrored, match.quarter_turns)
    if match.inverted:
        parts.append("in the other polarity")
    return ", ".join(parts)


def from_picture(session: Session, picture: Fingerprint, limit: int = 5) -> PictureFound:
    """The frames most like the picture, best first, each once, with their addresses."""
    index = picture_index(session)
    if not picture.enough:
        return PictureFound((), False, len(index))
    ranked = index.rank(picture, limit=8)
    query = (
        select(Scan.id, Frame.id, Frame.label, Frame.caption, Roll.number, Roll.subject, Roll.place)  # type: ignore[call-overload]
        .join(Frame, col(Frame.id) == col(Scan.frame_id))
        .join(Roll, col(Roll.id) == col(Frame.roll_id))
        .where(col(Scan.id).in_([match.key for match in ranked]))
    )
    told = {row[0]: row[1:] for row in session.exec(query)}
    best = {told[match.key][0]: match for match in reversed(ranked) if match.key in told}  # each frame once, by its best scan
    places = places_of(session, best)
    hits: list[PictureHit] = []
    for match in ranked:
        if match not in best.values():
            continue
        frame_id, label, caption, number, subject, place = told[match.key]
        lies = places.get(frame_id)
        hit = Hit(
            kind="frame", roll=number, frame=label, title=caption or subject or place, detail="",
            address=lies.address if lies else None, page_id=lies.page_id if lies else None, frame_id=frame_id,
        )  # fmt: skip
        hits.append(PictureHit(hit, round(match.score, 3), match.score >= FOUND, match.key, _how(match)))
    return PictureFound(tuple(hits[:limit]), True, len(index))
