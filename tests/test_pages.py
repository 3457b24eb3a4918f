"""Sleeve pages, page plans, placing and addresses: truth to the millimetre."""

import dataclasses
import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import DoesNotFit, ImpossibleLayout, SlotTaken
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat, find_format
from catalogue.sleeves.address import Address, address_of, ordinal
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS, RING_MARGIN_MM, SleeveLayout, default_layout, find_layout
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.sleeves.placing import BETWEEN_STRIPS_MM, place_in_slot


@pytest.mark.parametrize("layout", BUILT_IN_LAYOUTS.values(), ids=lambda x: x.key)
def test_every_preset_keeps_to_its_page(layout: SleeveLayout) -> None:
    page = Rect(0, 0, layout.page.width, layout.page.height)
    rects = [layout.slot_rect(n) for n in range(1, layout.slot_count + 1)]
    assert all(page.contains(r) for r in (*rects, layout.index_area))
    assert not any(a.overlaps(b) for n, a in enumerate(rects) for b in rects[n + 1 :])
    assert not any(r.overlaps(layout.index_area) or r.x < RING_MARGIN_MM for r in rects)
    assert any(layout.frames_per_slot(f) for f in BUILT_IN_FORMATS.values() if f.gauge in layout.gauges)


@pytest.mark.parametrize(
    ("layout", "film", "expected"),
    # floor(slot length / pitch): 196/38, 234/38, 234/19, 194/46.5, 194/61, 232/75, 188/89, 182/173
    [("135-7x5", "135", 5), ("135-7x6", "135", 6), ("135-6x6", "half", 12), ("120-6x4.5", "645", 4), ("120-6x6", "6x6", 3),
     ("120-6x7", "6x7", 3), ("120-6x9", "6x9", 2), ("120-6x17", "6x17", 1), ("slides-20", "slides", 1)],
)  # fmt: skip
def test_frames_per_slot_are_computed(layout: str, film: str, expected: int) -> None:
    assert find_layout(layout).frames_per_slot(find_format(film)) == expected


@pytest.mark.parametrize("film", BUILT_IN_FORMATS.values(), ids=lambda x: x.key)
def test_every_format_is_offered_a_page_that_takes_it(film: FilmFormat) -> None:
    default_layout(film).check_takes(film)


def test_impossible_pages_are_refused_with_the_numbers() -> None:
    good = find_layout("135-7x6")
    with pytest.raises(ImpossibleLayout, match="slot 8 would reach"):
        dataclasses.replace(good, rows=9)
    with pytest.raises(ImpossibleLayout, match="pitch of 30 mm"):
        dataclasses.replace(good, row_pitch_mm=30)


def test_film_too_wide_is_refused() -> None:
    with pytest.raises(DoesNotFit, match=r"61\.5 mm wide"):
        find_layout("135-7x6").check_takes(find_format("6x6"))


def strip(slot: int = 1, **more: object) -> StripInSlot:
    frames = tuple(FrameOnStrip(str(n + 1), 1 + 38 * n, 36, 24) for n in range(3))
    return StripInSlot(1, "R", slot, 0, 114, 34.975, frames, **more)  # type: ignore[arg-type]


def test_frames_lie_at_true_size_and_pitch() -> None:
    plan = plan_page(find_layout("135-7x6"), [strip()])
    first, second, _ = plan.frames
    assert (first.rect.width, first.rect.height) == (36, 24)
    assert second.rect.x - first.rect.x == 38  # 8 perforations of 4.75 mm
    assert first.rect.x == 18 + 1  # slot 1 begins at 18 mm, half a gap of clear film before the picture
    assert plan.slots[1].rect.y - plan.slots[0].rect.y == 39


def places(plan) -> list[str]:  # type: ignore[no-untyped-def]
    return [f.label for f in sorted(plan.frames, key=lambda f: f.place)]


def test_places_count_from_the_ring_side() -> None:
    layout = find_layout("135-7x6")
    assert places(plan_page(layout, [strip()])) == ["1", "2", "3"]
    assert places(plan_page(layout, [strip(upside_down=True)])) == ["3", "2", "1"]
    assert places(plan_page(layout, [strip(turned_over=True)])) == ["1", "2", "3"]
    assert places(plan_page(layout, [strip()], ring_side="right")) == ["3", "2", "1"]
    open_end = dataclasses.replace(layout, first_frame_at="open")
    assert places(plan_page(open_end, [strip()])) == ["3", "2", "1"]


def test_a_turned_page_counts_slots_from_the_other_end() -> None:
    plan = plan_page(find_layout("135-7x6"), [strip(slot=2)], turned=True)
    assert {f.slot_from_top for f in plan.frames} == {6}  # 7 + 1 - 2
    assert all(f.rotated and f.mirrored for f in plan.frames)
    lying = plan_page(find_layout("135-7x6"), [strip(slot=2, turned_over=True)], turned=True)
    assert not any(f.rotated or f.mirrored for f in lying.frames)


def test_the_address_is_what_the_hand_finds() -> None:
    plan = plan_page(find_layout("135-7x6"), [strip(slot=3)])
    address = address_of(plan, "R", "2", binder="Binder 2", page=14)
    assert address.words == "Binder 2, page 14, third strip from the top, second frame from the ring side"
    over = Address("2", 1, 1, 1, upside_down=True, emulsion_towards_you=True, out=True, out_reason="printing")
    assert over.words.endswith("standing on its head, emulsion towards you; the strip is out: printing")


@pytest.mark.parametrize(("n", "words"), [(1, "first"), (12, "twelfth"), (13, "13th"), (21, "21st"), (112, "112th")])
def test_ordinals(n: int, words: str) -> None:
    assert ordinal(n) == words


def test_two_short_strips_share_a_slot() -> None:
    assert place_in_slot(234, [(0, 114)], 114) == 116
    with pytest.raises(SlotTaken, match="118 mm are free"):
        place_in_slot(234, [(0, 114)], 152)
    with pytest.raises(DoesNotFit, match="266 mm long"):
        place_in_slot(234, [], 266)


@given(st.lists(st.floats(20, 120), max_size=6))
def test_what_is_placed_never_overlaps(lengths: list[float]) -> None:
    lying: list[tuple[float, float]] = []
    for length in lengths:
        try:
            lying.append((place_in_slot(234, lying, length), length))
        except SlotTaken:
            continue
    lying.sort()
    assert all(a + n + BETWEEN_STRIPS_MM <= b + 1e-6 for (a, n), (b, _) in itertools.pairwise(lying))
    assert all(a + n <= 234 + 1e-6 for a, n in lying)
