"""Recipes: their list, each as a sheet to read at the sink, and the form that keeps them."""

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from api.dependencies import ArchiveHere, TypedForm
from api.web.bench.recipe_form import EMPTY, TypedRecipe, read_steps, rearranged, recipe_from, texts_of, typed_recipe
from api.web.rendering import page
from catalogue.bench.recipes import (
    STEP_KINDS,
    checked_step,
    list_recipes,
    put_away_recipe,
    recipe_as_typed,
    recipe_view,
    save_recipe,
    set_colon_means,
    standard_start,
)
from catalogue.bench.rules.dilution import AmbiguousRatio, Dilution
from catalogue.bench.rules.figures import format_time, time_words, volume_words
from catalogue.bench.rules.times.standard_process import STANDARD_PROCESSES
from catalogue.bench.sink.recipe_words import (
    agitation_words,
    cautions_of,
    rule_words,
    solution_words,
    step_tables,
    step_temperature_words,
)
from catalogue.errors import StripleafError
from catalogue.settings import get_units
from catalogue.store.engine import Archive
from catalogue.units import Units

router = APIRouter(prefix="/bench")

KIND_WORDS = {
    "water": "water, to soak or rinse", "blix": "blix, bleach and fix in one", "own": "something else",
}  # fmt: skip
SOLUTION_WORDS = {"water": "water", "one-shot": "a mix used once", "bath": "a bath used again"}
_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def colon_choices(ratio: AmbiguousRatio) -> tuple[tuple[str, str], tuple[str, str]]:
    """Both readings of a ratio with a colon, each as what is remembered and what its button says."""

    def number(figure: float) -> str:
        return _SMALL[int(figure)] if figure in range(len(_SMALL)) else f"{figure:.10g}"

    def said(made: Dilution, plain: str) -> str:
        return f"{made.text}: {plain}" if len(made.concentrates) == 1 else f"{made.text}: {made.words()}"

    one, parts = ratio.plus.concentrates[0], "part" if ratio.plus.concentrates[0] == 1 else "parts"
    return (
        ("plus", said(ratio.plus, f"{number(one)} {parts} and {number(ratio.plus.water)} more")),
        ("in all", said(ratio.in_all, f"{number(one)} {parts} in {number(ratio.plus.water)}")),
    )


@router.get("/recipes")
def recipes(request: Request, archive: ArchiveHere) -> Response:
    """All recipes, and what a new one may start from."""
    with archive.session(reading=True) as session:
        known = list_recipes(session, all_of_them=True)
    return page(
        request, "recipes.html", recipes=[r for r in known if not r.put_away], away=[r for r in known if r.put_away],
        standard=tuple(STANDARD_PROCESSES),
    )  # fmt: skip


@router.get("/recipes/new")
def new(request: Request, archive: ArchiveHere, start: str = "", copy: int | None = None) -> Response:
    """The form: empty, from a standard process, or filled with another recipe."""
    with archive.session(reading=True) as session:
        units = get_units(session)
        if copy is not None:
            given = recipe_as_typed(recipe_view(session, copy))
            given = given.model_copy(update={"name": f"{given.name}, copy"[:120]})
        else:
            given = standard_start(start) if start else EMPTY
    return _form(request, texts_of(given, units), units)


@router.post("/recipes/new")
def keep_new(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps a new recipe, or moves the form's steps about."""
    return _posted(request, archive, form)


@router.get("/recipes/{recipe_id}")
def sheet(request: Request, archive: ArchiveHere, recipe_id: int, kept: bool = False) -> Response:
    """A recipe to read at arm's length."""
    with archive.session(reading=True) as session:
        recipe, units = recipe_view(session, recipe_id), get_units(session)
    words = [
        {
            "agitation": agitation_words(step), "temperature": step_temperature_words(step, units.temperature),
            "solution": solution_words(step), "rule": rule_words(step, units.temperature),
            "tables": step_tables(step, units.temperature),
            "least": volume_words(step.least_ml, units.volume) if step.least_ml else "",
        }
        for step in recipe.steps
    ]  # fmt: skip
    return page(
        request, "recipe.html", recipe=recipe, steps=list(zip(recipe.steps, words, strict=True)), units=units, kept=kept,
        cautions=cautions_of(recipe), clock=format_time, whole=time_words(sum(s.seconds or 0 for s in recipe.steps)),
    )  # fmt: skip


@router.get("/recipes/{recipe_id}/edit")
def edit(request: Request, archive: ArchiveHere, recipe_id: int) -> Response:
    """The form, filled with the recipe."""
    with archive.session(reading=True) as session:
        units = get_units(session)
        given = recipe_as_typed(recipe_view(session, recipe_id))
    return _form(request, texts_of(given, units), units, recipe_id)


@router.post("/recipes/{recipe_id}/edit")
def keep(request: Request, archive: ArchiveHere, recipe_id: int, form: TypedForm) -> Response:
    """Keeps the recipe's new wording, or moves the form's steps about."""
    return _posted(request, archive, form, recipe_id)


@router.post("/recipes/{recipe_id}/put-away")
def put_away(archive: ArchiveHere, recipe_id: int, form: TypedForm) -> Response:
    """Takes the recipe out of the list, or back in."""
    with archive.session() as session:
        put_away_recipe(session, recipe_id, form.get("to") != "back")
    return RedirectResponse("/bench/recipes", status_code=303)


def _posted(request: Request, archive: Archive, form: dict[str, str], recipe_id: int | None = None) -> Response:
    do = form.get("do", "keep")
    typed = typed_recipe(form)
    with archive.session(reading=True) as session:
        units = get_units(session)
        if recipe_id is not None:
            recipe_view(session, recipe_id)
    if rearranged(typed, do):
        return _form(request, typed, units, recipe_id)
    if do.startswith("read as "):
        with archive.session() as session:
            set_colon_means(session, do.removeprefix("read as "))
    steps = read_steps(typed, units)
    asked: AmbiguousRatio | None = None
    with archive.session(reading=True) as session:
        for position, step in enumerate(steps, 1):
            try:
                if step is not None:
                    checked_step(session, step, position)
            except AmbiguousRatio as problem:
                asked = asked or problem
                typed.troubles[position] = str(problem)
            except StripleafError as problem:
                typed.troubles[position] = str(problem)
    try:
        given = recipe_from(typed, [step for step in steps if step is not None] or EMPTY.steps)
        if not typed.troubles:
            with archive.session() as session:
                kept = save_recipe(session, given, recipe_id).id
            return RedirectResponse(f"/bench/recipes/{kept}?kept=true", status_code=303)
    except StripleafError as problem:
        typed.troubles[0] = str(problem)
    return _form(request, typed, units, recipe_id, asked)


def _form(
    request: Request, typed: TypedRecipe, units: Units, recipe_id: int | None = None, asked: AmbiguousRatio | None = None
) -> Response:
    return page(
        request, "recipe_form.html", status=422 if typed.troubles else 200, typed=typed, units=units, recipe_id=recipe_id,
        kinds=[(k, KIND_WORDS.get(k, k)) for k in STEP_KINDS], solutions=SOLUTION_WORDS, asked=asked,
        choices=colon_choices(asked) if asked else (), action=request.url.path,
    )  # fmt: skip
