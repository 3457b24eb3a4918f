"""The uncut film in millimetres from its head: strips, cuts, places never to cut, and pieces as long as a paper is."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.sleeves.cut_plan import CutFrame, CutPlan
from catalogue.sleeves.geometry import TOLERANCE_MM

END_PIECE_MM = 20.0
"""Shown of the film before the first strip and behind the last frame; the film itself is longer."""
OVERLAP_MM = 10.0
"""Shown of the film on both of two pieces that join."""


@dataclass(frozen=True)
class StripOnFilm:
    """A planned strip on the uncut film, from cut to cut; `number` counts from the head."""

    number: int
    from_mm: float
    to_mm: float
    frames: tuple[str, ...]
    page: int
    slot: int


@dataclass(frozen=True)
class Cut:
    """A cut; `clear_mm` is the clear film it lies in, 0 where it goes through a picture. Words fullest first."""

    at_mm: float
    clear_mm: float
    words: tuple[str, ...]


@dataclass(frozen=True)
class Join:
    """Where two bands meet: both show the film from `left_mm` to `right_mm`, and both are lettered alike."""

    at_mm: float
    left_mm: float
    right_mm: float
    letter: str

    @property
    def overlap_mm(self) -> float:
        """How far the ends lie over one another."""
        return self.right_mm - self.left_mm


def strips_on_film(plan: CutPlan, frames: Sequence[CutFrame]) -> tuple[StripOnFilm, ...]:
    """Where each planned strip begins and ends on the film; `InvalidInput` where plan and frames don't belong together."""
    known = {frame.label: frame for frame in frames}
    found: list[StripOnFilm] = []
    for number, strip in enumerate(plan.strips, 1):
        unknown = [label for label in strip.frames if label not in known]
        if unknown or not strip.frames:
            raise InvalidInput(f"Strip {number} holds frame {unknown[0] if unknown else 'none'}, which isn't on this film.")
        start = known[strip.frames[0]].start_mm - strip.lead_mm
        if found and found[-1].frames[-1] == strip.frames[0]:  # a frame cut in two goes on where the cut is
            start = found[-1].to_mm
        end, last = start + strip.length_mm, known[strip.frames[-1]]
        if (found and start < found[-1].to_mm - 0.01) or end <= last.start_mm:
            raise InvalidInput(
                f"Strip {number} would lie from {start:g} to {end:g} mm, but frame {last.label} starts at "
                f"{last.start_mm:g} mm and the strip before ends at {found[-1].to_mm if found else 0:g} mm. "
                "Plan the cuts again with the frames as measured now."
            )
        found.append(StripOnFilm(number, start, end, strip.frames, strip.page, strip.slot))
    return tuple(found)


def cuts_on_film(strips: Sequence[StripOnFilm], frames: Sequence[CutFrame]) -> tuple[Cut, ...]:
    """The cuts in film order: one between two strips, two where clear film between them is left out."""

    def cut(at: float, number: int, what: str) -> Cut:
        before = max((f.start_mm + f.length_mm for f in frames if f.start_mm < at), default=at - END_PIECE_MM)
        behind = min((f.start_mm for f in frames if f.start_mm + f.length_mm > at), default=at + END_PIECE_MM)
        clear = max(0.0, 2 * min(at - before, behind - at))
        through = next((f"through {f.label}" for f in frames if f.start_mm + 0.01 < at < f.start_mm + f.length_mm - 0.01), "")
        danger = f", {through}" if through else ", close to a picture" if clear < 0.8 else ""
        texts = [f"cut here{danger}: strip {number} {what}", f"cut{danger}: strip {number} {what}"]
        return Cut(at, clear, (*texts, f"cut{danger}: {number} {what}", f"cut {number}{danger}"))

    found = [cut(strips[0].from_mm, 1, "begins")] if strips else []
    for strip, following in zip(strips, [*strips[1:], None], strict=True):
        found.append(cut(strip.to_mm, strip.number, "ends"))
        if following and following.from_mm - strip.to_mm > 0.01:
            found.append(cut(following.from_mm, following.number, "begins"))
    return tuple(found)


def never_cut(frames: Sequence[CutFrame], cuts: Sequence[Cut], kept_together: Sequence[Sequence[str]] = ()) -> tuple[float, ...]:
    """Middles of the overlaps and kept gaps, as the cut plan knows them, that no cut of it goes through."""
    place = {frame.label: n for n, frame in enumerate(frames)}
    kept: set[int] = set()
    for group in kept_together:
        at = sorted(place[label] for label in group if label in place)
        kept |= set(range(at[0], at[-1])) if at else set()
    found = []
    for n, (one, two) in enumerate(itertools.pairwise(frames)):
        end = one.start_mm + one.length_mm
        overlap = two.start_mm - end <= TOLERANCE_MM or one.state == two.state == "overlapped"
        middle = (end + two.start_mm) / 2
        if (overlap or n in kept) and not any(abs(cut.at_mm - middle) < 0.01 for cut in cuts):
            found.append(middle)
    return tuple(found)


def never_cut_runs(places: Sequence[float], frames: Sequence[CutFrame]) -> list[tuple[float, float]]:
    """Places never to cut with nothing but one picture between them, taken together: first and last."""
    pitch = max((two.start_mm - one.start_mm for one, two in itertools.pairwise(frames)), default=0.0)
    runs: list[tuple[float, float]] = []
    for at in places:
        between = sum(runs[-1][1] < f.start_mm + f.length_mm / 2 < at for f in frames) if runs else 9
        if runs and between <= 1 and at - runs[-1][1] <= 2 * pitch:
            runs[-1] = (runs[-1][0], at)
        else:
            runs.append((at, at))
    return runs


def _letter(number: int) -> str:
    """A to Z, then AA, AB, …; from 0."""
    return (_letter(number // 26 - 1) if number >= 26 else "") + chr(ord("A") + number % 26)


def pieces_of_film(
    start: float, stop: float, room: float, frames: Sequence[CutFrame], cuts: tuple[Cut, ...]
) -> list[tuple[float, float, Join | None]]:
    """The film in pieces (from, to, join behind) no longer than `room`."""
    gaps, half = [], OVERLAP_MM / 2
    for one, two in itertools.pairwise(frames):
        end = one.start_mm + one.length_mm
        middle = (end + two.start_mm) / 2
        cut = any(min(end, middle) - 0.01 <= c.at_mm <= max(two.start_mm, middle) + 0.01 for c in cuts)
        gaps.append((cut, Join(middle, min(middle - half, two.start_mm), max(middle + half, end), "")))
    # Head and tail lie apart only where one long picture takes the whole band.
    outer = [Join(cut.at_mm, cut.at_mm - half, cut.at_mm + half, "") for cut in cuts[:1] + cuts[-1:]]
    found: list[tuple[float, float, Join | None]] = []
    while stop - start > room + TOLERANCE_MM:
        end = start + room

        def fits(join: Join, first: float = start + OVERLAP_MM, last: float = end) -> bool:
            return first < join.left_mm and join.right_mm <= last

        # A cut early in the band, before a strip too long for it, is passed over for a later gap.
        at_cuts = [j for cut, j in gaps if cut and fits(j) and j.at_mm > start + 0.4 * room]
        apart = [j for _, j in gaps if fits(j)] or [j for j in outer if fits(j)]
        join = (at_cuts or apart or [Join(end - half, end - OVERLAP_MM, end, "")])[-1]
        join = Join(join.at_mm, join.left_mm, join.right_mm, _letter(len(found)))
        found.append((start, join.right_mm, join))
        start = join.left_mm
    return [*found, (start, stop, None)]
