"""Times, volumes and temperatures as they are typed at the sink, and back in words.

Read are seconds, millilitres and °C. A figure that can be meant in two ways is
refused with both of them named, never guessed.
"""

import re
from math import floor, isfinite

from catalogue.errors import InvalidInput
from catalogue.units import ML_PER_QUART, Units

LONGEST_SECONDS = 48 * 3600.0
LARGEST_ML = 200_000.0
COLDEST_CELSIUS, HOTTEST_CELSIUS = 0.0, 60.0

ML_PER_US_GALLON = 4 * ML_PER_QUART
ML_PER_US_PINT = ML_PER_QUART / 2
ML_PER_US_FLUID_OUNCE = ML_PER_QUART / 32
ML_PER_IMPERIAL_GALLON = 4546.09  # exact by definition (British weights and measures law, from memory)

_UNITS_OF_VOLUME: dict[str, float] = {
    **dict.fromkeys(("ml", "cc", "cm3", "cm³", "millilitre", "millilitres", "milliliter", "milliliters"), 1.0),
    "cl": 10.0,
    "dl": 100.0,
    **dict.fromkeys(("l", "ltr", "litre", "litres", "liter", "liters"), 1000.0),
    **dict.fromkeys(("gal", "gallon", "gallons"), ML_PER_US_GALLON),
    **dict.fromkeys(("qt", "quart", "quarts"), ML_PER_QUART),
    **dict.fromkeys(("pt", "pint", "pints"), ML_PER_US_PINT),
    **dict.fromkeys(("fl oz", "floz", "fluid ounce", "fluid ounces"), ML_PER_US_FLUID_OUNCE),
}
_IMPERIAL: dict[str, float] = {
    **dict.fromkeys(("gal", "gallon", "gallons"), ML_PER_IMPERIAL_GALLON),
    **dict.fromkeys(("qt", "quart", "quarts"), ML_PER_IMPERIAL_GALLON / 4),
    **dict.fromkeys(("pt", "pint", "pints"), ML_PER_IMPERIAL_GALLON / 8),
    **dict.fromkeys(("fl oz", "floz", "fluid ounce", "fluid ounces"), ML_PER_IMPERIAL_GALLON / 160),
}

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_FRACTION = re.compile(r"(?:([0-9]{1,4})\s+)?([0-9]{1,3})\s*/\s*([0-9]{1,3})")
_CLOCK = re.compile(r"(?:([0-9]{1,2}):)?([0-9]{1,4}):([0-9]{2})")
_SPOKEN = re.compile(
    rf"(?:({_NUMBER})\s*(?:h|hr|hrs|hour|hours)\.?)?\s*"
    rf"(?:({_NUMBER})\s*(?:min|mins|minute|minutes|m|['’′])\.?)?\s*"
    rf"(?:({_NUMBER})\s*(?:sec|secs|second|seconds|s|[\"”″]|''|’’|′′)\.?)?",
    re.IGNORECASE,
)
_VOLUME = re.compile(r"([0-9][0-9.,/ ]*?)\s*([^\W0-9].*)?", re.DOTALL)
_TEMPERATURE = re.compile(rf"({_NUMBER})\s*(?:°|º|deg\.?|degrees?)?\s*(c|f|celsius|fahrenheit)?\.?", re.IGNORECASE)


def _shown(text: str) -> str:
    return text.strip()[:40]


def plain(value: float, digits: int = 1) -> str:
    """A figure without zeros that say nothing: 23.10 as "23.1", 600.0 as "600"."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def parse_number(text: str) -> float:
    """A positive number or 0 with a point or a comma for decimals, or a fraction as "1/2" or "1 1/2".

    "1,000" may be one or a thousand, so it is refused. Raises `InvalidInput`.
    """
    given = text.strip()
    if fraction := _FRACTION.fullmatch(given):
        if not int(fraction[3]):
            raise InvalidInput(f"“{_shown(text)}” divides by 0. Write for example 1/2.")
        return int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    if len(given) > 40 or not re.fullmatch(_NUMBER, given):
        raise InvalidInput(f"“{_shown(text)}” is not a number. Write for example 600 or 6.5.")
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", given):
        whole, rest = given.split(",")
        raise InvalidInput(f"“{given}” may be {whole}{rest} or {whole}.{rest}. Write it without a comma.")
    return float(given.replace(",", "."))


def parse_time(text: str) -> float:
    """Seconds in "3:15", "1:02:30", "195 s", "3 min 15 s", "3'15\\"", "6,5 min" or "1 h".

    A bare number is refused, for it may be minutes or seconds. Raises `InvalidInput`.
    """
    given = text.strip()
    if not given or len(given) > 40:
        raise InvalidInput(f"“{_shown(text)}” is not a time. Write for example 3:15, 195 s or 6.5 min.")
    if clock := _CLOCK.fullmatch(given):
        hours, minutes, seconds = int(clock[1] or 0), int(clock[2]), int(clock[3])
        if seconds > 59 or (clock[1] and minutes > 59):
            raise InvalidInput(f"“{given}” is not a time: minutes and seconds go to 59. Write for example 3:15.")
        return checked_seconds(hours * 3600.0 + minutes * 60 + seconds)
    if re.fullmatch(_NUMBER, given):
        raise InvalidInput(f"“{given}” may be minutes or seconds. Write {given} min or {given} s.")
    spoken = _SPOKEN.fullmatch(given)
    if not spoken:
        raise InvalidInput(f"“{given}” is not a time. Write for example 3:15, 195 s or 6.5 min.")
    parts = [parse_number(part) if part else 0.0 for part in spoken.groups()]
    return checked_seconds(parts[0] * 3600 + parts[1] * 60 + parts[2])


def checked_seconds(seconds: float) -> float:
    """A duration in seconds as it is, if it can be one: over 0 and at most 48 hours. Raises `InvalidInput`."""
    if not (isfinite(seconds) and 0 < seconds <= LONGEST_SECONDS):
        raise InvalidInput(f"A time at the sink lies over 0 s and up to 48 hours, not {seconds:.10g} s. Check it.")
    return seconds


def format_time(seconds: float) -> str:
    """As read off a clock, to the nearest second (halves up): "3:15", from an hour on "1:02:30"."""
    whole = floor(seconds + 0.5)
    minutes, rest = divmod(abs(whole), 60)
    hours, minutes_left = divmod(minutes, 60)
    sign = "−" if whole < 0 else ""
    return f"{sign}{hours}:{minutes_left:02d}:{rest:02d}" if hours else f"{sign}{minutes}:{rest:02d}"


def time_words(seconds: float) -> str:
    """As spoken, to the nearest second: "3 min 15 s", "45 s", "1 h 2 min"."""
    minutes, rest = divmod(floor(abs(seconds) + 0.5), 60)
    hours, minutes = divmod(minutes, 60)
    said = [f"{figure} {unit}" for figure, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if figure]
    return " ".join(said) or "0 s"


def checked_ml(ml: float) -> float:
    """A volume in ml as it is, if it can be one: over 0 and at most 200 l. Raises `InvalidInput`."""
    if not (isfinite(ml) and 0 < ml <= LARGEST_ML):
        raise InvalidInput(f"A volume lies over 0 ml and up to {LARGEST_ML / 1000:.0f} l, not {ml:.10g} ml. Check it.")
    return ml


def parse_volume(text: str, bare: str | None = None) -> float:
    """Millilitres in "600 ml", "1 l", "1 US gal", "1/2 gal", "1 qt", "16 fl oz" or "1 imp gal".

    Gallon, quart, pint and fluid ounce are those of the United States (NIST Handbook 44, from memory) unless "imp" is
    written. `bare` is the unit that a number alone is in, as `Units.volume` has it; without it a bare number is
    refused, as is "oz", which may be a weight. Raises `InvalidInput`.
    """
    found = _VOLUME.fullmatch(text.strip()) if len(text) <= 60 else None
    if not found:
        raise InvalidInput(f"“{_shown(text)}” is not a volume. Write for example 600 ml, 1 l or 16 fl oz.")
    figure = parse_number(found[1])
    words = re.sub(r"\s+", " ", (found[2] or "").lower().replace(".", " ")).strip()
    if not words:
        if bare is None:
            raise InvalidInput(f"“{_shown(text)}” has no unit. Write {found[1].strip()} ml, l, qt or fl oz.")
        return checked_ml(Units(volume=bare).ml(figure))
    table, unit = _UNITS_OF_VOLUME, words
    if words.startswith(("us ", "u s ")):
        unit = words.removeprefix("us ").removeprefix("u s ").removeprefix("liq ").removeprefix("liquid ")
    elif words.startswith(("imp ", "imperial ", "uk ")):
        table, unit = _IMPERIAL, words.split(" ", 1)[1]
    if unit in ("oz", "ounce", "ounces"):
        raise InvalidInput(f"“{_shown(text)}” may be a weight. Write {found[1].strip()} fl oz for a volume.")
    if unit not in table:
        raise InvalidInput(
            f"“{unit[:20]}” is not a unit of volume known here. Write ml, l, gal, qt, pt or fl oz (with imp for imperial)."
        )
    return checked_ml(figure * table[unit])


def volume_words(ml: float, unit: str = "ml") -> str:
    """A volume in the unit a person set (`Units.volume`), to what can be told apart when pouring.

    Without a comma in thousands, so that it can be read again: "23.1 ml", "3785 ml"; with "US quart" "1 gal", "1.5 qt"
    from a quart on and "16 fl oz" below.
    """
    if unit == "ml":
        return f"{plain(ml, 1 if ml < 100 else 0)} ml"
    Units(volume=unit)  # refuses a unit that isn't known
    for named, size, digits in (("gal", ML_PER_US_GALLON, 2), ("qt", ML_PER_QUART, 2)):
        if ml >= size * 0.9995:
            return f"{plain(ml / size, digits)} {named}"
    return f"{plain(ml / ML_PER_US_FLUID_OUNCE, 2)} fl oz"


def checked_celsius(celsius: float) -> float:
    """A bath's temperature in °C as it is, if it can be one: 0 to 60 °C. Raises `InvalidInput`."""
    if not (isfinite(celsius) and COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS):
        raise InvalidInput(
            f"A bath here has {COLDEST_CELSIUS:.0f} to {HOTTEST_CELSIUS:.0f} °C (32 to 140 °F), not {celsius:.10g} °C. "
            "Check the figure and whether °C or °F is meant."
        )
    return celsius


def parse_temperature(text: str, bare: str | None = None) -> float:
    """°C in "38 °C", "38C", "100 F" or "100.4 °F"; `bare` is the unit of a number alone, as `Units.temperature` has it.

    Without `bare` a number alone is refused. Raises `InvalidInput`.
    """
    found = _TEMPERATURE.fullmatch(text.strip()) if len(text) <= 40 else None
    if not found:
        raise InvalidInput(f"“{_shown(text)}” is not a temperature. Write for example 38 °C or 100 °F.")
    figure = parse_number(found[1])
    unit = f"°{found[2][0].upper()}" if found[2] else bare
    if unit is None:
        raise InvalidInput(f"“{_shown(text)}” may be °C or °F. Write {found[1]} °C or {found[1]} °F.")
    return checked_celsius(Units(temperature=unit).celsius(figure))


def temperature_words(celsius: float, unit: str = "°C") -> str:
    """A temperature in °C in the unit a person set (`Units.temperature`), to a tenth: "37.8 °C", "100 °F"."""
    Units(temperature=unit)  # refuses a unit that isn't known
    return f"{plain(celsius if unit == '°C' else celsius * 9 / 5 + 32)} {unit}"
