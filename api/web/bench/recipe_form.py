"""The recipe form: a recipe as texts and back, and its steps moved about without losing anything typed.

Fields of a step are named "3-time"; "out-…" is the step last taken out, kept so that
it can be put back where it was ("taken-from").
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from api.web.typed import is_whole, measured, refusal
from catalogue.bench.recipes import RecipeInput, StepInput
from catalogue.bench.rules.figures import (
    ML_PER_US_FLUID_OUNCE,
    format_time,
    parse_temperature,
    parse_time,
    parse_volume,
    plain,
)
from catalogue.bench.rules.times.push_pull import PushTable
from catalogue.bench.rules.times.temperature_table import parse_temperature_table, temperature_table_text
from catalogue.bench.rules.times.use_table import UseTable
from catalogue.errors import InvalidInput
from catalogue.units import Units

MOST_STEPS = 40
HEAD = ("name", "process", "source", "notes")
# Each with what it is called on the form, so that a refusal names it.
STEP_FIELDS: dict[str, str] = {
    "kind": "kind", "name": "name", "time": "time", "temperature": "temperature", "first": "turned over at first, in s",
    "for": "turned over again, in s", "every": "turned over every, in s", "agitation": "agitation in words",
    "solution": "what is poured in", "chemical": "chemical", "dilution": "dilution", "least": "least concentrate for a roll",
    "tolerance": "tolerance", "k": "coefficient", "from": "coefficient holds from", "to": "coefficient holds up to",
    "factor": "factor for one stop", "temperatures": "times by temperature", "pushes": "times by push",
    "uses": "times by rolls done", "notes": "notes",
}  # fmt: skip
_MODEL = {
    "seconds": "time", "temperature_c": "temperature", "tolerance_c": "tolerance", "least_ml": "least", "first_s": "first",
    "every_s": "every", "for_s": "for", "per_degree": "k", "valid_from_c": "from", "valid_to_c": "to", "push_factor": "factor",
}  # fmt: skip
Texts = dict[str, str]


@dataclass
class TypedRecipe:
    """The form as it was typed; `out` is the step last taken out and `out_from` its former position."""

    head: Texts
    steps: list[Texts]
    out: Texts | None = None
    out_from: int = 1
    said: str = ""
    at: int | None = None
    """The step that a move was about, for the page to show."""
    troubles: dict[int, str] = field(default_factory=dict)
    """By position; 0 for the recipe as a whole."""

    def __post_init__(self) -> None:
        if not 1 <= len(self.steps) <= MOST_STEPS:
            raise InvalidInput(f"A recipe has 1 to {MOST_STEPS} steps, not {len(self.steps)}.")


def typed_recipe(form: Texts) -> TypedRecipe:
    """The form's fields taken apart; raises `InvalidInput` for a number of steps that can't be."""
    count = form.get("steps", "1")
    if not is_whole(count) or not 1 <= int(count) <= MOST_STEPS:
        raise InvalidInput(f"A recipe has 1 to {MOST_STEPS} steps, not “{count[:20]}”. Load the form again.")
    steps = [_step_texts(form, str(nr)) for nr in range(1, int(count) + 1)]
    place = form.get("taken-from", "")
    out = _step_texts(form, "out") if is_whole(place) else None
    return TypedRecipe({n: _lines(form.get(n, "")) for n in HEAD}, steps, out, int(place) if out else 1)


def _lines(text: str) -> str:
    """A browser sends line ends as two characters; kept is one."""
    return text.replace("\r\n", "\n")


def _step_texts(form: Texts, prefix: str) -> Texts:
    return {name: _lines(form.get(f"{prefix}-{name}", "")) for name in STEP_FIELDS}


def rearranged(typed: TypedRecipe, do: str) -> bool:
    """Adds, takes out, puts back or moves a step as a button says ("add 3"); False for any other button."""
    what, _, place = do.partition(" ")
    if what not in ("add", "out", "up", "down", "back"):
        return False
    steps = typed.steps
    at = int(place) if is_whole(place) else 0
    if what == "back":
        if typed.out is not None and _room(typed):
            typed.at = min(typed.out_from, len(steps) + 1)
            steps.insert(typed.at - 1, typed.out)
            typed.out, typed.said = None, f"Step {typed.at} is back."
        return True
    if not 1 <= at <= len(steps):
        raise InvalidInput(f"There is no step {place[:10]} in this recipe: it has {len(steps)}.")
    other = at + {"up": -1, "down": 1}.get(what, 0)
    if what == "add":
        if _room(typed):
            steps.insert(at, dict.fromkeys(STEP_FIELDS, "") | {"kind": "own", "solution": "water"})
            typed.at, typed.said = at + 1, f"Step {at + 1} is new."
    elif what == "out":
        if len(steps) == 1:
            typed.troubles[0] = "A recipe has one step at the least. Change this one instead."
        else:
            typed.out, typed.out_from = steps.pop(at - 1), at
            typed.at, typed.said = None, f"Step {at}{_called(typed.out)} is taken out."
    elif 1 <= other <= len(steps):
        steps[at - 1], steps[other - 1] = steps[other - 1], steps[at - 1]
        typed.at, typed.said = other, f"Step {at}{_called(steps[other - 1])} is step {other} now."
    return True


def _room(typed: TypedRecipe) -> bool:
    if len(typed.steps) < MOST_STEPS:
        return True
    typed.troubles[0] = f"A recipe has up to {MOST_STEPS} steps, and that many are here. Take one out first."
    return False


def _called(step: Texts) -> str:
    return f", {step['name'].strip()}," if step["name"].strip() else ""


def read_steps(typed: TypedRecipe, units: Units) -> list[StepInput | None]:
    """The steps understood, None where one isn't; `typed.troubles` says why, by position."""
    found: list[StepInput | None] = []
    for position, texts in enumerate(typed.steps, 1):
        try:
            found.append(step_from(texts, units))
        except InvalidInput as problem:
            typed.troubles[position] = str(problem)
            found.append(None)
    return found


def recipe_from(typed: TypedRecipe, steps: list[StepInput]) -> RecipeInput:
    """The whole recipe; raises `InvalidInput` for a name or a note that is too long."""
    try:
        return RecipeInput(**typed.head, steps=steps)
    except ValidationError as problem:
        raise InvalidInput(refusal(problem)) from problem


def step_from(texts: Texts, units: Units) -> StepInput:
    """A step from its texts, figures in the person's units; raises `InvalidInput` naming the field."""

    def read(name: str, reader: Callable[[str], Any]) -> Any:
        text = texts.get(name, "").strip()
        if not text:
            return None
        try:
            return reader(text)
        except InvalidInput as problem:
            raise InvalidInput(f"{STEP_FIELDS[name].capitalize()}: {problem}") from problem

    def temperature(text: str) -> float:
        return parse_temperature(text, units.temperature)

    def tolerance(text: str) -> float:
        figure = measured(text.lstrip("±").strip().removesuffix(units.temperature).strip(), "tolerance") or 0.0
        return figure if units.temperature == "°C" else round(figure * 5 / 9, 4)

    def whole_seconds(text: str) -> int:
        return int(text) if is_whole(text) else round(parse_time(text))

    def table(rows: tuple[tuple[Any, float], ...]) -> list[tuple[Any, int]]:
        return [(at, max(1, round(seconds))) for at, seconds in rows]

    kind = texts.get("kind") or "own"
    values: dict[str, Any] = {
        "kind": kind,
        "name": texts.get("name", "").strip() or ("" if kind == "own" else kind),
        "seconds": read("time", lambda text: max(1, round(parse_time(text)))),
        "temperature_c": read("temperature", temperature),
        "tolerance_c": read("tolerance", tolerance),
        "first_s": read("first", whole_seconds) or 0,
        "every_s": read("every", whole_seconds) or 0,
        "for_s": read("for", whole_seconds) or 0,
        "agitation": texts.get("agitation", ""),
        "solution": texts.get("solution") or "water",
        "chemical": texts.get("chemical", ""),
        "dilution": texts.get("dilution", ""),
        "least_ml": read("least", lambda text: parse_volume(text, units.volume)) or 0.0,
        "per_degree": read("k", lambda text: measured(text, "coefficient")),
        "valid_from_c": read("from", temperature),
        "valid_to_c": read("to", temperature),
        "push_factor": read("factor", lambda text: measured(text, "factor")),
        "notes": texts.get("notes", ""),
        "temperature_table": read("temperatures", lambda text: parse_temperature_table(text, units.temperature)) or [],
        "push_table": read("pushes", lambda text: table(PushTable.parse(text).points)) or [],
        "use_table": read("uses", lambda text: table(UseTable.parse(text).rows)) or [],
    }
    if values["for_s"] and not values["every_s"]:
        raise InvalidInput(f"Turned over again for {values['for_s']} s, but every how many seconds? Fill in both or none.")
    try:
        return StepInput.model_validate(values)
    except ValidationError as problem:
        raise InvalidInput(refusal(problem, lambda name: STEP_FIELDS.get(_MODEL.get(name, name), name))) from problem


def texts_of(recipe: RecipeInput, units: Units) -> TypedRecipe:
    """A recipe as it would be typed, figures in the person's units."""
    head = {"name": recipe.name, "process": recipe.process, "source": recipe.source, "notes": recipe.notes}
    return TypedRecipe(head, [_texts_of_step(step, units) for step in recipe.steps])


def _texts_of_step(step: StepInput, units: Units) -> Texts:
    def degrees(celsius: float | None) -> str:
        return "" if celsius is None else units.temperature_figure(celsius)

    def seconds(figure: int) -> str:
        return str(figure) if figure else ""

    wider = 1.0 if units.temperature == "°C" else 1.8
    ounces = units.volume != "ml"  # a quart is too much to say it in
    least = f"{plain(step.least_ml / ML_PER_US_FLUID_OUNCE, 4)} fl oz" if ounces else f"{plain(step.least_ml, 3)} ml"
    return {
        "kind": step.kind, "name": step.name, "time": format_time(step.seconds) if step.seconds else "",
        "temperature": degrees(step.temperature_c),
        "tolerance": "" if step.tolerance_c is None else plain(step.tolerance_c * wider, 3),
        "first": seconds(step.first_s), "every": seconds(step.every_s), "for": seconds(step.for_s),
        "agitation": step.agitation, "solution": step.solution, "chemical": step.chemical, "dilution": step.dilution,
        "least": least if step.least_ml else "", "k": "" if step.per_degree is None else f"{step.per_degree:.6g}",
        "from": degrees(step.valid_from_c), "to": degrees(step.valid_to_c),
        "factor": "" if step.push_factor is None else f"{step.push_factor:.6g}",
        "temperatures": temperature_table_text(step.temperature_table, units.temperature),
        "pushes": "\n".join(f"{f'{stops:+g}' if stops else '0'}: {format_time(s)}" for stops, s in step.push_table),
        "uses": UseTable(tuple(step.use_table)).text if step.use_table else "", "notes": step.notes,
    }  # fmt: skip


EMPTY = RecipeInput(name="", steps=[StepInput(kind="developer", name="")])
"""A recipe to start from nothing."""
