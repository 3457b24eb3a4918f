"""Where to cut, before the scissors: which frames on which strips, into which slots.

In order of weight: everything fits; fewest pages; fewest strips; no strip
shorter than the set minimum; fuller strips first. A cut through an overlap, a
kept group or a gap thinner than the set minimum is not made at all while any
other way fits; where none does, the fewest such cuts are made and said. That
rule stands above the count of strips, because a picture cut through can't be
mended and one more strip can be filed. Each slot takes one strip.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import MAX_FRAMES
from catalogue.sleeves.geometry import TOLERANCE_MM
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS, SleeveLayout

MAX_NEW_PAGES = 20
_END_CAP_MM = 6.0  # clear film kept at a strip's end where the gap is wide


@dataclass(frozen=True)
class CutFrame:
    """A frame on the uncut film; `start_mm` is measured from the head of the roll."""

    label: str
    start_mm: float
    length_mm: float
    state: str = "picture"


@dataclass(frozen=True)
class FreeSlot:
    """A slot that may be used: page (ordinal, from 1), slot of the layout, free length in mm."""

    page: int
    slot: int
    free_mm: float


@dataclass(frozen=True)
class PlannedStrip:
    """A strip to cut and the slot it goes into; `lead_mm` of clear film lies before its first picture."""

    frames: tuple[str, ...]
    length_mm: float
    page: int
    slot: int
    lead_mm: float


@dataclass(frozen=True)
class CutPlan:
    """The plan, with a sentence that explains it; `left_over` frames found no place."""

    strips: tuple[PlannedStrip, ...]
    explanation: str
    fits: bool
    left_over: tuple[str, ...]
    pages_used: int
    choices: tuple[str, ...] = ()
    forced: tuple[str, ...] = ()
    """Frames before which a cut had to be made that should not be."""


@dataclass(frozen=True)
class _Film:
    """The uncut film: each cut's cost, and the length of every run of frames."""

    frames: tuple[CutFrame, ...]
    half_gap: float
    forbidden: tuple[int, ...]
    single: bool

    def gap(self, after: int) -> float:
        one, two = self.frames[after], self.frames[after + 1]
        return two.start_mm - (one.start_mm + one.length_mm)

    def lead(self, first: int) -> float:
        # A sheet or a mount comes as it is: its border is its own, not half of a gap.
        return self.half_gap if first == 0 or self.single else min(self.gap(first - 1) / 2, _END_CAP_MM)

    def tail(self, stop: int) -> float:
        return self.half_gap if stop == len(self.frames) or self.single else min(self.gap(stop - 1) / 2, _END_CAP_MM)

    def length(self, first: int, stop: int) -> float:
        """Length of the strip of frames[first:stop], cut in the middle of the gaps."""
        return self._ends[stop - 1] - self.frames[first].start_mm + self._leads[first]

    @cached_property
    def _leads(self) -> tuple[float, ...]:
        return tuple(self.lead(first) for first in range(len(self.frames)))

    @cached_property
    def _ends(self) -> tuple[float, ...]:
        return tuple(frame.start_mm + frame.length_mm + self.tail(stop) for stop, frame in enumerate(self.frames, 1))


def evenly_spaced(labels: Sequence[str], film: FilmFormat, states: dict[str, str] | None = None) -> tuple[CutFrame, ...]:
    """Frames at the format's pitch, the first picture half a gap from the head."""
    states = states or {}
    head = max(film.gap_mm, 0) / 2
    return tuple(
        CutFrame(label, head + n * film.pitch_mm, film.frame_along_mm, states.get(label, "picture"))
        for n, label in enumerate(labels)
    )


def fresh_slots(layout: SleeveLayout, pages: int, first_page: int = 1) -> tuple[FreeSlot, ...]:
    """Every slot of so many empty pages."""
    return tuple(
        FreeSlot(page, slot, layout.slot_length_mm)
        for page in range(first_page, first_page + pages)
        for slot in range(1, layout.slot_count + 1)
    )


def new_pages(film: FilmFormat, layout: SleeveLayout, count: int) -> int:
    """How many empty pages to plan with: one more than even frames need, as uneven gaps and kept groups take room."""
    return min(MAX_NEW_PAGES, -(-count // (layout.frames_per_slot(film) * layout.slot_count)) + 1)


_THIN, _NEVER = 1, 1000  # one cut through a picture outweighs any number of close cuts


def _forbidden_cuts(
    frames: Sequence[CutFrame],
    kept_together: Sequence[Sequence[str]],
    min_gap_mm: float,
    film: FilmFormat,
) -> tuple[int, ...]:
    """How bad a cut after each frame is: 0 good, `_THIN` close to a picture, `_NEVER` through one or a group.

    Neighbours both marked as overlapped count as an overlap though no start was measured.
    """
    index = {frame.label: n for n, frame in enumerate(frames)}
    bad = [0] * max(0, len(frames) - 1)
    if film.kind != "strip":
        return tuple(bad)
    pairs = list(itertools.pairwise(frames))
    gaps = [two.start_mm - (one.start_mm + one.length_mm) for one, two in pairs]
    # A format whose even gaps are thinner than the minimum (half frame: 1 mm) leaves no other place to cut.
    least = min(min_gap_mm, film.gap_mm) if film.gap_mm > 0 else min_gap_mm
    all_thin = all(gap < least - TOLERANCE_MM for gap in gaps)
    for n, ((one, two), gap) in enumerate(zip(pairs, gaps, strict=True)):
        if gap <= TOLERANCE_MM or one.state == two.state == "overlapped":
            bad[n] = _NEVER
        elif gap < least - TOLERANCE_MM and not all_thin:
            bad[n] = _THIN
    for group in kept_together:
        unknown = [label for label in group if label not in index]
        if unknown:
            raise InvalidInput(f"Frame {unknown[0]} is to be kept with others but isn't on this roll.")
        places = sorted(index[label] for label in group)
        for n in range(places[0], places[-1]) if places else ():
            bad[n] = _NEVER
    return tuple(bad)


_Cost = tuple[int, int, int, int, tuple[int, ...]]


def _best(film: _Film, count: int, slots: Sequence[FreeSlot], min_frames: int, allow: bool) -> list[tuple[int, int, int]] | None:
    """The cheapest way to file the first `count` frames as (first, stop, slot index), or None."""
    # In a run of equal slots on one page only the first unused one need be tried.
    run_starts = [n for n, s in enumerate(slots) if n == 0 or (s.page, s.free_mm) != (slots[n - 1].page, slots[n - 1].free_mm)]

    @cache
    def go(first: int, slot_at: int) -> tuple[_Cost, tuple[tuple[int, int, int], ...]] | None:
        if first == count:
            return (0, 0, 0, 0, ()), ()
        best: tuple[_Cost, tuple[tuple[int, int, int], ...]] | None = None
        tries = [slot_at, *(n for n in run_starts if n > slot_at)] if slot_at < len(slots) else []
        before = slots[slot_at - 1].page if slot_at else None
        for n in tries:
            for stop in range(first + 1, (first + 1 if film.single else count) + 1):
                if film.length(first, stop) > slots[n].free_mm + TOLERANCE_MM:
                    break
                bad = film.forbidden[stop - 1] if stop < len(film.frames) else 0
                if bad and not allow:
                    continue
                rest = go(stop, n + 1)
                if rest is None:
                    continue
                size = stop - first
                (forbidden, pages, strips, short, fill), tail = rest
                new_page = int(slots[n].page != before)
                cost: _Cost = (
                    forbidden + bad,
                    pages + new_page,
                    strips + 1,
                    short + int(size < min_frames),
                    (-size, *fill),
                )
                if best is None or cost < best[0]:
                    best = cost, ((first, stop, n), *tail)
        return best

    found = go(0, 0)
    return None if found is None else list(found[1])


def plan_cuts(
    frames: Sequence[CutFrame],
    film: FilmFormat,
    layout: SleeveLayout,
    *,
    free_slots: Sequence[FreeSlot] | None = None,
    kept_together: Sequence[Sequence[str]] = (),
    min_gap_mm: float = 1.5,
    min_frames: int = 2,
    one_page: bool = False,
) -> CutPlan:
    """Plans the cuts; with no `free_slots`, fresh pages are taken as needed.

    Raises `InvalidInput` for no frames or too many, `DoesNotFit` where film of
    this format can't go into the page's slots at all.
    """
    check_frames(frames)
    layout.check_takes(film)
    if free_slots is None:
        free_slots = fresh_slots(layout, 1 if one_page else new_pages(film, layout, len(frames)))
    single = film.kind != "strip"
    half_gap = max(film.gap_mm, 0) / 2
    uncut = _Film(tuple(frames), half_gap, _forbidden_cuts(frames, kept_together, min_gap_mm, film), single)
    least = 1 if single else min_frames

    def solve_on(slots: Sequence[FreeSlot], count: int = len(frames)) -> list[tuple[int, int, int]] | None:
        return _best(uncut, count, slots, least, False) or _best(uncut, count, slots, least, True)

    def solve(count: int) -> list[tuple[int, int, int]] | None:
        return solve_on(free_slots, count)

    low, high = 0, len(frames)
    chosen = solve(high)
    while chosen is None and low < high - 1:  # the longest head of the roll that fits
        middle = (low + high) // 2
        if solve(middle) is None:
            high = middle
        else:
            low = middle
    if chosen is None:
        chosen = solve(low) if low else []
    placed = chosen[-1][1] if chosen else 0
    strips = tuple(
        PlannedStrip(
            tuple(f.label for f in frames[first:stop]),
            round(uncut.length(first, stop), 3),
            free_slots[n].page,
            free_slots[n].slot,
            round(uncut.lead(first), 3),
        )
        for first, stop, n in chosen or ()
    )
    left = tuple(f.label for f in frames[placed:])
    pages_used = len({s.page for s in strips})
    forced = tuple(frames[first].label for first, _, _ in (chosen or ())[1:] if uncut.forbidden[first - 1])
    needed = solve_on(fresh_slots(layout, new_pages(film, layout, len(frames)))) if left else None
    choices = _choices(film, layout, len(frames)) if left or (one_page is False and pages_used > 1) else ()
    return CutPlan(
        strips,
        _explain(strips, layout, left, pages_used, forced, choices, len(needed or ()), len(free_slots)),
        not left,
        left,
        pages_used,
        choices,
        forced,
    )


def check_frames(frames: Sequence[CutFrame]) -> None:
    """Refuses no frames, too many, and frames out of order."""
    if not 1 <= len(frames) <= MAX_FRAMES:
        raise InvalidInput(f"A roll holds 1 to {MAX_FRAMES} frames here, not {len(frames)}. Check the number of frames.")
    for one, two in itertools.pairwise(frames):
        if two.start_mm <= one.start_mm:
            raise InvalidInput(
                f"Frame {two.label} starts at {two.start_mm:g} mm, not behind frame {one.label} at {one.start_mm:g} mm."
            )


def own_cuts(
    cuts: Sequence[Sequence[str]],
    frames: Sequence[CutFrame],
    film: FilmFormat,
    layout: SleeveLayout,
    free_slots: Sequence[FreeSlot],
) -> CutPlan:
    """A person's own cuts put into the free slots in order; every frame once, in film order.

    The last frame of a strip may be named again as the first of the next: a
    frame cut in two. Raises `InvalidInput` or `DoesNotFit` with the numbers.
    """
    check_frames(frames)
    layout.check_takes(film)
    index = {frame.label: n for n, frame in enumerate(frames)}
    single = film.kind != "strip"
    uncut = _Film(tuple(frames), max(film.gap_mm, 0) / 2, (0,) * len(frames), single)
    strips: list[PlannedStrip] = []
    at, slot_at = 0, 0
    for number, labels in enumerate(cuts, 1):
        unknown = [label for label in labels if label not in index]
        if unknown or not labels:
            raise InvalidInput(f"Strip {number} names frame {unknown[0] if unknown else 'none'}, which isn't on this roll.")
        first, stop = index[labels[0]], index[labels[-1]] + 1
        cut_in_two = bool(strips) and first == at - 1 and strips[-1].frames[-1] == labels[0]
        if [f.label for f in frames[first:stop]] != list(labels) or (first != at and not cut_in_two):
            raise InvalidInput(
                f"Strip {number} must go on in film order from frame {frames[min(at, len(frames) - 1)].label}; "
                f"it is {', '.join(labels)}."
            )
        if single and len(labels) > 1:
            raise InvalidInput(f"{film.name} comes in single pieces. Name one frame for each.")
        length, lead = uncut.length(first, stop), uncut.lead(first)
        if cut_in_two:
            length, lead = length - lead - frames[first].length_mm / 2, 0.0
        if number < len(cuts) and cuts[number] and cuts[number][0] == labels[-1]:
            # The cut goes through the middle of the last picture, not of the gap behind it.
            length -= frames[stop - 1].length_mm / 2 + uncut.tail(stop)
        while slot_at < len(free_slots) and free_slots[slot_at].free_mm < length - TOLERANCE_MM:
            slot_at += 1
        if slot_at == len(free_slots):
            raise DoesNotFit(
                f"Strip {number} ({labels[0]}–{labels[-1]}) is {length:g} mm long and no free slot takes it; slots of "
                f"{layout.name} are {layout.slot_length_mm:g} mm. Cut it shorter or choose another page."
            )
        slot = free_slots[slot_at]
        strips.append(PlannedStrip(tuple(labels), round(length, 3), slot.page, slot.slot, round(lead, 3)))
        at, slot_at = stop, slot_at + 1
    if at != len(frames):
        raise InvalidInput(f"The cuts end at frame {frames[at - 1].label}; frames from {frames[at].label} on have no strip.")
    counts = ", ".join(str(len(s.frames)) for s in strips)
    return CutPlan(tuple(strips), f"Your own cuts: {counts}.", True, (), len({s.page for s in strips}))


def _choices(film: FilmFormat, layout: SleeveLayout, count: int) -> tuple[str, ...]:
    """Other ways for a roll that one page doesn't hold."""
    choices = ["go on to a second page"]
    for other in BUILT_IN_LAYOUTS.values():
        capacity = other.frames_per_slot(film) * other.slot_count
        if other.key != layout.key and film.gauge in other.gauges and capacity >= count:
            choices.append(f"use the page “{other.name}”, which holds {capacity}")
    return tuple(choices)


def _explain(
    strips: Sequence[PlannedStrip],
    layout: SleeveLayout,
    left: Sequence[str],
    pages: int,
    forced: Sequence[str],
    choices: Sequence[str],
    needed: int,
    free: int,
) -> str:
    counts = ", ".join(str(len(s.frames)) for s in strips)
    total = sum(len(s.frames) for s in strips)
    many = "strip" if len(strips) == 1 else "strips"
    where = "one page" if pages == 1 else f"{pages} pages"
    text = f"{total} frames on {len(strips)} {many} ({counts}), on {where} of “{layout.name}”." if strips else ""
    if left:
        named = f"Frame {left[0]}" if len(left) == 1 else f"Frames {left[0]} to {left[-1]}"
        text += f" {named} will not fit: {len(left)} too many for the free slots"
        text += f" (the whole roll needs {needed} strips, and {free} slots are free)." if needed > free else "."
    if choices:
        text += " You can " + "; or ".join(choices) + "."
    if forced:
        text += f" No way was found without cutting close before frame {', '.join(forced)}: look before you cut."
    return text.strip()
