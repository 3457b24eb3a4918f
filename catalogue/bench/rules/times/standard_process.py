"""Starting values of the standard processes, each with where it comes from.

Only what a process itself defines is here. A maker's sheet for the kit in hand
goes before every figure. Black-and-white has no standard times: they belong to
film, developer and dilution.
"""

from dataclasses import dataclass

from catalogue.bench.rules.figures import checked_celsius, checked_seconds, plain
from catalogue.errors import InvalidInput, NotFound

_C41_SHEET = "process data sheet, from memory"
_E6_SHEET = "process data sheet, from memory"


@dataclass(frozen=True)
class StandardStep:
    """One bath: `seconds` in it, and °C as target and range; None where the process leaves it to the maker's sheet."""

    name: str
    seconds: float | None
    source: str
    celsius: float | None = None
    low: float | None = None
    high: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.seconds is not None:
            checked_seconds(self.seconds)
        for celsius in (self.celsius, self.low, self.high):
            if celsius is not None:
                checked_celsius(celsius)
        if (self.low is None) != (self.high is None):
            raise InvalidInput(f"{self.name} has one end of a range only. Give both or none.")
        if self.low is not None and self.high is not None:
            target = self.low if self.celsius is None else self.celsius
            if not self.low <= target <= self.high:
                raise InvalidInput(f"{self.name}: {target:g} °C lies outside {self.low:g} to {self.high:g} °C.")
        if not self.source.strip():
            raise InvalidInput(f"{self.name} needs a source. Say where its figures come from.")

    @property
    def fahrenheit(self) -> float | None:
        """The target in °F."""
        return None if self.celsius is None else self.celsius * 9 / 5 + 32

    def warning(self, celsius: float) -> str | None:
        """What to say to a bath at `celsius` °C; None inside the range, or where the process states none."""
        checked_celsius(celsius)
        if self.low is None or self.high is None or self.low - 1e-9 <= celsius <= self.high + 1e-9:
            return None
        off = self.low - celsius if celsius < self.low else celsius - self.high
        felt = "cold" if celsius < self.low else "warm"
        return (
            f"{self.name[:1].upper()}{self.name[1:]} at {plain(celsius, 2)} °C is {plain(off, 2)} °C too {felt}: "
            f"{plain(self.low, 2)} to {plain(self.high, 2)} °C ({self.source})."
        )


@dataclass(frozen=True)
class StandardProcess:
    """A process by its trade name, its baths in order, and what sources disagree about."""

    name: str
    steps: tuple[StandardStep, ...]
    notes: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        """All steps with a time, added up, without drying."""
        return sum(step.seconds or 0.0 for step in self.steps)

    def step(self, name: str) -> StandardStep:
        """The first step of that name; raises `NotFound`."""
        for step in self.steps:
            if step.name == name:
                return step
        raise NotFound(f"{self.name} has no step “{name[:40]}”. It has {', '.join(step.name for step in self.steps)}.")


def _other_c41(name: str, seconds: float) -> StandardStep:
    source = f"time: {_C41_SHEET}; range: data sheet, from memory, one reference has 24 to 40 °C"
    return StandardStep(name, seconds, source, None, 24, 41)


C41 = StandardProcess(
    "C-41",
    (
        StandardStep(
            "developer",
            195,
            f"time: an encyclopaedia and two darkroom guides; tolerance: {_C41_SHEET}",
            37.8,
            37.65,
            37.95,
            "100 °F ± 0.25 °F. A bath used again needs longer, by the kit's own table.",
        ),
        _other_c41("bleach", 390),
        _other_c41("wash after bleach", 195),
        _other_c41("fix", 390),
        _other_c41("wash after fix", 195),
        _other_c41("final rinse", 90),
    ),
    (
        "Sources disagree on the developer: 37.8 ± 0.15 °C (data sheet, from memory) or 38 ± 0.3 °C (home guides). 38.0 °C is "
        "0.05 °C above the narrower range. Keep to the kit's sheet, and to the same temperature every time.",
        "Kits may join bleach and fix in one bath: follow the kit's sheet.",
    ),
)

E6 = StandardProcess(
    "E-6",
    (
        StandardStep("first developer", 360, _E6_SHEET, 38.0, 37.7, 38.3, "100.4 °F ± 0.5 °F."),
        StandardStep("first wash", 120, _E6_SHEET),
        StandardStep(
            "reversal bath",
            120,
            _E6_SHEET,
            note="Room light is allowed after 1 min; no wash follows (US Army course text).",
        ),
        StandardStep("colour developer", 360, _E6_SHEET),
        StandardStep("pre-bleach", 120, _E6_SHEET),
        StandardStep("bleach", 360, _E6_SHEET),
        StandardStep("fix", 240, _E6_SHEET),
        StandardStep("final wash", 240, _E6_SHEET),
        StandardStep("final rinse", 60, _E6_SHEET),
    ),
    (
        "Sources disagree on the first developer: 38.0 ± 0.3 °C (data sheet, from memory) or 37.8 °C (an encyclopaedia). "
        "37.8 °C lies inside that range, so either will do.",
        "Kits with three baths join steps and are harder to control: follow the kit's sheet.",
    ),
)

BLACK_AND_WHITE = StandardProcess(
    "black-and-white",
    (
        StandardStep(
            "developer",
            None,
            "US Navy training manual 14209: 68 °F",
            20.0,
            note="The time belongs to film, developer and dilution: take it from the maker's sheet.",
        ),
    ),
    ("Some pairs of film and developer are meant for 24 °C (75 °F) (US Navy training manual 14209).",),
)

STANDARD_PROCESSES: dict[str, StandardProcess] = {each.name: each for each in (BLACK_AND_WHITE, C41, E6)}


def standard_process(name: str) -> StandardProcess:
    """The process of that trade name, whatever its case, "c41" too; raises `NotFound`."""
    wanted = name.strip().lower().replace("-", "").replace(" ", "")
    for known, process in STANDARD_PROCESSES.items():
        if known.lower().replace("-", "") == wanted:
            return process
    raise NotFound(f"“{name.strip()[:40]}” is not a standard process. There are {', '.join(STANDARD_PROCESSES)}.")
