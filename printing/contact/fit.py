"""Which paper holds a contact sheet at true size, what it loses where it doesn't, and how it goes on several sheets."""

from collections.abc import Iterable

from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from catalogue.views import PageView
from printing.contact.film import Rolls, SeenFilm, around, seen_film
from printing.contact.options import PLAIN, ContactOptions

HEAD_MM, FOOT_MM = 13.0, 4.0


def room(paper: Paper, landscape: bool) -> tuple[float, float]:
    """Width and height left for film, in mm: inside the margins, below the head, above the foot."""
    width, height = paper.turned(landscape)
    return width - 2 * paper.margin_mm, height - 2 * paper.margin_mm - HEAD_MM - FOOT_MM


def way_that_fits(paper: Paper, need: Rect) -> bool | None:
    """False for portrait, True for landscape, None where one sheet doesn't hold it."""
    for landscape in (False, True):
        width, height = room(paper, landscape)
        if need.width <= width + 1e-6 and need.height <= height + 1e-6:
            return landscape
    return None


def paper_advice(
    page: PageView, roll: Rolls = None, *, papers: Iterable[Paper] | None = None, options: ContactOptions = PLAIN
) -> tuple[str, ...]:
    """For every paper: does one sheet hold the strips at true size, which way up, and what is lost if it is printed anyway.

    Blank film goes first, from both ends alike; what is still too much is lost at the open side and at the bottom.
    """
    film = seen_film(page, roll, options)
    return tuple(_advice(film, paper) for paper in (PAPERS.values() if papers is None else papers))


def _advice(film: SeenFilm, paper: Paper) -> str:
    need = film.extent
    landscape = way_that_fits(paper, need)
    if landscape is not None:
        width, height = room(paper, landscape)
        words = f"{paper.name}, {'landscape' if landscape else 'portrait'}: true size on one sheet, "
        words += f"with {width - need.width:.1f} mm across and {height - need.height:.1f} mm down to spare."
        if landscape:
            wide, high = (max(0.0, have) for have in _missing(paper, need, False))
            words = f"{words[:-1]}; portrait is {_shortage(wide, high)} short."
        return words
    turned = min((False, True), key=lambda way: sum(_missing(paper, need, way)))
    across, down = _missing(paper, need, turned)
    loses, cut = _loss(film, across, down)
    words = f"{paper.name}: {_shortage(across, down)} short of one sheet at true size; "
    words += f"{'landscape' if turned else 'portrait'} and printed anyway it loses {loses}"
    if film.frames:
        which = f"{cut} of {len(film.frames)} pictures" if len(film.frames) > 1 else "the picture"
        words += f" and cuts {which}" if cut else ", all of it blank film"
    return f"{words}."


def _missing(paper: Paper, need: Rect, landscape: bool) -> tuple[float, float]:
    width, height = room(paper, landscape)
    return max(0.0, need.width - width), max(0.0, need.height - height)


def _shortage(across: float, down: float) -> str:
    return " and ".join(t for t in (f"{across:.1f} mm across" if across else "", f"{down:.1f} mm down" if down else "") if t)


def _shared(short: float, blank: float, blank_at_end: float) -> tuple[float, float]:
    """What is lost at the kept end and at the other: blank film in proportion, all else at the other end."""
    both = blank + blank_at_end
    if short <= both and both > 0:
        return short * blank / both, short * blank_at_end / both
    return blank, short - blank


def _loss(film: SeenFilm, across: float, down: float) -> tuple[str, int]:
    """What a sheet printed at true size all the same loses at each edge of the film as it lies, in words; pictures cut."""
    need = film.extent
    pictures = around([f.rect for f in film.frames]) if film.frames else need
    ends = (pictures.x - need.x, need.right - pictures.right)
    if film.page.plan.ring_side == "right":
        ends = (ends[1], ends[0])
    ring, opening = _shared(across, *ends)
    top, bottom = _shared(down, pictures.y - need.y, need.bottom - pictures.bottom)
    left, right = (opening, ring) if film.page.plan.ring_side == "right" else (ring, opening)
    kept = Rect(need.x + left, need.y + top, need.width - left - right, need.height - top - bottom)
    cut = sum(not kept.contains(f.rect) for f in film.frames)
    named = {"top": top, "bottom": bottom, "ring side": ring, "open side": opening}
    parts = [f"{lost:.1f} mm at the {edge}" for edge, lost in named.items() if lost >= 0.05]
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts), cut


def _bands(edges: list[tuple[float, float]], most: float) -> list[tuple[float, float]]:
    """Groups pieces (start, end), sorted, into the fewest bands no longer than `most`; [] where a piece is longer."""
    bands: list[list[float]] = []
    for start, end in sorted(edges):
        if end - start > most + 1e-6:
            return []
        if bands and end - bands[-1][0] <= most + 1e-6:
            bands[-1][1] = max(bands[-1][1], end)
        else:
            bands.append([start, end])
    return [(a, b) for a, b in bands]


def windows(paper: Paper, film: SeenFilm) -> tuple[list[Rect], bool]:
    """Parts of the page, one a sheet: whole strips, and where a strip is longer than the paper, whole frames.

    With it whether the paper lies landscape; no window where one picture is larger than the paper.
    """
    need = film.extent
    rows = sorted({film.height_of(s) for s in film.strips})
    best: tuple[list[Rect], bool] = ([], False)
    best_cost = (2, 0)
    for landscape in (False, True):
        width, height = room(paper, landscape)
        down = _bands(rows, height)
        if need.width <= width + 1e-6:
            across = [(need.x, need.right)]
        else:
            across = _bands(sorted({(f.rect.x, f.rect.right) for f in film.frames}), width)
        found = [Rect(x0, y0, x1 - x0, y1 - y0) for y0, y1 in down for x0, x1 in across]
        cost = (int(len(across) > 1), len(found))  # a strip whole on one sheet is worth another sheet
        if found and cost < best_cost:
            best, best_cost = (found, landscape), cost
    return best
