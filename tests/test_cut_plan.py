"""Cut plans: the worked cases, and optimality by brute force on small films."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import find_format
from catalogue.sleeves.cut_plan import CutFrame, CutPlan, FreeSlot, evenly_spaced, own_cuts, plan_cuts
from catalogue.sleeves.layouts import find_layout

FULL = find_format("135-24x36")


def counts(count: int, film: str, layout: str, **more: object) -> list[int]:
    shape = find_format(film)
    frames = evenly_spaced([str(n) for n in range(1, count + 1)], shape)
    return [len(s.frames) for s in plan_cuts(frames, shape, find_layout(layout), **more).strips]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("count", "film", "layout", "expected"),
    [
        (12, "120-6x6", "120-6x6", [3, 3, 3, 3]),
        (16, "120-6x4.5", "120-6x4.5", [4, 4, 4, 4]),
        (10, "120-6x7", "120-6x7", [3, 3, 2, 2]),  # 3,3,3,1 would leave a single frame
        (36, "135-24x36", "135-7x6", [6] * 6),
        (37, "135-24x36", "135-7x6", [6, 6, 6, 6, 6, 5, 2]),  # seven strips, none single
        (8, "120-6x9", "120-6x9", [2, 2, 2, 2]),
        (4, "120-6x17", "120-6x17", [1, 1, 1, 1]),
        (72, "135-18x24", "135-6x6", [12] * 6),
    ],
)
def test_worked_cases(count: int, film: str, layout: str, expected: list[int]) -> None:
    # Common practice, no published source.
    assert counts(count, film, layout) == expected


def test_36_frames_do_not_fit_seven_slots_of_five() -> None:
    # 7 × 5 = 35 < 36
    frames = evenly_spaced([str(n) for n in range(1, 37)], FULL)
    plan = plan_cuts(frames, FULL, find_layout("7x5"), one_page=True)
    assert not plan.fits
    assert plan.left_over == ("36",)
    assert "Frame 36 will not fit" in plan.explanation
    assert any("second page" in choice for choice in plan.choices)
    assert any("holds 42" in choice for choice in plan.choices)


def test_no_cut_inside_a_kept_group_or_a_thin_gap() -> None:
    frames = list(evenly_spaced([str(n) for n in range(1, 13)], FULL))
    # Frame 7 starts 1 mm late, so 1 mm is left before frame 8.
    frames[6] = CutFrame("7", frames[6].start_mm + 1, 36)
    plan = plan_cuts(frames, FULL, find_layout("7x6"), kept_together=[["5", "6", "7"]])
    ends = {s.frames[-1] for s in plan.strips}
    assert not ends & {"5", "6", "7"}


def test_an_overlap_is_never_cut() -> None:
    frames = list(evenly_spaced([str(n) for n in range(1, 13)], FULL))
    frames[6] = CutFrame("7", frames[5].start_mm + 20, 36)  # begins inside frame 6
    plan = plan_cuts(frames, FULL, find_layout("7x6"))
    assert all(s.frames[-1] != "6" for s in plan.strips)


def ends(plan: CutPlan) -> set[str]:
    return {s.frames[-1] for s in plan.strips}


def test_neighbours_marked_overlapped_stay_together_without_measured_starts() -> None:
    frames = evenly_spaced([str(n) for n in range(1, 13)], FULL, {"6": "overlapped", "7": "overlapped"})
    plan = plan_cuts(frames, FULL, find_layout("7x6"))
    assert "6" not in ends(plan)


def test_one_forced_cut_opens_no_other() -> None:
    # Seven frames can't stay together in a slot of six; the overlap of 18 and 19 still must not be cut.
    # Four strips would cut it, so a fifth is taken.
    frames = [
        CutFrame(f.label, f.start_mm - (18 if n >= 18 else 0), 36)  # from 19 on 18 mm early
        for n, f in enumerate(evenly_spaced([str(n) for n in range(1, 25)], FULL))
    ]
    plan = plan_cuts(frames, FULL, find_layout("7x6"), kept_together=[[str(n) for n in range(1, 8)]])
    assert plan.fits
    assert "18" not in ends(plan)
    assert len(ends(plan) & {str(n) for n in range(1, 7)}) == 1


@pytest.mark.parametrize("late", [-9, 3])
def test_half_frame_gaps_of_1_mm_may_be_cut_and_an_overlap_not(late: float) -> None:
    half = find_format("135-18x24")
    frames = [
        CutFrame(f.label, f.start_mm + (late if n >= 12 else 0), f.length_mm)
        for n, f in enumerate(evenly_spaced([str(n) for n in range(1, 31)], half))
    ]
    plan = plan_cuts(frames, half, find_layout("135-6x6"))
    assert plan.fits
    assert ("12" in ends(plan)) == (late > 0)
    assert "close" not in plan.explanation


def test_own_cuts_are_checked_with_the_numbers() -> None:
    frames = evenly_spaced([str(n) for n in range(1, 8)], FULL)
    slots = [FreeSlot(1, n, 234) for n in range(1, 4)]
    plan = own_cuts([["1", "2", "3"], ["4", "5", "6", "7"]], frames, FULL, find_layout("7x6"), slots)
    assert [s.length_mm for s in plan.strips] == [114, 152]  # 3 × 38 and 4 × 38
    with pytest.raises(DoesNotFit, match="266 mm"):
        own_cuts([["1", "2", "3", "4", "5", "6", "7"]], frames, FULL, find_layout("7x6"), slots)
    with pytest.raises(InvalidInput, match="no strip"):
        own_cuts([["1", "2", "3"]], frames, FULL, find_layout("7x6"), slots)
    with pytest.raises(InvalidInput, match="film order"):
        own_cuts([["2", "1"], ["3", "4", "5", "6", "7"]], frames, FULL, find_layout("7x6"), slots)


@pytest.mark.parametrize("count", [0, 10_000])
def test_absurd_counts_are_refused(count: int) -> None:
    frames = [CutFrame(str(n), n * 38.0, 36) for n in range(count)]
    with pytest.raises(InvalidInput, match="1 to 400"):
        plan_cuts(frames, FULL, find_layout("7x6"))


def brute_force(frames: list[CutFrame], slots: list[FreeSlot], bad: set[int], least: int) -> tuple[object, ...] | None:
    """The best cost over every way to cut and every choice of slots, written apart from the planner."""
    best: tuple[object, ...] | None = None
    total = len(frames)
    for pieces in range(1, min(total, len(slots)) + 1):
        for cuts in combinations(range(1, total), pieces - 1):
            if bad & set(cuts):
                continue
            edges = [0, *cuts, total]
            sizes = [b - a for a, b in pairwise(edges)]
            lengths = []
            for a, b in pairwise(edges):
                lead = 1.0 if a == 0 else min((frames[a].start_mm - frames[a - 1].start_mm - 36) / 2, 6)
                tail = 1.0 if b == total else min((frames[b].start_mm - frames[b - 1].start_mm - 36) / 2, 6)
                lengths.append(frames[b - 1].start_mm + 36 - frames[a].start_mm + lead + tail)
            for chosen in combinations(slots, pieces):
                if all(length <= slot.free_mm + 1e-6 for length, slot in zip(lengths, chosen, strict=True)):
                    pages = len({slot.page for slot in chosen})
                    cost = (pages, pieces, sum(s < least for s in sizes), [-s for s in sizes])
                    best = cost if best is None or cost < best else best
    return best


@settings(max_examples=150, deadline=None)
@given(
    gaps=st.lists(st.sampled_from([0.5, 1.0, 2.0, 2.0, 4.0, 9.0]), min_size=0, max_size=6),
    free=st.lists(st.tuples(st.integers(1, 2), st.sampled_from([80.0, 120.0, 196.0])), min_size=1, max_size=6),
)
def test_the_plan_is_as_good_as_the_best_of_all(gaps: list[float], free: list[tuple[int, float]]) -> None:
    starts = [1.0]
    for gap in gaps:
        starts.append(starts[-1] + 36 + gap)
    frames = [CutFrame(str(n), start, 36) for n, start in enumerate(starts)]
    slots = [FreeSlot(page, n + 1, mm) for n, (page, mm) in enumerate(sorted(free))]
    thin = {n + 1 for n, gap in enumerate(gaps) if gap < 1.5}
    if gaps and len(thin) == len(gaps):
        thin = set()  # evenly thin gaps leave no other place to cut
    best = brute_force(frames, slots, thin, 2)
    plan = plan_cuts(frames, FULL, find_layout("7x5"), free_slots=slots)
    if best is None:
        forced = brute_force(frames, slots, set(), 2)
        assert plan.fits == (forced is not None)
        return
    assert plan.fits
    sizes = [len(s.frames) for s in plan.strips]
    assert (plan.pages_used, len(sizes), sum(s < 2 for s in sizes), [-s for s in sizes]) == best
    assert [label for s in plan.strips for label in s.frames] == [f.label for f in frames]


@pytest.mark.parametrize(
    ("film", "layout", "count", "length", "lead"),
    # Mount 50 mm, opening 35: (50 - 35) / 2 = 7.5. Sheet 125.4 mm, picture 120: 2.7.
    [
        ("slide-50x50", "slides-20", 3, 50, 7.5),
        ("slide-50x50", "slides-20", 1, 50, 7.5),
        ("sheet-4x5", "sheet-4x5", 2, 125.4, 2.7),
    ],
)
def test_sheets_and_mounts_keep_their_own_length(film: str, layout: str, count: int, length: float, lead: float) -> None:
    shape = find_format(film)
    frames = evenly_spaced([str(n + 1) for n in range(count)], shape)
    planned = plan_cuts(frames, shape, find_layout(layout)).strips
    assert [(s.length_mm, s.lead_mm) for s in planned] == [(pytest.approx(length), pytest.approx(lead))] * count
    slots = [FreeSlot(1, n + 1, 200) for n in range(count)]
    assert [s.length_mm for s in own_cuts([[f.label] for f in frames], frames, shape, find_layout(layout), slots).strips] == [
        pytest.approx(length)
    ] * count
