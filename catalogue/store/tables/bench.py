"""Tables of the bench: film that waits, recipes, bottles with their ledger, and sessions at the sink.

Temperatures in °C, times in seconds, volumes in ml. As in `tables.py`, rules that must hold are constraints.
"""

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

FILM_STATES = ("loaded", "exposed", "processed", "sleeved")
STEP_KINDS = ("developer", "water", "stop", "bleach", "fix", "blix", "wash", "wetting agent", "own")
SOLUTIONS = ("water", "one-shot", "bath")
POINT_KINDS = ("temperature", "push", "rolls done")
OPEN_STATES = ("planned", "under way", "hanging")
SESSION_STATES = (*OPEN_STATES, "done", "given up")
FACTS = ("begun", "ended", "temperature", "note", "skipped")


def _check(rule: str, name: str) -> CheckConstraint:
    return CheckConstraint(rule, name=name)


def _one_of(column: str, values: tuple[str, ...]) -> str:
    return f"{column} IN ({', '.join(repr(v) for v in values)})"


class StockFacts(SQLModel, table=True):
    """What the person knows of a film stock; `weight` says how much more it tires a bath than the usual."""

    __tablename__ = "stock_facts"
    __table_args__ = (_check("trim(stock) <> ''", "stock"), _check("speed > 0 AND weight BETWEEN 0.25 AND 4", "figures"))
    stock: str = Field(primary_key=True)
    process: str = ""
    speed: float | None = None
    weight: float = 1.0
    price: str = ""
    """What a roll costs, a decimal number as text in the archive's own currency."""
    notes: str = ""


class WaitingRoll(SQLModel, table=True):
    """What is known of a roll before it is sleeved: loaded in a camera, exposed, or processed and drying."""

    __tablename__ = "waiting_roll"
    __table_args__ = (
        _check(_one_of("state", FILM_STATES), "state"),
        _check("exposure_index > 0 AND push_stops BETWEEN -5 AND 5 AND frames_expected BETWEEN 1 AND 400", "figures"),
    )
    roll_id: int = Field(foreign_key="roll.id", primary_key=True)
    state: str = Field(default="exposed", index=True)
    loaded_on: str = ""
    finished_on: str = ""
    exposure_index: float | None = None
    push_stops: float = 0.0
    """Development beyond the normal that is wanted, in stops; set apart from the exposure index."""
    frames_expected: int | None = None
    cassette_code: str = ""
    recipe_id: int | None = Field(default=None, foreign_key="recipe.id", index=True)
    remarks: str = ""


class Recipe(SQLModel, table=True):
    """How a film is processed, as the person typed it from the maker's sheet."""

    __table_args__ = (_check("trim(name) <> ''", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    process: str = ""
    source: str = ""
    """Where the person read it."""
    notes: str = ""
    put_away: bool = False
    created_at: str


class RecipeStep(SQLModel, table=True):
    """A step of a recipe. `per_degree` is k in t = t₀ · exp(−k (T − T₀)), valid from `valid_from_c` to `valid_to_c`."""

    __tablename__ = "recipe_step"
    __table_args__ = (
        UniqueConstraint("recipe_id", "position"),
        _check("position >= 1 AND trim(name) <> ''", "position"),
        _check(_one_of("kind", STEP_KINDS), "kind"),
        _check(_one_of("solution", SOLUTIONS), "solution"),
        _check("seconds > 0 AND temperature_c BETWEEN 0 AND 60 AND tolerance_c >= 0", "measures"),
        _check("first_s >= 0 AND every_s >= 0 AND for_s >= 0 AND least_ml >= 0", "agitation"),
        _check("per_degree > 0 AND valid_from_c < valid_to_c AND push_factor > 1", "formula"),
    )
    id: int | None = Field(default=None, primary_key=True)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    position: int
    kind: str = "own"
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
    least_ml: float = 0.0
    """Concentrate that one roll needs at the least, in ml."""
    per_degree: float | None = None
    valid_from_c: float | None = None
    valid_to_c: float | None = None
    push_factor: float | None = None
    """The time of a push by one stop over the normal time, where there is no table."""
    notes: str = ""


class RecipePoint(SQLModel, table=True):
    """A line of the maker's table: `seconds` at a temperature in °C, at a push in stops, or from so many rolls done."""

    __tablename__ = "recipe_point"
    __table_args__ = (
        UniqueConstraint("step_id", "kind", "at"),
        _check(_one_of("kind", POINT_KINDS), "kind"),
        _check("seconds > 0", "seconds"),
    )
    id: int | None = Field(default=None, primary_key=True)
    step_id: int = Field(foreign_key="recipe_step.id", index=True)
    kind: str
    at: float
    seconds: int


class Bottle(SQLModel, table=True):
    """A storage bottle; what it held first is what it holds for ever, unless a word is said about it."""

    __table_args__ = (_check("trim(name) <> '' AND holds_ml > 0", "bottle"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    holds_ml: float
    notes: str = ""
    thrown_away: bool = False


class BottleEvent(SQLModel, table=True):
    """A line of a bottle's ledger, never changed: what happened, when, and its figures as JSON."""

    __tablename__ = "bottle_event"
    __table_args__ = (UniqueConstraint("bottle_id", "position"), _check("position >= 1 AND trim(kind) <> ''", "line"))
    id: int | None = Field(default=None, primary_key=True)
    bottle_id: int = Field(foreign_key="bottle.id", index=True)
    position: int
    kind: str
    at: str
    data: str = "{}"
    session_id: int | None = Field(default=None, foreign_key="tank_session.id", index=True)


class FillingPrice(SQLModel, table=True):
    """What a filling cost, by the line of the bottle's ledger that wrote it; a decimal number in the archive's own currency."""

    __tablename__ = "filling_price"
    __table_args__ = (_check("entry >= 1 AND trim(price) <> ''", "price"),)
    bottle_id: int = Field(foreign_key="bottle.id", primary_key=True)
    entry: int = Field(primary_key=True)
    price: str


class Tank(SQLModel, table=True):
    """A developing tank: what it holds, and how many 135 reels are as high as it is."""

    __table_args__ = (
        _check("trim(name) <> ''", "name"),
        _check("holds_ml > 0 AND reels_135 BETWEEN 1 AND 20 AND least_ml >= 0 AND least_ml <= holds_ml", "measures"),
    )
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    holds_ml: float
    reels_135: int = 2
    least_ml: float = 0.0


class TankSession(SQLModel, table=True):
    """One tank's work at the sink; `steps` are those planned, as JSON, so that a recipe may change afterwards."""

    __tablename__ = "tank_session"
    __table_args__ = (
        _check(_one_of("state", SESSION_STATES), "state"),
        _check("volume_ml > 0", "volume"),
    )
    id: int | None = Field(default=None, primary_key=True)
    recipe_id: int | None = Field(default=None, foreign_key="recipe.id", index=True)
    tank_id: int | None = Field(default=None, foreign_key="tank.id")
    title: str = ""
    steps: str = "[]"
    state: str = Field(default="planned", index=True)
    volume_ml: float | None = None
    planned_at: str
    begun_at: str = ""
    ended_at: str = ""
    done_by: str = ""
    notes: str = ""


class TankRoll(SQLModel, table=True):
    """A roll in a session: its reel (1 is the lowest) and, at the rail, its clip; and how it was told after drying."""

    __tablename__ = "tank_roll"
    __table_args__ = (_check("reel BETWEEN 1 AND 20 AND clip BETWEEN 1 AND 99", "places"),)
    session_id: int = Field(foreign_key="tank_session.id", primary_key=True)
    roll_id: int = Field(foreign_key="roll.id", primary_key=True, index=True)
    reel: int
    clip: int | None = None
    told_by: str = ""
    """The facts that told which roll it is, as a sentence; empty until somebody looked."""


class TankFact(SQLModel, table=True):
    """What really happened at the sink; `key` is the device's own, so that a fact sent twice is kept once."""

    __tablename__ = "tank_fact"
    __table_args__ = (
        UniqueConstraint("session_id", "key"),
        _check(_one_of("what", FACTS), "what"),
        _check("step >= 1", "step"),
    )
    id: int | None = Field(default=None, primary_key=True)
    session_id: int = Field(foreign_key="tank_session.id", index=True)
    key: str
    step: int
    what: str
    at: str
    value: str = ""
    taken_back: bool = False
