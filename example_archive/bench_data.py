"""What stands at the household's sink: two recipes with invented developers, and two tanks."""

from sqlmodel import Session

from catalogue.bench.recipes import RecipeInput, StepInput, list_recipes, save_recipe, standard_start
from catalogue.bench.tanks import add_tank
from catalogue.bench.waiting import NewWaiting, note_roll

ONE_SHOT = RecipeInput(
    name="Corvane 400 in Alderine 1+9",
    process="black-and-white",
    source="Alderine data sheet of 2030 (invented)",
    notes="The household's everyday black-and-white.",
    steps=[
        StepInput(
            kind="developer", name="developer", seconds=570, temperature_c=20, tolerance_c=0.5, first_s=30, every_s=60, for_s=5,
            solution="one-shot", chemical="Alderine", dilution="1+9", least_ml=25,
            temperature_table=[(18, 672), (20, 570), (22, 485), (24, 412)], push_table=[(-1, 440), (0, 570), (1, 735), (2, 950)],
            notes="Knock the tank on the sink once after each turn, so that no bubble clings.",
        ),
        StepInput(
            kind="stop", name="stop", seconds=60, temperature_c=20, tolerance_c=2, solution="bath", chemical="Brackwater stop",
            dilution="1+19", agitation="Turn over without a pause.",
        ),
        StepInput(
            kind="fix", name="fix", seconds=300, temperature_c=20, tolerance_c=2, first_s=30, every_s=60, for_s=10,
            solution="bath", chemical="Brackwater fix", dilution="1+4",
            notes="Twice the time that a scrap takes to clear, whatever stands here.",
        ),
        StepInput(kind="wash", name="wash", seconds=600, temperature_c=20, tolerance_c=5, agitation="Change the water 10 times."),
        StepInput(
            kind="wetting agent", name="wetting agent", seconds=60, solution="one-shot", chemical="Brackwater glide",
            dilution="1+200", agitation="Don't turn over; lift the reel out slowly.",
        ),
    ],
)  # fmt: skip

KIT_ROWS = [(4, 195), (8, 210), (12, 225), (16, 245)]
"""Rolls done and seconds, as the invented kit's sheet has them."""


def colour_kit() -> RecipeInput:
    """The C-41 process as it is defined, with the invented kit's own table for baths used again."""
    start = standard_start("C-41")
    kit = {"developer": "Marlpit kit, developer", "bleach": "Marlpit kit, bleach", "fix": "Marlpit kit, fix"}
    steps = [
        step.model_copy(update={"chemical": kit.get(step.name, "Marlpit kit, rinse") if step.solution == "bath" else ""})
        for step in start.steps
    ]
    steps[0] = steps[0].model_copy(update={"use_table": KIT_ROWS, "first_s": 10, "every_s": 30, "for_s": 5})
    return start.model_copy(update={"name": "C-41, Marlpit kit", "source": "Marlpit kit leaflet (invented)", "steps": steps})


def note_waiting(session: Session) -> None:
    """Rolls before they are sleeved: two that share a tank, one that doesn't, and one in its camera."""
    recipes = {recipe.process: recipe.id for recipe in list_recipes(session)}
    for number, facts in WAITING.items():
        process = "C-41" if facts["stock"] == "Saffrane 200" else "black-and-white"
        note_roll(session, NewWaiting.model_validate({"number": number, "recipe_id": recipes.get(process), **facts}))


WAITING: dict[str, dict[str, object]] = {
    "2031-016": {
        "stock": "Saffrane 200", "camera": "Tellaro R2", "cassette_code": "012714", "frames_expected": 36,
        "finished_on": "2031-07-02", "subject": "Regatta",
    },
    "2031-017": {
        "stock": "Saffrane 200", "camera": "Tellaro R2", "frames_expected": 24, "finished_on": "2031-08~",
        "subject": "Garden in August",
    },
    "2031-018": {
        "stock": "Corvane 400", "camera": "Kastorel Twin", "format": "120-6x6", "frames_expected": 12, "exposure_index": 800,
        "push_stops": 1, "finished_on": "2031-08-30", "subject": "Lantern night",
    },
    "2031-019": {"stock": "Saffrane 200", "camera": "Tellaro R2", "state": "loaded", "loaded_on": "2031-09-06"},
}  # fmt: skip
"""Roll numbers and what is noted of them; two share a tank, one is pushed, one is loaded."""


def fill_bench(session: Session) -> None:
    """Writes the recipes and the tanks through the catalogue's own operations."""
    save_recipe(session, ONE_SHOT)
    save_recipe(session, colour_kit())
    add_tank(session, "Two-reel tank", 2, 660)
    add_tank(session, "Five-reel tank", 5, 1700, 350)
