"""How alike pictures are, as matching needs it, and what puts one right against another whose way up is known."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from catalogue.scans.look.fingerprints import Fingerprint
from catalogue.scans.look.picture_lookup import FOUND, Match, PictureIndex, standing_words

ALIKE = 0.7
"""Where the alignment counts two pictures as alike; scores are brought to that scale at the threshold of looking up."""


@dataclass(frozen=True)
class Standing:
    """What puts a picture right: turned clockwise, then mirrored; `inverted` where it is in the other polarity."""

    quarter_turns: int = 0
    mirrored: bool = False
    inverted: bool = False

    @property
    def words(self) -> str:
        """What is wrong with the file, or nothing."""
        return " and ".join(standing_words(self.mirrored, self.quarter_turns))


def scaled(score: float) -> float:
    """A score of looking up, 0 to 1, on the scale where `ALIKE` is the threshold."""
    if score < FOUND:
        return max(0.0, score / FOUND * ALIKE)
    return min(1.0, ALIKE + (score - FOUND) / (1 - FOUND) * (1 - ALIKE))


def matches(known: Mapping[int, bytes], asked: Sequence[Fingerprint | None]) -> list[dict[int, Match]]:
    """For each picture asked for, those of the known ones that are most like it, by their key."""
    index = PictureIndex(known.items())
    return [{m.key: m for m in index.rank(picture, limit=8)} if picture else {} for picture in asked]


def put_right(match: Match, reference: Standing) -> Standing:
    """What puts the matched picture right, given what puts the reference itself right.

    The match says how the file lies in the reference: mirrored first, then turned anticlockwise.
    So turning it clockwise and then mirroring gives the reference, whose own correction comes after.
    """
    # After a mirroring, turning clockwise is turning the original the other way.
    more = -reference.quarter_turns if match.mirrored else reference.quarter_turns
    return Standing((match.quarter_turns + more) % 4, match.mirrored != reference.mirrored, match.inverted)
