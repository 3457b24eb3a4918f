"""What the shots of a copied roll say, each piece of it as a cost: looks, pauses, exposures, names, bare tables.

A cost is minus the natural logarithm of how likely a thing is, about, in whole units, so that equal means equal on
every machine. The prior costs below are judgement, with no published source. Shots and frames count from 0.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import median
from typing import Literal

from catalogue.errors import InvalidInput

Role = Literal["frame", "again", "bracket", "extra"]
Where = Literal["first", "last", "at strip end", "inside"]
Course = Literal["same", "along", "next strip"]
Alike = Callable[[int, int], float | None] | Sequence[Sequence[float | None]] | None
"""How alike two shots look, 0 to 1: asked as `alike(i, j)` or `alike[i][j]`, i < j; None where it isn't known."""

NEAR_SHOTS = 8
"""How far back a shot is compared with others; repeats and brackets follow closely."""
UNIT = 1_000_000
"""Whole cost units in one natural unit."""
IMPOSSIBLE = 10**14
"""A cost in whole units that no possible course reaches."""
TURN = 3.0
"""What a strip, or the roll, copied the other way round costs, in natural units."""

_SKIP, _SKIP_BLANK, _SKIP_STRIP_END = 2.5, 0.5, 5.0  # a frame left out; a blank one; the most for a strip's end or a whole strip
_FIRST, _LAST = 0.9, 0.8  # less for frames left out before the first and behind the last shot: part of a roll is copied
_EXTRA: dict[Where, float] = {"first": 3.0, "last": 2.8, "at strip end": 3.2, "inside": 4.0}
_REPEAT, _OVERRULE = 3.0, 6.0
_ALIKE_FROM, _ALIKE_SLOPE = 0.7, 20.0  # pictures count as alike from here on; how fast that becomes certain
_EMPTY_SLOPE, _MOST_AGAINST_EXTRA = 20.0, 1.5  # a hand or the sleeve is a picture too, so a full picture says little
_MOST_BY_ECHO = 5.0
_LONG_PAUSE, _MOST_BY_TIME = 2.0, 2.5  # pauses this many times the usual one speak for a change of strip; telephones ring too
_BRACKET_S, _BRACKET_STOPS = 3.0, 0.3


@dataclass(frozen=True)
class Shot:
    """One file of the sequence and what is known of it.

    `gap_s`: seconds since the shot before. `emptiness` 0 to 1: how surely there is no picture in it.
    `exposure_stops`: exposure against any fixed one. `frame`: the frame its name or edge code says;
    `held` makes that binding. Raises `InvalidInput` for values out of range.
    """

    gap_s: float | None = None
    emptiness: float | None = None
    exposure_stops: float | None = None
    frame: int | None = None
    held: bool = False

    def __post_init__(self) -> None:
        share(self.emptiness, "Emptiness")
        if self.gap_s is not None and not 0 <= self.gap_s < math.inf:
            raise InvalidInput(f"{self.gap_s:g} s can't be the time since the shot before. Give 0 or more, shots in their order.")
        if self.exposure_stops is not None and not math.isfinite(self.exposure_stops):
            raise InvalidInput("An exposure in stops must be a number. Leave it out where it isn't known.")
        if self.held and self.frame is None:
            raise InvalidInput("A shot is held to a frame, but no frame is named. Name it or don't hold the shot.")


def share(value: float | None, named: str) -> float | None:
    """The value, which lies between 0 and 1 or is None; raises `InvalidInput`, in which it is called `named`."""
    if value is not None and not 0 <= value <= 1:
        raise InvalidInput(f"{named} runs from 0 to 1, not {value:g}. Leave it out where it isn't known.")
    return value


def _against(log_odds: float) -> float:
    """The cost of a thing whose logarithmic odds are these: small when they speak for it."""
    return max(-log_odds, 0.0) + math.log1p(math.exp(-abs(log_odds)))


def whole_units(cost: float) -> int:
    """A cost in natural units as whole cost units."""
    return round(cost * UNIT)


@dataclass(frozen=True)
class Evidence:
    """What the shots say, each piece as a cost in whole units; the search only adds these up."""

    shots: tuple[Shot, ...]
    strips: tuple[int, ...]
    blank: frozenset[int]
    alike: Alike
    likeness: Sequence[Sequence[float | None]] | None

    @cached_property
    def usual_gap_s(self) -> float | None:
        """The median of the seconds between shots; None where none is known."""
        known = [shot.gap_s for shot in self.shots[1:] if shot.gap_s]
        return median(known) if known else None

    def left_out(self, frame: int, where: Where = "inside") -> int:
        """A frame without a shot; less before the first shot and behind the last."""
        share = {"first": _FIRST, "last": _LAST}.get(where, 1.0)
        return whole_units((_SKIP_BLANK if frame in self.blank else _SKIP) * share)

    def strip_end_left_out(self, frames: Sequence[int], where: Where = "inside") -> int:
        """Frames up to a strip's end, or a whole strip, without shots: not more than one such omission."""
        share = {"first": _FIRST, "last": _LAST}.get(where, 1.0)
        return min(sum(self.left_out(frame, where) for frame in frames), whole_units(_SKIP_STRIP_END * share))

    def extra(self, shot: int, where: Where) -> int:
        """A shot that shows no frame."""
        given = self.shots[shot]
        cost = _EXTRA[where]
        if given.emptiness is not None:
            cost += min(_against(_EMPTY_SLOPE * (given.emptiness - 0.5)), _MOST_AGAINST_EXTRA)
        if given.frame is not None:
            cost += _OVERRULE
        return IMPOSSIBLE if given.held else whole_units(cost + self._echo[shot])

    @cached_property
    def _echo(self) -> tuple[float, ...]:
        """Against extra: a shot that looks like its neighbour shows what that one shows. Bare tables look alike as well."""
        found = []
        for n, shot in enumerate(self.shots):
            pairs = [(a, a + 1) for a in (n - 1, n) if 0 <= a < len(self.shots) - 1]
            odds = [value for a, b in pairs if (value := self._looks(a, b)) is not None]
            found.append(min(max([0.0, *odds]), _MOST_BY_ECHO) * (1 - (shot.emptiness or 0.0)))
        return tuple(found)

    def shows(self, shot: int, frame: int) -> int:
        """A shot that shows this frame, by itself."""
        given = self.shots[shot]
        cost = 0.0
        if given.emptiness is not None:
            cost += 0.3 if frame in self.blank else _against(_EMPTY_SLOPE * (0.5 - given.emptiness))
        if self.likeness is not None:
            likeness = self.likeness[shot][frame]
            # A frame without a picture is neither here nor there.
            cost += math.log(2) if likeness is None else _against(_ALIKE_SLOPE * (likeness - _ALIKE_FROM))
        if given.frame is not None and given.frame != frame:
            if given.held:
                return IMPOSSIBLE
            cost += _OVERRULE
        return whole_units(cost)

    def _looks(self, before: int, shot: int) -> float | None:
        """Logarithmic odds that two shots show one frame; None where nothing is known."""
        if self.alike is None or shot - before > NEAR_SHOTS:
            return None
        value = self.alike(before, shot) if callable(self.alike) else self.alike[before][shot]
        return None if value is None else _ALIKE_SLOPE * ((share(value, "Likeness") or 0.0) - _ALIKE_FROM)

    def _pause(self, before: int, shot: int) -> float | None:
        """Logarithmic odds, by time, that the strip was changed between two shots."""
        known = [gap for s in range(before + 1, shot + 1) if (gap := self.shots[s].gap_s) is not None]
        if not known or self.usual_gap_s is None or len(self.strips) < 2:
            return None
        ratio = max(max(known), self.usual_gap_s / 100) / (_LONG_PAUSE * self.usual_gap_s)
        return max(-_MOST_BY_TIME, min(_MOST_BY_TIME, 2 * math.log(ratio)))

    def repeat_role(self, before: int, shot: int) -> tuple[Role, float]:
        """Whether a second shot of a frame is a bracket: by exposure where it is known, else by haste."""
        one, two = self.shots[before].exposure_stops, self.shots[shot].exposure_stops
        gap = self.shots[shot].gap_s
        if shot - before > 1:
            return "again", 0.0
        if one is not None and two is not None:
            return ("bracket", 0.0) if abs(one - two) >= _BRACKET_STOPS else ("again", 0.5)
        return ("bracket", 0.0) if gap is not None and gap <= min(_BRACKET_S, (self.usual_gap_s or 0) / 2) else ("again", 0.0)

    def step(self, before: int, shot: int, course: Course) -> int:
        """From one shot that shows a frame to the next such shot, everything between them extra."""
        looks, pause = self._looks(before, shot), self._pause(before, shot)
        cost = 0.0
        if looks is not None:
            cost += _against(looks if course == "same" else -looks)
        if pause is not None:
            cost += _against(pause if course == "next strip" else -pause)
        if course == "same":
            cost += _REPEAT + self.repeat_role(before, shot)[1]
        where: Where = "at strip end" if course == "next strip" else "inside"
        return whole_units(cost) + sum(self.extra(s, where) for s in range(before + 1, shot))
