"""How alike the files of a reading are to one another and to the pictures that the roll's frames have already."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from catalogue.rolls.scan_rows import ScanPair, scans_of
from catalogue.scans.look.fingerprints import Fingerprint
from catalogue.scans.look.picture_lookup import FOUND, Match, PictureIndex, standing_words
from catalogue.store.tables.rolls import Frame

ALIKE = 0.7
"""Where the alignment counts two pictures as alike; scores are brought to that scale at the threshold of looking up."""


@dataclass(frozen=True)
class Standing:
    """What puts a picture right, found against one whose way up is known: turned clockwise, then mirrored."""

    quarter_turns: int
    mirrored: bool
    inverted: bool

    @property
    def words(self) -> str:
        """What is wrong with the file, or nothing."""
        return " and ".join(standing_words(self.mirrored, self.quarter_turns))


def scaled(score: float) -> float:
    """A score of looking up, 0 to 1, on the scale where `ALIKE` is the threshold."""
    if score < FOUND:
        return max(0.0, score / FOUND * ALIKE)
    return min(1.0, ALIKE + (score - FOUND) / (1 - FOUND) * (1 - ALIKE))


def stored_fingerprint(pair: ScanPair) -> bytes | None:
    """The fingerprint of what a scan shows: of its area, else of the whole file."""
    scan, file = pair
    return scan.fingerprint if scan.area_x is not None else file.fingerprint


def known_pictures(session: Session, frames: Sequence[Frame], without: Sequence[int] = ()) -> dict[int, ScanPair]:
    """By place in `frames`: the scan that is shown of a frame, of those with a fingerprint and not of the files left out."""
    pairs = scans_of(session, [f.id or 0 for f in frames])
    found = {}
    for at, frame in enumerate(frames):
        for pair in pairs.get(frame.id or 0, ()):
            if stored_fingerprint(pair) and pair[1].id not in without:
                found[at] = pair
                break
    return found


def matches(known: Mapping[int, bytes], asked: Sequence[Fingerprint | None]) -> list[dict[int, Match]]:
    """For each picture asked for, those of the known ones that are most like it, by their key."""
    index = PictureIndex(known.items())
    return [{m.key: m for m in index.rank(picture, limit=8)} if picture else {} for picture in asked]


def correction(match: Match, reference: ScanPair) -> Standing:
    """What puts the matched picture right, given how the reference itself is put right.

    The match says how the file lies in the reference: mirrored first, then turned anticlockwise.
    So turning it clockwise and then mirroring gives the reference, whose own correction comes after.
    """
    scan = reference[0]
    turns, mirrored = match.quarter_turns, match.mirrored
    # After a mirroring, turning clockwise is turning the original the other way.
    more = -scan.quarter_turns if mirrored else scan.quarter_turns
    return Standing((turns + more) % 4, mirrored != scan.mirrored, match.inverted)
