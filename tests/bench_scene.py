"""A bench for tests: a recipe with a used developer and fixer, two bottles, a tank, and rolls that wait."""

from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from catalogue.bench.bottles.shelf import add_bottle, write_entry
from catalogue.bench.recipes import RecipeInput, StepInput, save_recipe
from catalogue.bench.rules.baths.entries import BathFacts, Filled
from catalogue.bench.tanks import add_tank
from catalogue.bench.waiting import NewWaiting, note_roll

TODAY = date.today()


@dataclass(frozen=True)
class Bench:
    """The numbers of what was set up."""

    recipe: int
    tank: int
    developer: int
    fixer: int
    rolls: tuple[str, ...]


def colour_recipe() -> RecipeInput:
    """An invented kit: developer 3:15 at 37.8 °C and longer as it is used, water, fix, wash."""
    return RecipeInput(
        name="Kit K, colour",
        process="C-41",
        steps=[
            StepInput(
                kind="developer", name="developer", seconds=195, temperature_c=37.8, tolerance_c=0.15, solution="bath",
                chemical="Kit K developer", use_table=[(4, 195), (8, 205), (16, 225)], first_s=30, every_s=30, for_s=5,
                push_table=[(0, 195), (1, 225)],
            ),
            StepInput(kind="water", name="rinse", seconds=30),
            StepInput(kind="fix", name="fix", seconds=390, solution="bath", chemical="Kit K fixer"),
            StepInput(kind="wash", name="wash", seconds=195),
        ],
    )  # fmt: skip


def set_up(session: Session, rolls: int = 2, capacity: int = 16, tank: str = "Two-reel tank", **film: object) -> Bench:
    """Everything that a session needs; bottles of 1000 ml filled with 950 ml, a tank of two reels."""
    recipe = save_recipe(session, colour_recipe())
    bottles = []
    for name, chemical in (("Brown 1", "Kit K developer"), ("Brown 2", "Kit K fixer")):
        bottle = add_bottle(session, name, 1000)
        bath = BathFacts(chemical, 950, TODAY - timedelta(3), capacity=capacity)
        write_entry(session, bottle.id, Filled(on=TODAY - timedelta(3), bath=bath))
        bottles.append(bottle.id)
    held = add_tank(session, tank, 2, 650)
    facts = {"frames_expected": 36, "stock": "Hazelgrain 200", **film}
    numbers = tuple(note_roll(session, NewWaiting.model_validate(facts)).number for _ in range(rolls))
    return Bench(recipe.id, held.id, *bottles, numbers)
