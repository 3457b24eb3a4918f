"""A planned sheet of paper as SVG, from the same items as the print; text, lines and boxes only."""

from html import escape

from markupsafe import Markup

from catalogue.errors import InvalidInput
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Box, Item, Line, Sheet, Text

_ANCHORS = {"left": "start", "middle": "middle", "right": "end"}
EDGE_MM = 2.0


def sheet_svg(sheet: Sheet, spoken: str, *, part: Rect | None = None) -> Markup:
    """The sheet, or the part of it within this rectangle in mm; `spoken` names the picture.

    Ink takes the colour of the page's text, and greys are let through, so that both grounds show it.
    Raises `InvalidInput` for items that only a print can show.
    """
    shown = part or Rect(0, 0, sheet.width_mm, sheet.height_mm)
    x, y = shown.x - EDGE_MM, shown.y - EDGE_MM
    drawn = "".join(_item(item) for item in sheet.items)
    return Markup(
        f'<svg class="paper-picture" role="img" aria-label="{escape(spoken)}" '
        f'viewBox="{x:g} {y:g} {shown.width + 2 * EDGE_MM:g} {shown.height + 2 * EDGE_MM:g}">'
        f'<rect class="paper-leaf" x="0" y="0" width="{sheet.width_mm:g}" height="{sheet.height_mm:g}"/>'
        f'<g fill="currentColor">{drawn}</g></svg>'
    )


def _stroke(width: float, grey: float, dashed: bool) -> str:
    dashes = ' stroke-dasharray="2 1.5"' if dashed else ""
    return f'stroke="currentColor" stroke-width="{width:g}" stroke-opacity="{1 - grey:.2f}"{dashes}'


def _item(item: Item) -> str:
    if isinstance(item, Text):
        weight = ' font-weight="700"' if item.bold else ""
        turned = f' transform="rotate({90 * item.turn} {item.x:.3f} {item.y:.3f})"' if item.turn else ""
        return (
            f'<text x="{item.x:.3f}" y="{item.y:.3f}" font-size="{item.size:.3f}" text-anchor="{_ANCHORS[item.align]}"'
            f'{weight}{turned} fill-opacity="{max(0.75, 1 - item.grey):.2f}">{escape(item.text)}</text>'
        )
    if isinstance(item, Line):
        stroke = _stroke(item.width, item.grey, item.dashed)
        return f'<line x1="{item.x1:.3f}" y1="{item.y1:.3f}" x2="{item.x2:.3f}" y2="{item.y2:.3f}" {stroke}/>'
    if isinstance(item, Box):
        r = item.rect
        stroke = _stroke(item.width, item.grey, item.dashed)
        return f'<rect x="{r.x:.3f}" y="{r.y:.3f}" width="{r.width:.3f}" height="{r.height:.3f}" fill="none" {stroke}/>'
    raise InvalidInput(f"A {type(item).__name__.casefold()} can be printed, but not shown here.")
