"""The page map: a sleeve page to scale as SVG, from the same plan as the print."""

from collections.abc import Callable, Mapping
from html import escape

from catalogue.film.crops import turned_crop
from catalogue.sleeves.page_plan import PagePlan, PlacedFrame
from catalogue.views import FrameChoice


def page_map_svg(
    plan: PagePlan,
    *,
    links: Callable[[PlacedFrame], str],
    spoken: Callable[[PlacedFrame], str],
    pictures: Mapping[tuple[str, str], str],
    sought: tuple[str, str] | None = None,
    choices: Mapping[tuple[str, str], FrameChoice] | None = None,
) -> str:
    """The page in mm; each frame is a link with a spoken name, the sought one ringed and the rest dimmed.

    A select has a frame drawn around it and says so, and a crop is drawn as the frame lies.
    """
    w, h = plan.size.width, plan.size.height
    out = [
        f'<svg class="page-map{" seeking" if sought else ""}" viewBox="0 0 {w:g} {h:g}" role="group" '
        f'aria-label="Map of the page, rings on the {plan.ring_side}">',
        f'<rect class="leaf" width="{w:g}" height="{h:g}" rx="2"/>',
    ]
    a = plan.index_area
    out.append(f'<rect class="index-area" x="{a.x:g}" y="{a.y:g}" width="{a.width:g}" height="{a.height:g}"/>')
    out += [f'<circle class="hole" cx="{x:g}" cy="{y:g}" r="{d / 2:g}"/>' for x, y, d in plan.ring_holes]
    for slot in plan.slots:
        r = slot.rect
        out.append(f'<rect class="slot" x="{r.x:g}" y="{r.y:g}" width="{r.width:g}" height="{r.height:g}"/>')
    for strip in plan.strips:
        r = strip.rect
        kind = "strip out" if strip.out else "strip"
        out.append(f'<rect class="{kind}" x="{r.x:g}" y="{r.y:g}" width="{r.width:g}" height="{r.height:g}"/>')
    for frame in plan.frames:
        key = (frame.roll, frame.label)
        choice = (choices or {}).get(key, FrameChoice())
        out.append(_frame(frame, links(frame), spoken(frame), pictures.get(key), sought, plan, choice))
    out.append("</svg>")
    return "".join(out)


def _frame(
    frame: PlacedFrame,
    link: str,
    spoken: str,
    picture: str | None,
    sought: tuple[str, str] | None,
    plan: PagePlan,
    choice: FrameChoice,
) -> str:
    r = frame.rect
    here = sought == (frame.roll, frame.label)
    strip = next(s for s in plan.strips if s.strip_id == frame.strip_id).rect
    rebate = (strip.height - r.height) / 2
    size = max(1.4, min(3.6, rebate * 0.8))
    parts = [f'<a class="frame{" sought" if here else ""}" href="{escape(link)}" aria-label="{escape(spoken)}">']
    parts.append(f"<title>{escape(spoken)}</title>")
    parts.append(f'<rect class="picture" x="{r.x:g}" y="{r.y:g}" width="{r.width:g}" height="{r.height:g}"/>')
    if picture and not frame.out:
        cx, cy = r.x + r.width / 2, r.y + r.height / 2
        turn = (
            f"translate({cx:g} {cy:g})" + (" scale(-1 1)" if frame.mirrored else "") + (" rotate(180)" if frame.rotated else "")
        )
        parts.append(
            f'<image href="{escape(picture)}" transform="{turn}" x="{-r.width / 2:g}" y="{-r.height / 2:g}" '
            f'width="{r.width:g}" height="{r.height:g}" preserveAspectRatio="xMidYMid slice"/>'
        )
    if not frame.out:
        parts += _marked(frame, choice)
    if here:  # before the label, which would else lie under the ring
        parts.append(
            f'<rect class="ring" x="{r.x - 1.5:g}" y="{r.y - 1.5:g}" width="{r.width + 3:g}" height="{r.height + 3:g}" rx="2"/>'
        )
    words = "" if frame.state in ("picture", "cut in two") else f" {frame.state}"
    note = (" out" if frame.out else words) + (" select" if choice.selected else "")
    parts.append(
        f'<text class="label" x="{r.x + 0.5:g}" y="{r.y - (rebate - size * 0.72) / 2:g}" font-size="{size:g}">'
        f"{escape(frame.label + note)}</text>"
    )
    parts.append("</a>")
    return "".join(parts)


def _marked(frame: PlacedFrame, choice: FrameChoice) -> list[str]:
    """The line around a select, and the crop as the frame lies in its slot; of a frame cut in two no crop is drawn."""
    r = frame.rect
    parts = []
    if choice.selected:
        parts.append(
            f'<rect class="chosen" x="{r.x - 0.4:g}" y="{r.y - 0.4:g}" width="{r.width + 0.8:g}" height="{r.height + 0.8:g}"/>'
        )
    if choice.crop and frame.part == "whole":
        left, top, right, bottom = turned_crop(choice.crop, 2 if frame.rotated else 0, frame.mirrored)
        parts.append(
            f'<rect class="crop" x="{r.x + left * r.width:g}" y="{r.y + top * r.height:g}" '
            f'width="{(right - left) * r.width:g}" height="{(bottom - top) * r.height:g}"/>'
        )
    return parts
