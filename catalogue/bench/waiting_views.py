"""Frozen read models of the bench: film that waits."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field


@dataclass(frozen=True)
class WaitingView:
    """A roll before it is sleeved; `state` is loaded, exposed or processed.

    Dates are EDTF texts; `since` is the first day it may wait from, or None. The key and the gauge are no part of JSON.
    """

    roll_id: Annotated[int, Field(exclude=True)]
    number: str
    state: str
    format_key: str
    format_name: str
    gauge: Annotated[str, Field(exclude=True)]
    stock: str
    camera: str
    lens: str
    exposed: str
    loaded_on: str
    finished_on: str
    since: str | None
    exposure_index: float | None
    stock_speed: float | None
    push_stops: float
    frames_expected: int | None
    cassette_code: str
    recipe_id: int | None
    recipe: str
    subject: str
    place: str
    remarks: str


@dataclass(frozen=True)
class StepView:
    """A step of a recipe: times in s, temperatures in °C. Tables are pairs in rising order.

    `temperature_table` (°C, s), `push_table` (stops, s), `use_table` (up to so many rolls, s); empty where there is none.
    """

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
    least_ml: float = 0.0
    per_degree: float | None = None
    valid_from_c: float | None = None
    valid_to_c: float | None = None
    push_factor: float | None = None
    notes: str = ""
    temperature_table: tuple[tuple[float, int], ...] = ()
    push_table: tuple[tuple[float, int], ...] = ()
    use_table: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class RecipeView:
    """A recipe with its steps in order."""

    id: int
    name: str
    process: str
    source: str
    notes: str
    put_away: bool
    steps: tuple[StepView, ...]

    @property
    def developer(self) -> StepView | None:
        """The step that develops: the first of its kind."""
        return next((s for s in self.steps if s.kind == "developer"), None)
