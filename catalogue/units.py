"""Units as the person set them; stored are mm, °C and ml. Exact by definition, so nothing is lost on the way back."""

from dataclasses import dataclass
from typing import Literal, get_args

from catalogue.errors import InvalidInput

LengthUnit = Literal["mm", "inch"]
TemperatureUnit = Literal["°C", "°F"]
VolumeUnit = Literal["ml", "US quart"]
LENGTH_UNITS: tuple[str, ...] = get_args(LengthUnit)
TEMPERATURE_UNITS: tuple[str, ...] = get_args(TemperatureUnit)
VOLUME_UNITS: tuple[str, ...] = get_args(VolumeUnit)

MM_PER_INCH = 25.4  # international inch, exact: NIST SP 811, from memory
ML_PER_QUART = 946.352946  # US liquid quart: NIST Handbook 44, from memory


def _plain(value: float, digits: int) -> str:
    """In figures, without zeros that say nothing."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True)
class Units:
    """The three units in which a person reads and writes; refuses one that isn't known."""

    length: str = "mm"
    temperature: str = "°C"
    volume: str = "ml"

    def __post_init__(self) -> None:
        for given, known in (
            (self.length, LENGTH_UNITS),
            (self.temperature, TEMPERATURE_UNITS),
            (self.volume, VOLUME_UNITS),
        ):
            if given not in known:
                raise InvalidInput(f"“{given[:20]}” is not a unit known here. Choose {' or '.join(known)}.")

    def length_figure(self, mm: float) -> str:
        """A length in mm as figures in the set unit: to 0.01 mm, or to 0.001 inch."""
        return _plain(mm, 2) if self.length == "mm" else _plain(mm / MM_PER_INCH, 3)

    def length_words(self, mm: float) -> str:
        """A strip or a page spoken of: whole mm, or inches to a tenth."""
        return f"{mm:.0f} mm" if self.length == "mm" else f"{mm / MM_PER_INCH:.1f} in"

    def mm(self, figure: float) -> float:
        """What was typed in the set unit, in mm."""
        return figure if self.length == "mm" else figure * MM_PER_INCH

    def temperature_figure(self, celsius: float) -> str:
        """A temperature in °C as figures in the set unit, to a hundredth."""
        return _plain(celsius if self.temperature == "°C" else celsius * 9 / 5 + 32, 2)

    def celsius(self, figure: float) -> float:
        """What was typed in the set unit, in °C."""
        # To a ten-thousandth: a bath typed as 100 °F must read 100 °F again.
        return figure if self.temperature == "°C" else round((figure - 32) * 5 / 9, 4)

    def volume_figure(self, ml: float) -> str:
        """A volume in ml as figures in the set unit: whole ml, or quarts to a hundredth."""
        return _plain(ml, 0) if self.volume == "ml" else _plain(ml / ML_PER_QUART, 2)

    def ml(self, figure: float) -> float:
        """What was typed in the set unit, in ml."""
        return figure if self.volume == "ml" else figure * ML_PER_QUART
