"""Evidence for the state of a bath: how dense the film base of its rolls is, as measured from their scans.

Densities are the scanner's or camera's own against clear light and are never to be called ISO 5-3 Status M or A.
They can be compared only with the same light, exposure and a picture of the bare table.
"""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from sqlmodel import Session

from catalogue.bench.bottles.shelf import BottleView
from catalogue.errors import StripleafError
from catalogue.rolls.rows import roll_row
from catalogue.scans.look.positives import Channels, FilmKind, Inversion, density
from catalogue.scans.look.showing_positive import positive_of_roll

SESSIONS = 3
LEAST_RISE = 0.02
"""Density over three sessions that is taken for a rise; less is the scanner's own unrest (our own choice)."""


@dataclass(frozen=True)
class BaseMeasured:
    """A roll's film base: density of red, green and blue above clear light, as the device measures it."""

    roll: str
    on: date
    entry: int
    stock: str
    kind: str
    density: Channels

    @property
    def mean(self) -> float:
        """Mean of the three channels."""
        return sum(self.density) / 3


@dataclass(frozen=True)
class BathEvidence:
    """The measured bases of a bottle's rolls, oldest first, and a sentence for each stock whose base has risen."""

    bases: tuple[BaseMeasured, ...]
    sentences: tuple[str, ...]


def bath_evidence(session: Session, view: BottleView) -> BathEvidence | None:
    """The bases of the rolls in the bottle's present bath, or its last one; None where nothing was measured."""
    if not view.state.baths:
        return None
    found: list[BaseMeasured] = []
    for one in view.state.baths[-1].passes:
        measured = _measured(session, one.roll.roll)
        if measured is None:
            continue
        number, stock, inversion = measured
        red, green, blue = (density(part) for part in inversion.base)
        found.append(BaseMeasured(number, one.on, one.entry, stock, inversion.kind.value, (red, green, blue)))
    if not found:
        return None
    return BathEvidence(tuple(found), risen(found))


def _measured(session: Session, number: str) -> tuple[str, str, Inversion] | None:
    try:
        roll = roll_row(session, number)
        row = positive_of_roll(session, number)
        inversion = Inversion.from_json(row.inversion) if row else None
    except StripleafError:
        return None  # numbers that can't be read are no evidence
    if inversion is None or inversion.kind is FilmKind.SLIDE or inversion.base == (1.0, 1.0, 1.0):
        return None
    return roll.number, roll.stock, inversion


def risen(bases: list[BaseMeasured]) -> tuple[str, ...]:
    """A sentence for each stock whose mean base rose with each of its last three sessions, by 0.02 at least in all.

    A session is one entry of the ledger; its value is the mean of its rolls. Stocks are never compared with one another.
    """
    by_stock: dict[tuple[str, str], dict[int, list[BaseMeasured]]] = {}
    for one in bases:
        if one.stock:
            by_stock.setdefault((one.stock, one.kind), {}).setdefault(one.entry, []).append(one)
    said = []
    for (stock, _), sessions in by_stock.items():
        last = [sessions[entry] for entry in sorted(sessions)][-SESSIONS:]
        means = [Fraction(sum(Fraction(one.mean) for one in rolls), len(rolls)) for rolls in last]
        rise = means[-1] - means[0]
        if len(means) == SESSIONS and means[0] < means[1] < means[2] and rise >= Fraction(LEAST_RISE):
            rolls = ", ".join(one.roll for session in last for one in session)
            said.append(
                f"The base of rolls {rolls} ({stock}) rose by {float(rise):.2f} over the last {SESSIONS} sessions; "
                "valid only with the same light, exposure and a picture of the bare table."
            )
    return tuple(said)
