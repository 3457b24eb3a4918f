"""The page map in SVG: everything of the plan is drawn, to scale, with spoken names and nothing unescaped."""

from xml.etree import ElementTree

import pytest
from builders import registered
from sqlmodel import Session

from api.web.rolls.page_map import page_map_svg
from catalogue.rolls.file import get_page, repunch, turn_page
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS
from catalogue.sleeves.page_plan import PagePlan, plan_page

SVG = "{http://www.w3.org/2000/svg}"


def drawn(plan: PagePlan, sought: tuple[str, str] | None = None) -> ElementTree.Element:
    """The map as a parsed tree; parsing fails where something is left unescaped."""
    text = page_map_svg(
        plan,
        links=lambda f: f"/pages/1?frame={f.roll}/{f.label}&x=1",
        spoken=lambda f: f"Frame {f.label} <{f.caption}>",
        pictures={("2031-001", "2"): "/frames/2/picture"},
        sought=sought,
    )
    return ElementTree.fromstring(text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


@pytest.fixture
def plan(session: Session) -> PagePlan:
    roll = registered(session, number="2031-001", captions={"3": '"quay" & <mole>'})
    return get_page(session, roll.page_ids[0]).plan


def of_class(svg: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [e for e in svg.iter() if name in e.get("class", "").split()]


def test_every_piece_of_the_plan_is_drawn_where_the_plan_has_it(plan: PagePlan) -> None:
    svg = drawn(plan)
    assert svg.get("viewBox") == f"0 0 {plan.size.width:g} {plan.size.height:g}"
    for name, rects in (
        ("slot", [s.rect for s in plan.slots]),
        ("strip", [s.rect for s in plan.strips]),
        ("picture", [f.rect for f in plan.frames]),
    ):
        found = [tuple(float(e.get(k, "nan")) for k in ("x", "y", "width", "height")) for e in of_class(svg, name)]
        assert found == [pytest.approx((r.x, r.y, r.width, r.height), abs=0.01) for r in rects], name


def test_every_frame_is_a_link_with_a_spoken_name(plan: PagePlan) -> None:
    links = of_class(drawn(plan), "frame")
    assert len(links) == 12
    assert links[2].get("aria-label") == 'Frame 3 <"quay" & <mole>>'
    assert links[2].get("href") == "/pages/1?frame=2031-001/3&x=1"


def test_only_the_sought_frame_is_ringed_and_its_label_lies_over_the_ring(plan: PagePlan) -> None:
    assert not of_class(drawn(plan), "ring")
    svg = drawn(plan, ("2031-001", "7"))
    assert "seeking" in svg.get("class", "")
    (frame,) = of_class(svg, "sought")
    kinds = [e.get("class") for e in frame]
    assert "7" in frame.get("aria-label", "")
    assert kinds.index("label") > kinds.index("ring")


def test_the_holes_follow_the_ring_side(session: Session, plan: PagePlan) -> None:
    def holes() -> set[bool]:
        shown = get_page(session, 1).plan
        return {float(e.get("cx", "nan")) < shown.size.width / 2 for e in of_class(drawn(shown), "hole")}

    assert holes() == {plan.ring_side == "left"}
    repunch(session, 1, "right")  # seven strips of six reach to 8 mm from that edge: no hole goes there
    assert holes() == set()
    narrow = BUILT_IN_LAYOUTS["135-7x5"]
    (x, _, d), *_ = plan_page(narrow, [], ring_side="right").ring_holes
    assert x - d / 2 > narrow.slot_rect(1).right


def test_pictures_stand_on_their_head_when_the_page_does(session: Session, plan: PagePlan) -> None:
    (upright,) = drawn(plan).iter(f"{SVG}image")
    assert "rotate" not in upright.get("transform", "")
    (turned,) = drawn(turn_page(session, 1, True).plan).iter(f"{SVG}image")
    # A half turn of the page about its horizontal middle: upside down and seen from the back.
    assert "rotate(180)" in turned.get("transform", "")
    assert "scale(-1 1)" in turned.get("transform", "")
