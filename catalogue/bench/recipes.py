"""Recipes: what the person typed from a maker's sheet, step by step. No maker's table comes with the program."""

from typing import Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, func, select

from catalogue.bench.rules.dilution import ColonMeans
from catalogue.bench.rules.dilution import parse as parse_dilution
from catalogue.bench.rules.figures import checked_celsius, format_time, temperature_words
from catalogue.bench.rules.times.development import TemperatureRule
from catalogue.bench.rules.times.push_pull import PushTable
from catalogue.bench.rules.times.standard_process import standard_process
from catalogue.bench.rules.times.use_table import UseTable
from catalogue.bench.waiting_views import RecipeView, StepView
from catalogue.clock import now
from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.settings import get_setting, set_setting
from catalogue.store.tables.bench import Recipe, RecipePoint, RecipeStep

StepKind = Literal["developer", "water", "stop", "bleach", "fix", "blix", "wash", "wetting agent", "own"]
Solution = Literal["water", "one-shot", "bath"]
STEP_KINDS: tuple[str, ...] = get_args(StepKind)
COLON_MEANS = "colon_means"
_TABLES = {"temperature_table": "temperature", "push_table": "push", "use_table": "rolls done"}


class StepInput(BaseModel):
    """A step as typed; times in s, temperatures in °C, tables as pairs in rising order."""

    model_config = ConfigDict(extra="forbid")
    kind: StepKind = "own"
    name: str = Field(max_length=60, examples=["developer"])
    seconds: int | None = Field(default=None, ge=1, le=172_800, examples=[195])
    temperature_c: float | None = Field(default=None, ge=0, le=60, examples=[37.8])
    tolerance_c: float | None = Field(default=None, ge=0, le=20, examples=[0.15])
    first_s: int = Field(default=0, ge=0, le=3600, description="Turned over without a pause at the start, in s.")
    every_s: int = Field(default=0, ge=0, le=3600, description="Then begun anew every so many s; 0 for never.")
    for_s: int = Field(default=0, ge=0, le=3600, description="And kept up for so many s.")
    agitation: str = Field(default="", max_length=120, description="In words, where figures don't say it.")
    solution: Solution = "water"
    chemical: str = Field(default="", max_length=120)
    dilution: str = Field(default="", max_length=40, examples=["1+9"])
    least_ml: float = Field(default=0.0, ge=0, le=5000, description="Concentrate that one roll needs at the least, in ml.")
    per_degree: float | None = Field(default=None, description="k in t = t0 exp(-k (T - T0)), for each °C.", examples=[0.081])
    valid_from_c: float | None = Field(default=None, ge=0, le=60)
    valid_to_c: float | None = Field(default=None, ge=0, le=60)
    push_factor: float | None = Field(default=None, description="The time of one stop more over the normal time.")
    notes: str = Field(default="", max_length=2000)
    temperature_table: list[tuple[float, int]] = []
    push_table: list[tuple[float, int]] = []
    use_table: list[tuple[int, int]] = Field(default=[], description="Up to so many rolls done, s.")


class RecipeInput(BaseModel):
    """A recipe as typed."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=120)
    process: str = Field(default="", max_length=80, examples=["C-41"])
    source: str = Field(default="", max_length=500, description="Where it was read, for example the maker's sheet of a year.")
    notes: str = Field(default="", max_length=4000)
    steps: list[StepInput] = Field(min_length=1, max_length=40)


def colon_means(session: Session) -> ColonMeans | None:
    """How the person reads "1:9", once asked."""
    kept = get_setting(session, COLON_MEANS)
    return "plus" if kept == "plus" else "in all" if kept == "in all" else None


def set_colon_means(session: Session, means: str) -> None:
    """Remembers how the person reads a colon: "plus" as 1+9, "in all" as one in nine; raises `InvalidInput`."""
    if means not in ("plus", "in all"):
        raise InvalidInput("Say which is meant: one part and nine more, or one part in nine.")
    set_setting(session, COLON_MEANS, means)


def temperature_rule(step: StepView) -> TemperatureRule | None:
    """How the step's time follows temperature: the sheet's own first and last lines, or its coefficient; None without."""
    if len(step.temperature_table) >= 2:
        return TemperatureRule.from_two_points(step.temperature_table[0], step.temperature_table[-1])
    if step.per_degree is None:
        return None
    if step.valid_from_c is None or step.valid_to_c is None:
        raise InvalidInput("say from which to which temperature the coefficient holds.")
    return TemperatureRule(step.per_degree, step.valid_from_c, step.valid_to_c)


def _checked(step: StepView) -> StepView:
    """The step if its figures can be so; the pure rules of the bench refuse what can't."""
    if not step.name:
        raise InvalidInput(f"Step {step.position} needs a name, such as developer, stop or wash.")
    try:
        temperature_rule(step)
        if len(step.temperature_table) == 1:
            raise InvalidInput("a table of times by temperature has two lines or more.")
        for celsius, _ in step.temperature_table:
            checked_celsius(celsius)
        if step.valid_from_c is not None and step.valid_to_c is not None and step.valid_from_c >= step.valid_to_c:
            raise InvalidInput(
                f"a range goes from the cooler to the warmer, not from {temperature_words(step.valid_from_c)} to "
                f"{temperature_words(step.valid_to_c)}."
            )
        for (cold, slow), (warm, quick) in zip(step.temperature_table, step.temperature_table[1:], strict=False):
            if warm <= cold or quick >= slow:
                raise InvalidInput(
                    f"the warmer, the shorter: {format_time(quick)} at {temperature_words(warm)} doesn't follow "
                    f"{format_time(slow)} at {temperature_words(cold)}."
                )
        if step.push_table:
            PushTable(step.push_table)
        if step.push_factor is not None and not 1 < step.push_factor <= 3:
            raise InvalidInput(f"a factor for one stop lies over 1 and up to 3, not {step.push_factor:g}.")
        if step.use_table:
            UseTable(step.use_table)
    except InvalidInput as problem:
        raise InvalidInput(f"{step.name}: {problem}") from problem
    if step.every_s and not 0 < step.for_s <= step.every_s:
        raise InvalidInput(
            f"{step.name}: every {step.every_s} s for {step.for_s} s can't be. Turn over for 1 to {step.every_s} s each time."
        )
    if step.solution != "water" and not step.chemical:
        raise InvalidInput(f"{step.name}: name the chemical, so that a bottle of it can be chosen, or say it is water.")
    if (step.temperature_table or step.per_degree or step.push_table or step.push_factor) and not step.seconds:
        raise InvalidInput(f"{step.name}: give the normal time that the tables and factors start from.")
    if step.per_degree and step.temperature_c is None:
        raise InvalidInput(f"{step.name}: give the temperature that the normal time is meant for.")
    return step


def checked_step(session: Session, typed: StepInput, position: int) -> StepView:
    """A step as it would be kept; nothing is written. Raises `AmbiguousRatio` and `InvalidInput`."""
    values: dict[str, Any] = typed.model_dump(exclude=set(_TABLES))
    values |= {name: value.strip() for name, value in values.items() if isinstance(value, str)}
    if values["dilution"]:
        values["dilution"] = parse_dilution(values["dilution"], colon_means(session)).text
    values |= {name: tuple(sorted(getattr(typed, name))) for name in _TABLES}
    return _checked(StepView(position=position, **values))


def save_recipe(session: Session, given: RecipeInput, recipe_id: int | None = None) -> RecipeView:
    """Keeps a recipe, new or in place of its former wording; sessions keep the steps they were planned with.

    Raises `AlreadyExists` for a name in use, `AmbiguousRatio` for a colon not asked about yet, `InvalidInput`, `NotFound`.
    """
    name = " ".join(given.name.split())
    if not name:
        raise InvalidInput("A recipe needs a name, for example Quill 400 in Quartz 1+9.")
    steps = [checked_step(session, typed, position) for position, typed in enumerate(given.steps, 1)]
    other = session.exec(select(Recipe).where(func.lower(Recipe.name) == name.lower(), Recipe.id != recipe_id)).first()
    if other is not None:
        raise AlreadyExists(f"There is a recipe {other.name} already. Give this one another name, or change that one.")
    with session.begin_nested():
        row = recipe_row(session, recipe_id) if recipe_id is not None else Recipe(name=name, created_at=now())
        row.name, row.process, row.source, row.notes = name, given.process.strip(), given.source.strip(), given.notes.strip()
        session.add(row)
        session.flush()
        _rub_out_steps(session, row.id or 0)
        for step in steps:
            kept = RecipeStep(
                recipe_id=row.id or 0,
                **{n: getattr(step, n) for n in StepView.__dataclass_fields__ if n not in _TABLES},
            )
            session.add(kept)
            session.flush()
            for table, kind in _TABLES.items():
                session.add_all(
                    RecipePoint(step_id=kept.id or 0, kind=kind, at=at, seconds=seconds) for at, seconds in getattr(step, table)
                )
        session.flush()
    return recipe_view(session, row.id or 0)


def _rub_out_steps(session: Session, recipe_id: int) -> None:
    for step in session.exec(select(RecipeStep).where(RecipeStep.recipe_id == recipe_id)).all():
        for point in session.exec(select(RecipePoint).where(RecipePoint.step_id == step.id)).all():
            session.delete(point)
        session.flush()
        session.delete(step)
    session.flush()


def recipe_as_typed(recipe: RecipeView) -> RecipeInput:
    """A recipe as it could be typed anew, to change or to copy."""
    steps = [StepInput.model_validate({n: getattr(step, n) for n in StepInput.model_fields}) for step in recipe.steps]
    return RecipeInput(name=recipe.name, process=recipe.process, source=recipe.source, notes=recipe.notes, steps=steps)


def put_away_recipe(session: Session, recipe_id: int, put_away: bool = True) -> RecipeView:
    """Takes a recipe out of the lists, or back in; nothing is lost."""
    recipe_row(session, recipe_id).put_away = put_away
    session.flush()
    return recipe_view(session, recipe_id)


def recipe_row(session: Session, recipe_id: int) -> Recipe:
    """The recipe; raises `NotFound`."""
    found = session.get(Recipe, recipe_id)
    if found is None:
        raise NotFound(f"There is no recipe {recipe_id}. Look under Recipes.")
    return found


def recipe_view(session: Session, recipe_id: int) -> RecipeView:
    """A recipe with its steps; raises `NotFound`."""
    row = recipe_row(session, recipe_id)
    steps = session.exec(select(RecipeStep).where(RecipeStep.recipe_id == recipe_id).order_by(col(RecipeStep.position))).all()
    points = session.exec(
        select(RecipePoint).where(col(RecipePoint.step_id).in_([s.id for s in steps])).order_by(col(RecipePoint.at))
    ).all()

    def table(step: RecipeStep, kind: str) -> tuple[tuple[Any, int], ...]:
        whole = kind == "rolls done"
        return tuple((int(p.at) if whole else p.at, p.seconds) for p in points if p.step_id == step.id and p.kind == kind)

    views = []
    for step in steps:
        values: dict[str, Any] = step.model_dump(exclude={"id", "recipe_id"})
        values |= {name: table(step, kind) for name, kind in _TABLES.items()}
        views.append(StepView(**values))
    return RecipeView(recipe_id, row.name, row.process, row.source, row.notes, row.put_away, tuple(views))


def list_recipes(session: Session, *, all_of_them: bool = False) -> tuple[RecipeView, ...]:
    """Recipes by name, those put away only where asked for."""
    query = select(Recipe.id).order_by(func.lower(Recipe.name))
    if not all_of_them:
        query = query.where(col(Recipe.put_away).is_(False))
    return tuple(recipe_view(session, key or 0) for key in session.exec(query))


def is_black_and_white(process: str) -> bool:
    """Whether the process, as the person words it, is black-and-white."""
    plain = process.casefold().replace("&", "and").replace("-", " ")
    return "black" in plain or plain.split() in (["bw"], ["b", "and", "w"], ["bandw"])


_KINDS = {"developer": "developer", "bleach": "bleach", "fix": "fix", "wash": "wash", "rinse": "wetting agent"}


def standard_start(process: str) -> RecipeInput:
    """What a standard process defines, as a recipe to complete from the maker's sheet; raises `NotFound`."""
    standard = standard_process(process)
    steps = []
    for step in standard.steps:
        kind = next((kind for word, kind in _KINDS.items() if word in step.name), "own")
        kind = "own" if step.name in ("pre-bleach", "reversal bath") else "wash" if "wash" in step.name else kind
        middle = None if step.low is None or step.high is None else round((step.low + step.high) / 2, 2)
        around = None if step.low is None or step.high is None else round((step.high - step.low) / 2, 2)
        values: dict[str, Any] = {
            "kind": kind, "name": step.name, "seconds": round(step.seconds) if step.seconds else None,
            "temperature_c": step.celsius if step.celsius is not None else middle, "tolerance_c": around,
            "solution": "water" if kind == "wash" else "bath", "chemical": "" if kind == "wash" else step.name,
            "notes": " ".join(t for t in (f"Source: {step.source}.", step.note) if t),
        }  # fmt: skip
        steps.append(StepInput.model_validate(values))
    return RecipeInput(name=standard.name, process=standard.name, notes=" ".join(standard.notes), steps=steps)
