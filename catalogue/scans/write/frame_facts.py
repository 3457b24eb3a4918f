"""What a sidecar says of a frame, and how much of a date is beyond doubt."""

import re
from dataclasses import dataclass, fields
from fractions import Fraction
from math import isfinite
from typing import Literal

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date

_MAX_TEXT = 20_000
# What XML 1.0 can't hold at all (its section 2.2), and half characters.
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class FrameFacts:
    """What a sidecar says of a frame; an empty text or None is left out.

    `exposed` is when the frame was taken and `scanned` when the scan was made, both EDTF; `address` is where the film
    lies, in words. Time in s, focal length in mm, latitude and longitude in degrees (WGS 84), north and east positive.
    Raises `InvalidInput` for what no sidecar can say.
    """

    roll: str
    frame: str
    exposed: str = ""
    scanned: str = ""
    caption: str = ""
    place: str = ""
    keywords: tuple[str, ...] = ()
    camera: str = ""
    lens: str = ""
    stock: str = ""
    film_kind: Literal["", "negative", "positive"] = ""
    film_speed: float | None = None
    photographer: str = ""
    rights: str = ""
    binder: str = ""
    page: int | None = None
    slot: int | None = None
    place_in_slot: int | None = None
    address: str = ""
    former_numbers: tuple[str, ...] = ()
    shutter_s: Fraction | None = None
    aperture: float | None = None
    focal_length_mm: float | None = None
    exposure_index: float | None = None
    latitude: float | None = None
    longitude: float | None = None

    def __post_init__(self) -> None:
        if not self.roll.strip() or not self.frame.strip():
            raise InvalidInput("A sidecar needs the roll and the frame. Give both.")
        if self.film_kind not in ("", "negative", "positive"):
            raise InvalidInput(f"“{self.film_kind}” is no kind of film here. Write negative, positive or nothing.")
        for field in fields(self):
            value = getattr(self, field.name)
            for text in (value,) if isinstance(value, str) else value if isinstance(value, tuple) else ():
                bad = _NOT_XML.search(text)
                if bad:
                    code = f"U+{ord(bad[0]):04X}"
                    raise InvalidInput(f"The {field.name} holds the character {code}, which XML can't hold. Take it out.")
                if len(text) > _MAX_TEXT:
                    raise InvalidInput(f"The {field.name} has {len(text)} characters; up to {_MAX_TEXT} fit. Shorten it.")
            number = isinstance(value, int | float | Fraction) and field.name not in ("latitude", "longitude")
            # Exif keeps such numbers as two halves of 32 bits.
            if number and not (isfinite(value) and 0.000001 <= value <= 4_000_000_000):
                raise InvalidInput(f"The {field.name} is {value}; it lies between 0.000001 and 4000000000. Put it right.")
        for text in (self.exposed, self.scanned):
            if text:
                parse_date(text)
        if (self.latitude is None) != (self.longitude is None):
            raise InvalidInput("Latitude and longitude go together. Give both or neither.")
        for value, most in ((self.latitude, 90), (self.longitude, 180)):
            if value is not None and not (isfinite(value) and -most <= value <= most):
                raise InvalidInput(f"{value:g}° lies outside ±{most}°. Check latitude and longitude.")


def certain_date(text: str) -> str:
    """The part of an EDTF date that is beyond doubt, as an XMP date (year, month, day or moment); "" if there is none.

    "1985-04-XX" is 1985-04; "1984?", "2004-06~", "201X" and an open interval give nothing; an interval gives what its
    ends share. A spring, summer or autumn gives its year, as those of `catalogue.film.dates` lie within one; a winter
    runs over New Year and gives nothing.
    """
    if not text or text[-1] in "?~%" or re.search(r"[?~%]/", text):
        return ""
    found = parse_date(text)
    if "T" in text:  # XMP writes a zone in hours and minutes, EDTF also in hours alone
        return re.sub(r"(T.*[+-]\d\d)$", r"\1:00", text)
    start, end = found.earliest, found.latest
    seasons = {season[1] for part in text.split("/") if (season := re.fullmatch(r"\d{4}-(2[1-4])", part))}
    if start is None or end is None or start.year != end.year or "24" in seasons:
        return ""
    if start == end:
        return start.isoformat()
    return start.isoformat()[: 7 if start.month == end.month and not seasons else 4]
