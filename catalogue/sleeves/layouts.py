"""Sleeve pages by measurement, in mm from the page's top left corner, front towards you.

No public standard fixes a page: the built-in ones are generic presets (common
practice, no published source) and a person adds an own page by measuring it.
How many frames a slot takes is computed, never typed.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor, isfinite
from types import MappingProxyType

from catalogue.errors import DoesNotFit, ImpossibleLayout, UnknownLayout
from catalogue.film.formats import FilmFormat
from catalogue.sleeves.geometry import TOLERANCE_MM, Rect, Size

RING_MARGIN_MM = 16.0
"""Kept free at the ring edge: holes lie 12 mm in and measure 6 mm (ISO 838, from memory)."""


@dataclass(frozen=True)
class SleeveLayout:
    """A kind of sleeve page. Slot 1 is at the top; several columns count from the ring side.

    Raises `ImpossibleLayout` with the numbers where the measures contradict one another.
    """

    key: str
    name: str
    page: Size
    ring_side: str
    rows: int
    columns: int
    slot_length_mm: float
    slot_width_mm: float
    row_pitch_mm: float
    column_pitch_mm: float
    first_x_mm: float
    first_y_mm: float
    first_frame_at: str
    index_area: Rect
    material: str
    gauges: tuple[str, ...]

    def __post_init__(self) -> None:
        def refuse(text: str) -> None:
            raise ImpossibleLayout(f"{self.name or 'This page'}: {text}")

        numbers = (self.slot_length_mm, self.slot_width_mm, self.row_pitch_mm, self.column_pitch_mm)
        if not all(isfinite(n) and n > 0 for n in numbers):
            refuse("slot length, slot width and both pitches must be above 0 mm.")
        if self.ring_side not in ("left", "right") or self.first_frame_at not in ("ring", "open"):
            refuse("the ring side is left or right, and the first frame is at the ring or the open end.")
        if not (1 <= self.rows <= 40 and 1 <= self.columns <= 10):
            refuse(f"{self.rows} rows by {self.columns} columns; 1 to 40 rows and 1 to 10 columns are possible.")
        if self.rows > 1 and self.row_pitch_mm < self.slot_width_mm - TOLERANCE_MM:
            refuse(f"slots {self.slot_width_mm:g} mm wide can't follow at a pitch of {self.row_pitch_mm:g} mm; they overlap.")
        if self.columns > 1 and self.column_pitch_mm < self.slot_length_mm - TOLERANCE_MM:
            refuse(f"slots {self.slot_length_mm:g} mm long can't follow at a pitch of {self.column_pitch_mm:g} mm; they overlap.")
        whole = Rect(0, 0, self.page.width, self.page.height)
        for number in range(1, self.slot_count + 1):
            slot = self.slot_rect(number)
            if not whole.contains(slot):
                refuse(
                    f"slot {number} would reach from {slot.x:g} to {slot.right:g} mm across and {slot.y:g} to "
                    f"{slot.bottom:g} mm down, but the page measures {whole.width:g} × {whole.height:g} mm."
                )
            if slot.overlaps(self.index_area):
                refuse(f"slot {number} would lie over the index area. Measure both again.")
        if not whole.contains(self.index_area):
            refuse("the index area reaches beyond the page.")

    @property
    def slot_count(self) -> int:
        """Rows times columns."""
        return self.rows * self.columns

    def row_of(self, number: int) -> int:
        """The row of a slot, from 1 at the top."""
        return (number - 1) // self.columns + 1

    def slot_rect(self, number: int) -> Rect:
        """The inner rectangle of slot `number` (from 1), as the page lies unturned."""
        if not 1 <= number <= self.slot_count:
            raise DoesNotFit(f"{self.name} has slots 1 to {self.slot_count}, no slot {number}.")
        row, column = divmod(number - 1, self.columns)
        if self.ring_side == "right":
            column = self.columns - 1 - column
        return Rect(
            self.first_x_mm + column * self.column_pitch_mm,
            self.first_y_mm + row * self.row_pitch_mm,
            self.slot_length_mm,
            self.slot_width_mm,
        )

    def frames_per_slot(self, film: FilmFormat) -> int:
        """How many frames, cut in the middle of the gaps, a slot takes; 0 where the film is too wide."""
        if film.gauge_width_mm > self.slot_width_mm + TOLERANCE_MM:
            return 0
        fits = floor((self.slot_length_mm + TOLERANCE_MM) / max(film.pitch_mm, film.frame_along_mm))
        return fits if film.kind == "strip" else min(1, fits)

    def check_takes(self, film: FilmFormat) -> None:
        """Raises `DoesNotFit` with the numbers where film of this format can't go into a slot."""
        if film.gauge_width_mm > self.slot_width_mm + TOLERANCE_MM:
            raise DoesNotFit(
                f"{film.name} is {film.gauge_width_mm:g} mm wide and the slots of {self.name} are "
                f"{self.slot_width_mm:g} mm. Choose a page for {film.gauge} film."
            )
        if self.gauges and film.gauge not in self.gauges:
            raise DoesNotFit(f"{self.name} is a page for {', '.join(self.gauges)} and {film.name} is not. Choose another page.")
        if self.frames_per_slot(film) < 1:
            raise DoesNotFit(
                f"One frame of {film.name} needs {film.pitch_mm:g} mm and the slots of {self.name} are "
                f"{self.slot_length_mm:g} mm long. Choose a page with longer slots."
            )


def _strips(key: str, name: str, rows: int, length: float, width: float, pitch: float, gauges: tuple[str, ...]) -> SleeveLayout:
    """A generic page of slots one under another below an index strip 25 mm high."""
    page = Size(max(241.0, 18 + length + 8), 33 + (rows - 1) * pitch + width + 6)
    return SleeveLayout(
        key, name, page, "left", rows, 1, length, width, pitch, length, 18, 33, "ring",
        Rect(18, 5, page.width - 24, 24), "polypropylene", gauges,
    )  # fmt: skip


def _pieces(key: str, name: str, rows: int, columns: int, piece: Size, seam: float, gauge: str) -> SleeveLayout:
    """A generic page of pockets in rows and columns below an index strip 16 mm high."""
    page = Size(18 + columns * (piece.width + seam) + 4, 24 + rows * (piece.height + seam) + 4)
    return SleeveLayout(
        key, name, page, "left", rows, columns, piece.width, piece.height, piece.height + seam, piece.width + seam,
        18, 24, "ring", Rect(18, 4, page.width - 24, 17), "polypropylene", (gauge,),
    )  # fmt: skip


# Narrower film lies in the next wider slots; no page of its own is usual for it.
_135, _120 = ("135", "110"), ("120", "220", "127")
_ALL = (
    _strips("135-7x5", "35 mm, 7 strips of 5", 7, 196, 37, 39, _135),
    _strips("135-7x6", "35 mm, 7 strips of 6", 7, 234, 37, 39, _135),
    _strips("135-6x6", "35 mm, 6 strips of 6", 6, 234, 37, 39, _135),
    _strips("120-6x4.5", "medium format, 4 strips of 6 × 4.5", 4, 194, 64, 67, _120),
    _strips("120-6x6", "medium format, 4 strips of 6 × 6", 4, 194, 64, 67, _120),
    _strips("120-6x7", "medium format, 4 strips of 6 × 7", 4, 232, 64, 67, _120),
    _strips("120-6x8", "medium format, 5 strips of 6 × 8", 5, 170, 64, 67, _120),
    _strips("120-6x9", "medium format, 4 strips of 6 × 9", 4, 188, 64, 67, _120),
    _strips("120-6x12", "medium format, 3 strips of 6 × 12", 3, 252, 64, 67, _120),
    _strips("120-6x17", "medium format, 4 strips of 6 × 17", 4, 182, 64, 67, _120),
    _strips("120-all", "medium format, 4 strips of any", 4, 252, 64, 67, _120),
    _pieces("sheet-4x5", "sheet film 4 × 5 in, 4 pockets", 2, 2, Size(130, 104), 4, "sheet"),
    _pieces("sheet-5x7", "sheet film 5 × 7 in, 2 pockets", 2, 1, Size(181, 130), 4, "sheet"),
    _pieces("sheet-8x10", "sheet film 8 × 10 in, 1 pocket", 1, 1, Size(258, 207), 4, "sheet"),
    _pieces("slides-20", "mounted slides, 20 pockets", 5, 4, Size(53, 53), 2, "mount"),
)
BUILT_IN_LAYOUTS: Mapping[str, SleeveLayout] = MappingProxyType({layout.key: layout for layout in _ALL})
"""By key, in the order they are offered."""


def find_layout(text: str, own: Iterable[SleeveLayout] = (), gauge: str = "") -> SleeveLayout:
    """The layout a person means: a key, a name or a short form ("7x5"). Raises `UnknownLayout`.

    "6x6" is six strips of six of 35 mm film and also a page of medium format:
    with a `gauge` the page that takes it is meant.
    """
    both = (*_ALL, *own)
    known = {layout.key: layout for layout in sorted(both, key=lambda layout: bool(gauge) and gauge not in layout.gauges)}
    plain = "".join(text.casefold().replace("×", "x").split())
    for key, layout in known.items():
        if text == key or plain in (
            key.casefold(),
            "".join(layout.name.casefold().replace("×", "x").split()),
        ):
            return layout
    for key, layout in known.items():
        if plain and plain in (key.split("-", 1)[-1].casefold(), key.replace("-", "").casefold()):
            return layout
    shown = text if len(text) <= 40 else text[:40] + "…"
    raise UnknownLayout(f"“{shown}” is not a sleeve page known here. Known are: {', '.join(x.key for x in both)}.")


def default_layout(film: FilmFormat) -> SleeveLayout:
    """The page usual for a format: it holds a usual roll on the fewest strips."""
    if film.key in ("135-24x36", "135-18x24", "135-24x24"):
        return BUILT_IN_LAYOUTS["135-6x6"]
    own_page = film.key.replace("220-", "120-")
    if own_page in BUILT_IN_LAYOUTS:
        return BUILT_IN_LAYOUTS[own_page]
    for layout in _ALL:
        if film.gauge in layout.gauges and layout.frames_per_slot(film):
            return layout
    for layout in _ALL:
        if layout.frames_per_slot(film) and layout.columns == 1:
            return layout
    raise UnknownLayout(f"No built-in page takes {film.name}. Add your own page by measuring it.")
