"""Recipes, tanks, and the two sums of the sink that a person does most: a step's time and a dilution."""

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.bench.recipes import (
    RecipeInput,
    StepInput,
    colon_means,
    list_recipes,
    put_away_recipe,
    recipe_as_typed,
    recipe_view,
    save_recipe,
    set_colon_means,
    standard_start,
)
from catalogue.bench.reckoning import recipe_time
from catalogue.bench.rules.dilution import parse as parse_dilution
from catalogue.bench.rules.figures import parse_volume
from catalogue.bench.sink.sink_views import TankView
from catalogue.bench.sink.tonights_times import StepTime
from catalogue.bench.tanks import add_tank, list_tanks
from catalogue.bench.waiting_views import RecipeView
from catalogue.settings import get_units

router = APIRouter(responses=PROBLEMS, tags=["bench"])


class RecipeOut(BaseModel):
    """A recipe; times in s, temperatures in °C, steps in order."""

    id: int
    put_away: bool
    name: str
    process: str
    source: str
    notes: str
    steps: list[StepInput]

    @classmethod
    def of(cls, view: RecipeView) -> "RecipeOut":
        """From the read model."""
        typed = recipe_as_typed(view)
        return cls(
            id=view.id, put_away=view.put_away, name=typed.name, process=typed.process, source=typed.source,
            notes=typed.notes, steps=typed.steps,
        )  # fmt: skip


class PutAway(BaseModel):
    """Whether a recipe is out of the lists."""

    model_config = ConfigDict(extra="forbid")
    put_away: bool = True


class TimeRequest(BaseModel):
    """The bath as it is tonight; without `step` the recipe's developer is meant. Rolls count by area, a 135-36 as 1."""

    model_config = ConfigDict(extra="forbid")
    step: int | None = Field(default=None, ge=1, le=40)
    temperature_c: float | None = Field(default=None, ge=0, le=60, examples=[24])
    push_stops: float = Field(default=0.0, ge=-6, le=6)
    rolls_done: float = Field(default=0.0, ge=0, le=1000)
    rolls_now: float = Field(default=1.0, gt=0, le=1000)


class TankIn(BaseModel):
    """A tank by what it holds, in ml; without `least_ml` what covers one 135 reel."""

    model_config = ConfigDict(extra="forbid")
    name: str = Field(max_length=60, examples=["Two-reel tank"])
    reels_135: int = Field(default=2, ge=1, le=20)
    holds_ml: float = Field(gt=0, le=50_000, examples=[660])
    least_ml: float | None = Field(default=None, gt=0, le=50_000)


class DilutionRequest(BaseModel):
    """A dilution and a volume as a person writes them; a volume without a unit is in the unit set for the archive."""

    model_config = ConfigDict(extra="forbid")
    text: str = Field(max_length=60, examples=["1+9"])
    volume: str = Field(max_length=60, examples=["600 ml"])


class DilutionOut(BaseModel):
    """What to measure out, in ml, as a cylinder can show it; `exact_ml` before rounding, concentrates first, water last."""

    dilution: str
    volume_ml: float
    concentrates_ml: list[float]
    water_ml: float
    exact_ml: list[float]
    words: str


class ColonMeansIO(BaseModel):
    """How "1:9" is read: "plus" as 1+9, "in all" as one in nine; null where nobody was asked yet."""

    model_config = ConfigDict(extra="forbid")
    means: Literal["plus", "in all"] | None


@router.get("/recipes")
def listed(archive: ArchiveHere, put_away_too: bool = False) -> list[RecipeOut]:
    """Recipes by name; those put away only where asked for."""
    with archive.session(reading=True) as session:
        return [RecipeOut.of(r) for r in list_recipes(session, all_of_them=put_away_too)]


@router.post("/recipes", status_code=201)
def create(given: RecipeInput, archive: ArchiveHere) -> RecipeOut:
    """Keeps a new recipe."""
    with archive.session() as session:
        return RecipeOut.of(save_recipe(session, given))


@router.get("/recipes/standard/{process}")
def start(process: str) -> RecipeInput:
    """What a standard process (C-41, E-6, black-and-white) defines, to complete from the maker's sheet and keep."""
    return standard_start(process)


@router.get("/recipes/{recipe_id}")
def one(recipe_id: int, archive: ArchiveHere) -> RecipeOut:
    """One recipe."""
    with archive.session(reading=True) as session:
        return RecipeOut.of(recipe_view(session, recipe_id))


@router.put("/recipes/{recipe_id}")
def replace(recipe_id: int, given: RecipeInput, archive: ArchiveHere) -> RecipeOut:
    """Puts another wording in place of the former one; sessions planned before keep theirs."""
    with archive.session() as session:
        return RecipeOut.of(save_recipe(session, given, recipe_id))


@router.put("/recipes/{recipe_id}/put-away")
def put_away(recipe_id: int, given: PutAway, archive: ArchiveHere) -> RecipeOut:
    """Takes a recipe out of the lists, or back in."""
    with archive.session() as session:
        return RecipeOut.of(put_away_recipe(session, recipe_id, given.put_away))


@router.post("/recipes/{recipe_id}/time")
def time(recipe_id: int, given: TimeRequest, archive: ArchiveHere) -> StepTime:
    """How long a step takes tonight, by the recipe's own tables."""
    with archive.session(reading=True) as session:
        return recipe_time(
            recipe_view(session, recipe_id), given.step, temperature_c=given.temperature_c, push_stops=given.push_stops,
            rolls_done=given.rolls_done, rolls_now=given.rolls_now, unit=get_units(session).temperature,
        )  # fmt: skip


@router.get("/tanks")
def tanks(archive: ArchiveHere) -> list[TankView]:
    """All tanks by name."""
    with archive.session(reading=True) as session:
        return list(list_tanks(session))


@router.post("/tanks", status_code=201)
def new_tank(given: TankIn, archive: ArchiveHere) -> TankView:
    """Adds a tank by its measures."""
    with archive.session() as session:
        return add_tank(session, given.name, given.reels_135, given.holds_ml, given.least_ml)


@router.post("/dilution")
def dilution(given: DilutionRequest, archive: ArchiveHere) -> DilutionOut:
    """What makes a volume of a dilution; a colon nobody was asked about is refused with both its meanings."""
    with archive.session(reading=True) as session:
        means, unit = colon_means(session), get_units(session).volume
    made, ml = parse_dilution(given.text, means), parse_volume(given.volume, unit)
    exact, shown = made.amounts(ml), made.measured(ml)
    return DilutionOut(
        dilution=made.text, volume_ml=ml, concentrates_ml=list(shown.concentrates), water_ml=shown.water,
        exact_ml=[*exact.concentrates, exact.water], words=shown.words(unit),
    )  # fmt: skip


@router.get("/colon")
def colon(archive: ArchiveHere) -> ColonMeansIO:
    """How a colon is read here."""
    with archive.session(reading=True) as session:
        return ColonMeansIO(means=colon_means(session))


@router.post("/colon")
def remember_colon(given: ColonMeansIO, archive: ArchiveHere) -> ColonMeansIO:
    """Remembers how a colon is read."""
    with archive.session() as session:
        set_colon_means(session, given.means or "")
        return ColonMeansIO(means=colon_means(session))
