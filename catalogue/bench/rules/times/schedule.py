"""The steps at the sink: how long each takes, when to turn the tank over, when to pour out.

Times are whole seconds from the moment a step is begun. What the clock at the
sink says at which second is computed here and nowhere else; the page only shows
it. `steps_as_json` is the form in which the page reads the steps.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal, get_args

from catalogue.errors import InvalidInput

Kind = Literal["developer", "stop bath", "bleach", "fixer", "rinse", "wash", "wetting agent", "stabilizer", "other"]
"""What a step does to the film, in the words of the trade."""
What = Literal["agitate", "rest", "pour", "end"]
"""What begins at a second: moving the tank, letting it stand, pouring out, or the time being over."""

KINDS: tuple[str, ...] = get_args(Kind)
DAY = 86_400
"""The longest step in seconds; a stand development or a wash of a night is within it."""
COLDEST_C, HOTTEST_C = 0.0, 60.0
"""Between these a temperature in °C is believed; water-based baths are used nowhere near the ends."""


def _seconds(what: str, given: int, least: int, most: int) -> None:
    if isinstance(given, bool) or not isinstance(given, int):
        raise InvalidInput(f"{what} is given in whole seconds, not as {given!r}. Round it first.")
    if not least <= given <= most:
        raise InvalidInput(f"{what} must lie between {least} and {most} s; {given} s was given.")


@dataclass(frozen=True)
class Agitation:
    """How the tank is moved: `first_s` seconds without a rest, then `for_s` seconds in every `every_s`.

    `every_s` 0 means not again after the first time; `first_s` at least as long as the step means without a rest to
    its end. `how` is what the hand does, in the words shown at the sink, as in the middle of a sentence.
    """

    first_s: int = 0
    every_s: int = 0
    for_s: int = 0
    how: str = "turn the tank over"

    def __post_init__(self) -> None:
        _seconds("The first agitation", self.first_s, 0, DAY)
        _seconds("The pause between two agitations, start to start,", self.every_s, 0, DAY)
        _seconds("An agitation", self.for_s, 0, DAY)
        if not self.how.strip():
            raise InvalidInput("Say in words how the tank is moved, for example: turn the tank over.")
        if self.every_s and not self.for_s:
            raise InvalidInput(f"Agitation every {self.every_s} s needs a length; 0 s was given. Give 5 s, or no pause at all.")
        if self.for_s and not self.every_s:
            raise InvalidInput(f"Agitation for {self.for_s} s needs to say how often; give every how many seconds.")
        if self.every_s and self.for_s >= self.every_s:
            raise InvalidInput(
                f"Agitation for {self.for_s} s in every {self.every_s} s leaves no rest. "
                "For moving without a rest make the first agitation as long as the step."
            )


@dataclass(frozen=True)
class TimedStep:
    """One bath or wash at the sink.

    `name` is written as in the middle of a sentence ("first developer"). `seconds` is from begun to over; `pour_s` of
    them, at the end, are for pouring out (0: nothing is poured). `temperature` is in words, as shown; `wanted_c` the
    same in °C where there is one number. `note` is a line shown before and during the step.
    """

    name: str
    seconds: int
    kind: Kind = "other"
    temperature: str = ""
    agitation: Agitation = field(default_factory=Agitation)
    pour_s: int = 0
    optional: bool = False
    wanted_c: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > 60:
            raise InvalidInput(f"A step's name has 1 to 60 characters; this one has {len(self.name.strip())}.")
        _seconds(f"The time of {self.name}", self.seconds, 1, DAY)
        if self.kind not in KINDS:
            raise InvalidInput(f"{self.kind!r} is no kind of step. Use one of: {', '.join(KINDS)}.")
        _seconds(f"Pouring out of {self.name}", self.pour_s, 0, DAY)
        if self.pour_s >= self.seconds:
            raise InvalidInput(
                f"{self.name} lasts {self.seconds} s and {self.pour_s} s of them are for pouring out; "
                "pouring out must be shorter than the step."
            )
        if self.wanted_c is not None and not COLDEST_C <= self.wanted_c <= HOTTEST_C:
            raise InvalidInput(
                f"{self.name} is wanted at {self.wanted_c:g} °C; give a temperature between {COLDEST_C:g} and {HOTTEST_C:g} °C."
            )


@dataclass(frozen=True, order=True)
class SinkEvent:
    """What begins at a second after the step was begun."""

    at_s: int
    what: What


def cues(step: TimedStep) -> tuple[SinkEvent, ...]:
    """Everything the clock says during a step, in order, each second at most once.

    There is always a first one at 0 and an "end" at `step.seconds`. An agitation is due at each multiple of `every_s`.
    One that falls within the first agitation, or follows it without a rest, is not said again; one that reaches into
    the pouring out is cut short there (rules of the arithmetic here: common practice, no published source).
    """
    moving = step.agitation
    pour_at = step.seconds - step.pour_s
    bouts: list[tuple[int, int]] = []
    if moving.first_s:
        bouts.append((0, min(moving.first_s, pour_at)))
    if moving.every_s:
        first = (moving.first_s // moving.every_s + 1) * moving.every_s
        bouts += [(at, min(at + moving.for_s, pour_at)) for at in range(first, pour_at, moving.every_s)]
    said: dict[int, What] = {0: "rest"}
    for start, stop in bouts:
        said[start] = "agitate"
        said[stop] = "rest"
    # Written last, so that at the same second the graver thing is said.
    if step.pour_s:
        said[pour_at] = "pour"
    said[step.seconds] = "end"
    return tuple(SinkEvent(at, said[at]) for at in sorted(said))


def clock_words(seconds: int) -> str:
    """Seconds as the clock shows them: "0:30", "12:00", from 100 minutes on "1:40:00"."""
    _seconds("A time on the clock", seconds, 0, 100 * DAY)
    minutes, rest = divmod(seconds, 60)
    return f"{minutes}:{rest:02}" if minutes < 100 else f"{minutes // 60}:{minutes % 60:02}:{rest:02}"


def agitation_words(step: TimedStep) -> str:
    """The agitation of a step in a sentence, for reading before it is begun."""
    moving, how = step.agitation, step.agitation.how
    if moving.first_s >= step.seconds - step.pour_s:
        return f"{how} without a rest"
    parts = [f"{how} for the first {moving.first_s} s"] if moving.first_s else []
    if moving.every_s:
        pause = "minute" if moving.every_s == 60 else f"{moving.every_s} s"
        parts.append(f"{'then' if parts else how} {moving.for_s} s every {pause}")
    return ", ".join(parts) if parts else "let it stand"


def step_words(step: TimedStep) -> str:
    """A step in one sentence, for the list that is read without the clock."""
    parts = [f"{step.name[:1].upper()}{step.name[1:]} {clock_words(step.seconds)}", step.temperature, agitation_words(step)]
    if step.pour_s:
        parts.append(f"pour out in the last {step.pour_s} s")
    return "; ".join(part for part in parts if part) + (" (may be left out)." if step.optional else ".")


def steps_as_json(steps: Iterable[TimedStep]) -> list[dict[str, object]]:
    """The steps as the page at the sink reads them: what `TimedStep` holds, and its cues."""
    return [
        {
            "name": step.name,
            "seconds": step.seconds,
            "kind": step.kind,
            "temperature": step.temperature,
            "wanted_c": step.wanted_c,
            "how": step.agitation.how,
            "pour_s": step.pour_s,
            "optional": step.optional,
            "note": step.note,
            "cues": [{"at_s": cue.at_s, "what": cue.what} for cue in cues(step)],
        }
        for step in steps
    ]
