"""Index labels of many pages on as few sheets of paper as they need, to be cut out; and their PDF."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from catalogue.errors import NotFound
from catalogue.paper.sizes import Paper, find_paper
from catalogue.views import PageView
from printing.canvas.items import Item, Measure, Sheet, Text, counted, moved, ruler
from printing.canvas.paint import Painter, measure
from printing.sheets.documents import PrintedPdf, finished
from printing.sheets.page_label import BORDER_MM, plan_page_label

FOOT_MM = 9.0
GAP_MM = 3.0


@dataclass(frozen=True)
class _Way:
    """How the paper lies, and the room on it for labels, in mm."""

    width: float
    height: float
    margin: float

    def holds(self, label: Sheet) -> bool:
        cut = 2 * BORDER_MM
        return label.width_mm - cut <= self.width - 2 * self.margin and label.height_mm - cut <= (
            self.height - 2 * self.margin - FOOT_MM
        )


def gather_labels(labels: Sequence[Sheet], paper: Paper, caption: str, measure: Measure) -> tuple[Sheet, ...]:
    """Labels with their cut lines one below the other, true size, with a 100 mm rule at the foot of each sheet.

    The paper lies upright where every label is narrow enough, else on its side; a label too large for either
    stays on a sheet of its own size.
    """
    ways = [_Way(*paper.turned(landscape), paper.margin_mm) for landscape in (False, True)]
    way = next((w for w in ways if all(w.holds(label) for label in labels)), None)
    if way is None:
        way = max(ways, key=lambda w: sum(w.holds(label) for label in labels))
    sheets: list[list[Item]] = []
    alone: list[Sheet] = []
    y = 0.0
    for label in labels:
        if not way.holds(label):
            alone.append(label)
            continue
        height = label.height_mm - 2 * BORDER_MM
        if not sheets or y + height > way.height - way.margin - FOOT_MM:
            sheets.append([])
            y = way.margin
        sheets[-1] += [moved(item, way.margin - BORDER_MM, y - BORDER_MM) for item in label.items]
        y += height + GAP_MM
    made = []
    for n, items in enumerate(sheets, 1):
        foot = way.height - way.margin - 1.5
        words = f"{caption} · sheet {n} of {len(sheets)} · this line is 100 mm: if not, print at 100 %"
        items += [*ruler(way.margin + 2, foot - 3.2), Text(way.margin + 2, foot, 2.2, words)]
        made.append(Sheet(way.width, way.height, tuple(items)))
    return (*made, *alone)


def page_labels_pdf(pages: Sequence[tuple[PageView, str]], *, printed_on: date, paper: str | Paper = "A4") -> PrintedPdf:
    """The index labels of these pages, each with the link for its code; raises `NotFound` for none."""
    if not pages:
        raise NotFound("No page was chosen, so there is no index label. Choose at least one.")
    size = find_paper(paper)
    labels = [plan_page_label(page, printed_on=printed_on, link=link, measure=measure) for page, link in pages]
    caption = f"Index labels · {pages[0][0].archive_name[:40]} · printed {printed_on.isoformat()}"
    sheets = gather_labels(labels, size, caption, measure)
    painter = Painter(f"Index labels: {len(labels)}")
    painter.draw(sheets)
    count = "one label" if len(labels) == 1 else f"{len(labels)} labels"
    words = f"{count[0].upper()}{count[1:]} on {counted(len(sheets), 'sheet')} of {size.name}, true size."
    return finished(painter, 1.0, len(sheets), words)
