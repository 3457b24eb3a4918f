"""A recipe's step in words, and the cautions that go with a recipe."""

from catalogue.bench.recipes import is_black_and_white
from catalogue.bench.rules.cautions import StepKind, cautions_for
from catalogue.bench.rules.figures import format_time, plain, temperature_words, time_words
from catalogue.bench.rules.times.development import TemperatureRule
from catalogue.bench.waiting_views import RecipeView, StepView
from catalogue.units import Units

WARM_C = 30.0
"""°C from which baths stand in heated water, so that its cautions are shown."""
_WIDE_C = 3.0  # °C from which nobody aims at the middle

_HAZARDS: dict[str, tuple[StepKind, ...]] = {
    "stop": ("stop bath",), "bleach": ("bleach",), "fix": ("fixer",), "blix": ("bleach", "fixer"),
    "wetting agent": ("final rinse",), "own": ("mixing",),
}  # fmt: skip


def agitation_words(step: StepView) -> str:
    """When the tank is turned over: "Turn over for the first 30 s, then for 5 s every 60 s."; empty where nothing is said."""
    said = []
    if step.first_s:
        said.append(f"for the first {_whole(step.first_s)}")
    if step.every_s and step.for_s == step.every_s:
        said.append("without a pause")
    elif step.every_s:
        said.append(f"for {_whole(step.for_s)} every {_whole(step.every_s)}")
    figures = f"Turn over {', then '.join(said)}." if said else ""
    return " ".join(filter(None, (figures, step.agitation)))


def _whole(seconds: int) -> str:
    """Up to two minutes in seconds, as they are counted at the sink."""
    return f"{seconds} s" if seconds <= 120 else time_words(seconds)


def step_temperature_words(step: StepView, unit: str = "°C") -> str:
    """ "37.8 °C ± 0.15", a wide range as "24 to 41 °C", in the unit a person set; empty where the recipe says none."""
    if step.temperature_c is None:
        return ""
    # To a hundredth, unlike a thermometer reading: a colour developer's target is stated so.
    units = Units(temperature=unit)
    said = f"{units.temperature_figure(step.temperature_c)} {unit}"
    if step.tolerance_c and step.tolerance_c > _WIDE_C:
        low, high = step.temperature_c - step.tolerance_c, step.temperature_c + step.tolerance_c
        return f"{units.temperature_figure(low)} to {units.temperature_figure(high)} {unit}"
    if not step.tolerance_c:
        return said
    return f"{said} ± {plain(step.tolerance_c if unit == '°C' else step.tolerance_c * 9 / 5, 2)}"


def solution_words(step: StepView) -> str:
    """What is poured in: "Quartz 1+9, used once"."""
    if step.solution == "water":
        return step.chemical or "water"
    mixed = f"{step.chemical} {step.dilution}".strip()
    return f"{mixed}, {'used once' if step.solution == 'one-shot' else 'from the bottle and back into it'}"


def rule_words(step: StepView, unit: str = "°C") -> str:
    """How time follows temperature by the step's coefficient; empty where there is none."""
    if step.per_degree is None or step.valid_from_c is None or step.valid_to_c is None:
        return ""
    rule = TemperatureRule(step.per_degree, step.valid_from_c, step.valid_to_c)
    low, high = temperature_words(rule.low, unit), temperature_words(rule.high, unit)
    one = rule.factor(rule.low, rule.low + 1) if unit == "°C" and rule.high - rule.low >= 1 else None
    shorter = f" ({plain(100 * (1 - one))} % shorter for each degree warmer)" if one else ""
    return f"k = {step.per_degree:.4g} per °C{shorter}, from {low} to {high}"


def step_tables(step: StepView, unit: str = "°C") -> list[tuple[str, str, list[tuple[str, str]]]]:
    """The tables of a step as read: caption, what its lines go by, and the lines with their times."""
    units, tables = Units(temperature=unit), []
    if step.temperature_table:
        rows = [(units.temperature_figure(celsius), format_time(seconds)) for celsius, seconds in step.temperature_table]
        tables.append(("By temperature", unit, rows))
    if step.push_table:
        rows = [(f"{stops:+g}".replace("-", "−") if stops else "normal", format_time(s)) for stops, s in step.push_table]
        tables.append(("By push or pull", "Stops", rows))
    if step.use_table:
        starts = [1, *(last + 1 for last, _ in step.use_table)]
        rows = [
            (f"{first}–{last}" if first != last else f"{last}", format_time(seconds))
            for first, (last, seconds) in zip(starts, step.use_table, strict=False)
        ]
        tables.append(("By rolls done", "Rolls", rows))
    return tables


def hazards_of(kind: str, process: str) -> set[StepKind]:
    """The hazards of a step of this kind; a process not known as black-and-white counts as colour."""
    if kind == "developer":
        return {"developer" if is_black_and_white(process) else "colour developer"}
    return set(_HAZARDS.get(kind, ()))


def cautions_of(recipe: RecipeView) -> tuple[str, ...]:
    """The usual cautions for a recipe's steps, gravest first."""
    kinds: set[StepKind] = set()
    for step in recipe.steps:
        kinds |= hazards_of(step.kind, recipe.process)
        if step.kind == "stop":
            kinds.add("acid")
        if step.solution != "water":
            kinds |= {"mixing", "disposal"}
        if (step.temperature_c or 0) >= WARM_C:
            kinds.add("warm water")
    return cautions_for(kinds)
