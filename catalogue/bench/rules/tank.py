"""What a tank holds and what must go in: reels by height, solution by what covers them and what feeds the film.

Film is counted in rolls: one 135-36 is one 120 is four 4x5 inch sheets is 80
square inches (common practice, many data sheets). Volumes are ml, heights mm.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor, isfinite
from typing import Literal, get_args

from catalogue.bench.rules.dilution import Dilution
from catalogue.bench.rules.figures import plain, volume_words
from catalogue.errors import DoesNotFit, InvalidInput

ReelKind = Literal["35 mm", "120", "127", "sheet"]
REEL_KINDS: tuple[str, ...] = get_args(ReelKind)

_HAIR = 1e-9  # what adding fractions may leave over


@dataclass(frozen=True)
class Reel:
    """A reel as it stands in the tank: the solution that covers it, its height, and the film on it.

    `rolls` is film by area: 1 for a 135-36 or a 120, 2 for a 220 or two 120 on one reel, 2/3 for a 135-24, a quarter
    for each 4x5 inch sheet, 0 for a reel left empty.
    """

    kind: str
    ml: float
    height_mm: float
    rolls: float = 1.0

    def __post_init__(self) -> None:
        if self.kind not in REEL_KINDS:
            raise InvalidInput(f"“{self.kind[:20]}” is not a kind of reel. Choose {', '.join(REEL_KINDS)}.")
        if not (isfinite(self.ml) and 50 <= self.ml <= 5000):
            raise InvalidInput(f"A reel takes 50 to 5000 ml to cover, not {self.ml:g} ml. Fill the tank with water and measure.")
        if not (isfinite(self.height_mm) and 15 <= self.height_mm <= 400):
            raise InvalidInput(f"A reel is 15 to 400 mm high, not {self.height_mm:g} mm. Measure it along the column.")
        if not (isfinite(self.rolls) and 0 <= self.rolls <= 8):
            raise InvalidInput(f"A reel holds 0 to 8 rolls of film by area, not {self.rolls:g}. A 120 is 1, a 220 is 2.")


# Starting values to be edited; common practice, no published source. The volumes are towards the upper end of what is
# usual, for film left dry is lost. The heights are such that a tank for two 35 mm reels takes one of 120, for three
# two, for five three; a holder of six 4x5 inch sheets stands as high as three 35 mm reels.
REELS: dict[str, Reel] = {
    "35 mm": Reel("35 mm", 300, 45),
    "120": Reel("120", 500, 66),
    "127": Reel("127", 400, 55),
    "sheet": Reel("sheet", 1000, 135, rolls=1.5),
}


@dataclass(frozen=True)
class TankSize:
    """A tank by what it holds. `minimum_ml` is the least that may go in, whatever stands inside."""

    name: str
    height_mm: float
    capacity_ml: float
    minimum_ml: float

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InvalidInput("A tank needs a name. Write for example “two-reel tank”.")
        if not (isfinite(self.height_mm) and 15 <= self.height_mm <= 2000):
            raise InvalidInput(
                f"A tank has room for reels of 15 to 2000 mm in all, not {self.height_mm:g} mm. Measure its column."
            )
        if not (isfinite(self.capacity_ml) and 50 <= self.capacity_ml <= 50_000):
            raise InvalidInput(f"A tank holds 50 to 50000 ml, not {self.capacity_ml:g} ml. Fill it to the brim and measure.")
        if not (isfinite(self.minimum_ml) and 0 < self.minimum_ml <= self.capacity_ml):
            raise InvalidInput(
                f"The least volume lies over 0 and up to the tank's {self.capacity_ml:g} ml, not {self.minimum_ml:g} ml."
            )

    @classmethod
    def for_reels(
        cls, name: str, reels_35mm: int, capacity_ml: float | None = None, minimum_ml: float | None = None
    ) -> "TankSize":
        """A tank known by how many 35 mm reels it takes; volumes not given follow from that reel's starting values."""
        if not 1 <= reels_35mm <= 20:
            raise InvalidInput(f"A tank takes 1 to 20 reels of 35 mm, not {reels_35mm}. Count what fits on its column.")
        reel = REELS["35 mm"]
        capacity = reels_35mm * reel.ml * 1.1 if capacity_ml is None else capacity_ml
        return cls(name, reels_35mm * reel.height_mm, capacity, min(reel.ml, capacity) if minimum_ml is None else minimum_ml)

    def most(self, reel: Reel) -> int:
        """How many reels of one kind its height takes."""
        return floor(self.height_mm / reel.height_mm + _HAIR)


@dataclass(frozen=True)
class Loading:
    """Reels in a tank; refuses more than its height or its volume takes (`DoesNotFit`)."""

    tank: TankSize
    reels: tuple[Reel, ...]

    def __post_init__(self) -> None:
        if not self.reels or not any(reel.rolls for reel in self.reels):
            raise InvalidInput("No film is in the tank. Add a loaded reel.")
        if self.height_mm > self.tank.height_mm + _HAIR:
            kinds = " or ".join(f"{self.tank.most(reel)} of {kind}" for kind, reel in self._kinds().items())
            raise DoesNotFit(
                f"{_reels(self.reels)} {plain(self.height_mm)} mm high, but {self.tank.name} has room for "
                f"{plain(self.tank.height_mm)} mm, at most {kinds}. Take one out or use a larger tank."
            )
        if self.covering_ml > self.tank.capacity_ml + _HAIR:
            raise DoesNotFit(
                f"It takes {volume_words(self.covering_ml)} to cover these reels, but {self.tank.name} holds "
                f"{volume_words(self.tank.capacity_ml)}. Take a reel out or use a larger tank."
            )

    def _kinds(self) -> dict[str, Reel]:
        return {reel.kind: reel for reel in self.reels}

    @property
    def height_mm(self) -> float:
        """Height of all reels, empty ones too."""
        return sum(reel.height_mm for reel in self.reels)

    @property
    def rolls(self) -> float:
        """Film in the tank, in rolls by area."""
        return sum(reel.rolls for reel in self.reels)

    @property
    def covering_ml(self) -> float:
        """What covers the loaded reels; an empty one stands on top and may stay dry."""
        return sum(reel.ml for reel in self.reels if reel.rolls)

    def empty_on_top(self, filler: Reel = REELS["35 mm"]) -> int:
        """How many empty reels go on top so that nothing slides up and down (US Navy training manual 14209)."""
        return floor((self.tank.height_mm - self.height_mm) / filler.height_mm + _HAIR)

    def words(self) -> str:
        """How the reels go in."""
        empty = self.empty_on_top()
        return (
            f"Put {empty} empty {'reel' if empty == 1 else 'reels'} on top: the film must not slide up out of the solution."
            if empty
            else "The reels fill the tank."
        )


def check_volume(tank: TankSize, reels: Iterable[Reel], volume_ml: float) -> None:
    """Refuses a volume that leaves film dry, is under the tank's minimum, or doesn't go in (`DoesNotFit`)."""
    loading = Loading(tank, tuple(reels))
    if not isfinite(volume_ml) or volume_ml <= 0:
        raise InvalidInput(f"{volume_ml:g} ml is not a volume. Give more than 0 ml.")
    for least, why in ((loading.covering_ml, "to cover these reels"), (tank.minimum_ml, f"in {tank.name}")):
        if volume_ml < least - _HAIR:
            raise DoesNotFit(f"{volume_words(volume_ml)} is too little: it takes {volume_words(least)} {why}. Mix more.")
    if volume_ml > tank.capacity_ml + _HAIR:
        raise DoesNotFit(
            f"{volume_words(volume_ml)} doesn't go into {tank.name}, which holds {volume_words(tank.capacity_ml)}. Mix less."
        )


@dataclass(frozen=True)
class VolumeNeeded:
    """What must be mixed for a loading, and why.

    `ml` is the most of what the tank works with, what covers the reels and what feeds the film, whether or not it goes in
    (`fits`). `explanation` says which of them decides, and how many rolls the concentrate feeds where that is known.
    """

    ml: float
    fits: bool
    explanation: str


def volume_needed(
    tank: TankSize, reels: Iterable[Reel], dilution: Dilution, least_concentrate_ml_per_roll: float | None = None
) -> VolumeNeeded:
    """The volume in ml for the reels: the tank's minimum, what covers them, or what feeds the film, whichever is most.

    The last is least concentrate per roll × rolls × parts in all ÷ parts of concentrate (several concentrates count
    together). It is what a maker asks of a one-shot developer; None where the sheet names none. Raises `DoesNotFit` where
    the reels don't go in, `InvalidInput` for an impossible amount.
    """
    loading = Loading(tank, tuple(reels))
    floor_ml = least_concentrate_ml_per_roll
    if floor_ml is not None and not (isfinite(floor_ml) and 0 < floor_ml <= 2000):
        raise InvalidInput(
            f"The least concentrate for a roll lies over 0 and up to 2000 ml, not {floor_ml:g} ml. Check the sheet."
        )
    times = dilution.parts_total / dilution.parts_concentrate
    feeding = 0.0 if floor_ml is None else floor_ml * loading.rolls * times
    ml = max(tank.minimum_ml, loading.covering_ml, feeding)
    by = "concentrate" if ml > max(tank.minimum_ml, loading.covering_ml) else "tank" if ml > loading.covering_ml else "reels"
    fits = ml <= tank.capacity_ml + _HAIR
    fed = None if floor_ml is None else floor(ml / times / floor_ml + _HAIR)
    fed_full = None if floor_ml is None else floor(tank.capacity_ml / times / floor_ml + _HAIR)
    why = {
        "tank": f"Mix {volume_words(ml)}, the least that {tank.name} works with.",
        "reels": f"Mix {volume_words(ml)}, which covers the reels.",
        "concentrate": f"Mix {volume_words(ml)}: {_rolls(loading.rolls)} at {plain(floor_ml or 0)} ml of concentrate each "
        f"take {volume_words(feeding / times)}, and at {dilution.text} that makes {volume_words(feeding)}.",
    }[by]
    if fits and fed is not None:
        why += f" It holds enough concentrate for {_rolls(fed)}."
    if not fits:
        why = why.replace("Mix", "It would take", 1) + f" But {tank.name} holds {volume_words(tank.capacity_ml)}"
        why += (
            f", enough for {_rolls(fed_full)} at {dilution.text}. Develop fewer rolls at a time or mix it stronger."
            if fed_full
            else f", not enough for one roll at {dilution.text}. Mix it stronger or use a larger tank."
        )
    return VolumeNeeded(ml, fits, why)


def _rolls(rolls: float) -> str:
    return f"{plain(rolls, 2)} {'roll' if rolls == 1 else 'rolls'}"


def _reels(reels: tuple[Reel, ...]) -> str:
    return "The reel stands" if len(reels) == 1 else f"The {len(reels)} reels stand"
