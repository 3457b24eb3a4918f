"""Frozen read models of a session at the sink: its tank, its rolls on their reels, its steps and what really happened."""

from dataclasses import dataclass


@dataclass(frozen=True)
class TankView:
    """A developing tank; volumes in ml, `reels_135` says how many 35 mm reels stand in it."""

    id: int
    name: str
    holds_ml: float
    reels_135: int
    least_ml: float


@dataclass(frozen=True)
class SinkStep:
    """A step as planned for one session: time in s, temperature in °C, all amounts and the bottle already worked out."""

    position: int
    kind: str
    name: str
    seconds: int | None = None
    temperature_c: float | None = None
    tolerance_c: float | None = None
    first_s: int = 0
    every_s: int = 0
    for_s: int = 0
    agitation: str = ""
    solution: str = "water"
    chemical: str = ""
    dilution: str = ""
    amounts: str = ""
    bottle_id: int | None = None
    bottle: str = ""
    overruled: str = ""
    again: str = ""
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: str = ""
    draws_ml: float | None = None
    """What is taken out of the bottle: the whole volume of a bath, the concentrate of what is used once."""


@dataclass(frozen=True)
class BathSays:
    """What a bottle's bath says before film goes in; `grave` where the person has to overrule it with a reason."""

    step: int
    bottle: str
    kind: str
    sentence: str
    grave: bool


@dataclass(frozen=True)
class SessionRoll:
    """A roll in the tank: reel 1 is the lowest; the clip it hangs from; and how it was told after drying."""

    number: str
    reel: int
    clip: int | None
    format_name: str
    stock: str
    camera: str
    frames_expected: int | None
    told_by: str = ""


@dataclass(frozen=True)
class SinkFact:
    """What really happened: a step begun, ended or skipped, a temperature in °C, a note; `at` in UTC."""

    key: str
    step: int
    what: str
    at: str
    value: str


@dataclass(frozen=True)
class SessionView:
    """One tank's work, planned and done."""

    id: int
    title: str
    process: str
    state: str
    tank: str
    volume_ml: float | None
    rolls: tuple[SessionRoll, ...]
    steps: tuple[SinkStep, ...]
    facts: tuple[SinkFact, ...]
    planned_at: str
    begun_at: str
    ended_at: str
    done_by: str
    notes: str
    push_stops: float = 0.0
    recipe_id: int | None = None
