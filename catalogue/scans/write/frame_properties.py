"""The facts of a frame as XMP properties: the standard ones, and those in the catalogue's own namespace.

Decisions: the date in `photoshop:DateCreated` is the frame's, cut to what is certain; `xmp:CreateDate` is when the
scan was made, if that is known. Camera make and model of Exif mean the recording device, here the scanner, so the
camera stands in the private namespace and those two are left alone. `exif:DateTimeOriginal` is written with a time
of day only, because Exif has no partial dates.
"""

from fractions import Fraction

from catalogue.scans.write.frame_facts import FrameFacts, certain_date
from catalogue.scans.write.xmp_tree import Property, not_blank

_SOURCE_TYPE = "http://cv.iptc.org/newscodes/digitalsourcetype/"


def _text(name: str, value: object) -> Property:
    return Property(name, "text", not_blank("" if value is None else str(value)))


def _rational(name: str, value: float | Fraction | None) -> Property:
    if value is None:
        return _text(name, "")
    exact = (value if isinstance(value, Fraction) else Fraction(str(value))).limit_denominator(1_000_000)
    return _text(name, f"{exact.numerator}/{exact.denominator}")


def _angle(degrees: float | None, letters: str) -> str:
    """Degrees as XMP writes them, "48,12.500000N": degrees, comma, minutes with six decimals (about 2 mm)."""
    if degrees is None:
        return ""
    whole, rest = divmod(round(abs(degrees) * 60_000_000), 60_000_000)
    return f"{whole},{rest / 1_000_000:.6f}{letters[degrees < 0]}"


def standard_properties(facts: FrameFacts) -> tuple[tuple[Property, ...], ...]:
    """The standard properties, in groups that are written together or not at all."""
    taken = certain_date(facts.exposed)
    index = facts.exposure_index
    # The tag holds a whole number of 16 bits.
    speed = (f"{index:.0f}",) if index is not None and index == int(index) and 1 <= index <= 65535 else ()
    here = facts.latitude is not None
    return (
        (Property("dc:description", "Alt", not_blank(facts.caption)),),
        (Property("dc:rights", "Alt", not_blank(facts.rights)),),
        (Property("dc:creator", "Seq", not_blank(facts.photographer)),),
        (_text("photoshop:DateCreated", taken), _text("exif:DateTimeOriginal", taken if "T" in taken else "")),
        (_text("xmp:CreateDate", certain_date(facts.scanned)),),
        (_text("Iptc4xmpCore:Location", facts.place),),
        (_text("Iptc4xmpExt:DigitalSourceType", facts.film_kind and f"{_SOURCE_TYPE}{facts.film_kind}Film"),),
        (_text("aux:Lens", facts.lens), _text("exifEX:LensModel", facts.lens)),
        (_rational("exif:ExposureTime", facts.shutter_s),),
        (_rational("exif:FNumber", facts.aperture),),
        (_rational("exif:FocalLength", facts.focal_length_mm),),
        (Property("exif:ISOSpeedRatings", "Seq", speed), Property("exifEX:PhotographicSensitivity", "text", speed)),
        (
            _text("exif:GPSVersionID", "2.3.0.0" if here else ""),
            _text("exif:GPSMapDatum", "WGS-84" if here else ""),
            _text("exif:GPSLatitude", _angle(facts.latitude, "NS")),
            _text("exif:GPSLongitude", _angle(facts.longitude, "EW")),
        ),
    )


def private_properties(facts: FrameFacts) -> tuple[Property, ...]:
    """The properties in the catalogue's own namespace, those that say nothing included."""
    named: dict[str, object] = {
        "roll": facts.roll,
        "frame": facts.frame,
        "exposed": facts.exposed,
        "scanned": facts.scanned,
        "camera": facts.camera,
        "stock": facts.stock,
        "filmSpeed": "" if facts.film_speed is None else f"{facts.film_speed:.10g}",
        "exposureIndex": "" if facts.exposure_index is None else f"{facts.exposure_index:.10g}",
        "binder": facts.binder,
        "page": facts.page,
        "slot": facts.slot,
        "placeInSlot": facts.place_in_slot,
        "address": facts.address,
    }
    return (
        *(_text(f"stripleaf:{name}", value) for name, value in named.items()),
        Property("stripleaf:formerNumbers", "Bag", not_blank(*facts.former_numbers)),
    )
