"""Film formats as data: gauge, picture size, pitch and usual exposures, each with its source.

`frame_along_mm` runs along the film, `frame_across_mm` across it; `pitch_mm` is
the distance from the start of one picture to the start of the next. Cameras
differ, so a roll may carry its own measured values (`FilmFormat.measured`).
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import isfinite
from types import MappingProxyType
from typing import Literal

from catalogue.errors import InvalidInput, UnknownFormat

Kind = Literal["strip", "sheet", "mount"]


@dataclass(frozen=True)
class FilmFormat:
    """One format; refuses impossible measures with `InvalidInput`."""

    key: str
    name: str
    gauge: str
    kind: Kind
    gauge_width_mm: float
    frame_along_mm: float
    frame_across_mm: float
    pitch_mm: float
    usual_exposures: tuple[int, ...]
    source: str

    def __post_init__(self) -> None:
        measures = (self.gauge_width_mm, self.frame_along_mm, self.frame_across_mm, self.pitch_mm)
        if not all(isfinite(m) and 0 < m <= 2000 for m in measures):
            raise InvalidInput(f"{self.name}: every measure must lie between 0 and 2000 mm; they are {measures}.")
        if self.frame_across_mm > self.gauge_width_mm:
            raise InvalidInput(
                f"{self.name}: a picture {self.frame_across_mm:g} mm across can't lie on film "
                f"{self.gauge_width_mm:g} mm wide. Measure both again."
            )
        if self.kind != "strip" and self.frame_along_mm > self.pitch_mm:
            raise InvalidInput(
                f"{self.name}: a picture {self.frame_along_mm:g} mm long can't lie on a piece "
                f"{self.pitch_mm:g} mm long. Measure both again."
            )
        if not self.key or not self.name:
            raise InvalidInput("A format needs a key and a name.")
        if any(n < 1 for n in self.usual_exposures):
            raise InvalidInput(f"{self.name}: usual exposures count from 1.")

    @property
    def gap_mm(self) -> float:
        """Nominal gap between two pictures; negative where they overlap."""
        return self.pitch_mm - self.frame_along_mm

    def measured(
        self,
        *,
        frame_along_mm: float | None = None,
        frame_across_mm: float | None = None,
        pitch_mm: float | None = None,
    ) -> "FilmFormat":
        """The format with values measured on one roll in place of the nominal ones."""
        return replace(
            self,
            frame_along_mm=self.frame_along_mm if frame_along_mm is None else frame_along_mm,
            frame_across_mm=self.frame_across_mm if frame_across_mm is None else frame_across_mm,
            pitch_mm=self.pitch_mm if pitch_mm is None else pitch_mm,
        )


_WIDTH_135 = 34.975  # ISO 1007 slit width, from memory
_WIDTH_120 = 61.5  # ISO 732, from memory; published descriptions say 61 to 62
_GAP_120 = 5.0  # common practice, no published source: 3 to 8 mm by camera


def _on_135(size: str, along: float, across: float, pitch: float, usual: tuple[int, ...], source: str) -> FilmFormat:
    return FilmFormat(
        f"135-{size}",
        f"35 mm, {size.replace('x', ' × ')}",
        "135",
        "strip",
        _WIDTH_135,
        along,
        across,
        pitch,
        usual,
        source,
    )


def _rollfilm(size: str, along: float, across: float, counts: dict[str, tuple[int, ...]]) -> list[FilmFormat]:
    source = "published frame-size tables; gap 5 mm is common practice, no published source"
    return [
        FilmFormat(
            f"{gauge}-{size}",
            f"{gauge}, {size.replace('x', ' × ')}",
            gauge,
            "strip",
            _WIDTH_120,
            along,
            across,
            along + _GAP_120,
            usual,
            source,
        )
        for gauge, usual in counts.items()
    ]


_ALL: tuple[FilmFormat, ...] = (
    _on_135(
        "24x36",
        36,
        24,
        38,
        (12, 24, 36),
        "24 × 36 mm, 8 perforations of 4.75 mm: published descriptions of ISO 1007",
    ),
    _on_135(
        "18x24",
        18,
        24,
        19,
        (24, 48, 72),
        "half frame, 4 perforations: published descriptions; pitch computed",
    ),
    _on_135(
        "24x24",
        24,
        24,
        25.5,
        (18, 36, 54),
        "24 × 24 mm: published descriptions; pitch is common practice, no published source",
    ),
    _on_135(
        "24x65",
        65,
        24,
        66.5,
        (13, 20),
        "24 × 65 mm: published descriptions; pitch of 14 perforations is common practice",
    ),
    *_rollfilm("6x4.5", 41.5, 56, {"120": (15, 16), "220": (30, 32)}),
    *_rollfilm("6x6", 56, 56, {"120": (12,), "220": (24,)}),
    *_rollfilm("6x7", 70, 56, {"120": (10,), "220": (20, 21)}),
    *_rollfilm("6x8", 77, 56, {"120": (9,), "220": (18, 19)}),
    *_rollfilm("6x9", 84, 56, {"120": (8,), "220": (16, 18)}),
    *_rollfilm("6x12", 118, 56, {"120": (6,), "220": (12,)}),
    *_rollfilm("6x17", 168, 56, {"120": (4,), "220": (8, 9)}),
    FilmFormat(
        "127-4x6.5",
        "127, 4 × 6.5",
        "127",
        "strip",
        46,
        65,
        40,
        69,
        (8,),
        "published collectors' table; width from memory",
    ),
    FilmFormat(
        "127-4x4",
        "127, 4 × 4",
        "127",
        "strip",
        46,
        40,
        40,
        44,
        (12,),
        "published collectors' table; width from memory",
    ),
    FilmFormat(
        "127-4x3",
        "127, 4 × 3",
        "127",
        "strip",
        46,
        30,
        40,
        34,
        (16,),
        "published collectors' table; width from memory",
    ),
    FilmFormat(
        "110-13x17",
        "110, 13 × 17",
        "110",
        "strip",
        16,
        17,
        13,
        25,
        (12, 20, 24),
        "from memory, no published source read",
    ),
    FilmFormat(
        "sheet-4x5",
        "sheet 4 × 5 in",
        "sheet",
        "sheet",
        100.0,
        120,
        95,
        125.4,
        (1,),
        "ISO 1012 and holder standard, from memory",
    ),
    FilmFormat(
        "sheet-5x7",
        "sheet 5 × 7 in",
        "sheet",
        "sheet",
        125.4,
        171,
        120,
        176.2,
        (1,),
        "ISO 1012 and holder standard, from memory",
    ),
    FilmFormat(
        "sheet-8x10",
        "sheet 8 × 10 in",
        "sheet",
        "sheet",
        201.6,
        247,
        196,
        252.4,
        (1,),
        "ISO 1012 and holder standard, from memory",
    ),
    FilmFormat(
        "slide-50x50",
        "mounted slide 50 × 50",
        "mount",
        "mount",
        50,
        35,
        23,
        50,
        (20, 36),
        "mount 2 × 2 in and masked opening: a laboratory's page",
    ),
)
BUILT_IN_FORMATS: Mapping[str, FilmFormat] = MappingProxyType({f.key: f for f in _ALL})
"""By key, in the order they are offered."""


def _plain(text: str) -> str:
    """The text as compared: lower case, × as x, no spaces or marks between words."""
    text = text.casefold().replace("×", "x").replace(",", ".")
    return re.sub(r"[\s_/-]+|\bmm\b", "", re.sub(r"\bframe\b|\bfilm\b|\bin\b", "", text))


_ALIASES = {
    "135": "135-24x36", "35": "135-24x36", "35mm": "135-24x36", "full": "135-24x36", "half": "135-18x24",
    "halfframe": "135-18x24", "645": "120-6x4.5", "6x45": "120-6x4.5", "66": "120-6x6", "67": "120-6x7",
    "68": "120-6x8", "69": "120-6x9", "612": "120-6x12", "617": "120-6x17", "120": "120-6x6",
    "220": "220-6x6", "127": "127-4x4", "110": "110-13x17", "4x5": "sheet-4x5", "5x7": "sheet-5x7",
    "8x10": "sheet-8x10",
    "slide": "slide-50x50", "slides": "slide-50x50", "mount": "slide-50x50", "36x24": "135-24x36",
}  # fmt: skip


def find_format(text: str, own: Iterable[FilmFormat] = ()) -> FilmFormat:
    """The format a person means: a key, a name or a usual short form ("6x7", "645", "35 mm").

    Own formats go before built-in ones. Raises `UnknownFormat`.
    """
    known = {f.key: f for f in (*_ALL, *own)}
    if text in known:
        return known[text]
    wanted = _plain(text)
    for candidate in reversed(tuple(known.values())):
        if wanted and wanted in (_plain(candidate.key), _plain(candidate.name)):
            return candidate
    if wanted in _ALIASES:
        return known[_ALIASES[wanted]]
    for key, candidate in known.items():
        if wanted and "-" in key and wanted == _plain(key.split("-", 1)[1]):
            return candidate
    shown = text if len(text) <= 40 else text[:40] + "…"
    raise UnknownFormat(f"“{shown}” is not a format known here. Known are: {', '.join(known)}.")
