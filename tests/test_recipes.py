"""Recipes as typed from a maker's sheet, and the time a step takes tonight."""

import pytest
from sqlmodel import Session

from catalogue.bench.recipes import (
    RecipeInput,
    StepInput,
    is_black_and_white,
    list_recipes,
    put_away_recipe,
    recipe_view,
    save_recipe,
    set_colon_means,
    standard_start,
)
from catalogue.bench.rules.dilution import AmbiguousRatio
from catalogue.bench.sink.tonights_times import step_time
from catalogue.bench.waiting_views import StepView
from catalogue.errors import AlreadyExists, InvalidInput, NotFound

DEVELOPER = StepInput(
    kind="developer", name="developer", seconds=570, temperature_c=20, solution="one-shot", chemical="Quartz", dilution="1+9",
    per_degree=0.081, valid_from_c=18, valid_to_c=26, first_s=30, every_s=60, for_s=5,
)  # fmt: skip


def quill(**facts: object) -> RecipeInput:
    """A black-and-white recipe of two steps."""
    fix = StepInput(kind="fix", name="fix", seconds=300, solution="bath", chemical="Fixer F")
    return RecipeInput.model_validate(
        {"name": "Quill 400 in Quartz", "process": "black-and-white", "steps": [DEVELOPER, fix], **facts}
    )


def colour(**facts: object) -> StepView:
    """A colour developer that is used again, by its sheet's table: 1-4 3:15, 5-8 3:25, 9-16 3:45."""
    values = {"seconds": 195, "temperature_c": 37.8, "tolerance_c": 0.15, "use_table": ((4, 195), (8, 205), (16, 225))}
    return StepView(1, "developer", "developer", **{**values, "solution": "bath", "chemical": "kit", **facts})  # type: ignore[arg-type]


def test_a_recipe_is_kept_changed_and_put_away(session: Session) -> None:
    kept = save_recipe(session, quill())
    assert recipe_view(session, kept.id) == kept
    assert kept.developer is not None
    assert (kept.developer.dilution, kept.developer.seconds, len(kept.steps)) == ("1+9", 570, 2)
    with pytest.raises(AlreadyExists):
        save_recipe(session, quill(name="quill 400 in quartz"))
    changed = save_recipe(session, quill(steps=[DEVELOPER.model_copy(update={"push_table": [(0, 570), (1, 720)]})]), kept.id)
    assert changed.steps[0].push_table == ((0, 570), (1, 720))
    assert len(changed.steps) == 1
    put_away_recipe(session, kept.id)
    assert list_recipes(session) == ()
    assert [r.id for r in list_recipes(session, all_of_them=True)] == [kept.id]
    with pytest.raises(NotFound):
        recipe_view(session, 99)


def test_a_ratio_with_a_colon_is_asked_about_once(session: Session) -> None:
    """1:9 is 1+9 to most in the darkroom and one in nine in a laboratory: common practice, no published source."""
    asked = quill(steps=[DEVELOPER.model_copy(update={"dilution": "1:9"})])
    with pytest.raises(AmbiguousRatio):
        save_recipe(session, asked)
    assert list_recipes(session) == ()
    set_colon_means(session, "in all")
    assert save_recipe(session, asked).steps[0].dilution == "1+8"
    with pytest.raises(InvalidInput):
        set_colon_means(session, "perhaps")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": " "}, "needs a name"),
        ({"seconds": None}, "normal time"),
        ({"valid_to_c": None}, "from which to which"),
        ({"temperature_c": None}, "temperature that the normal time"),
        ({"temperature_table": [(20, 570)]}, "two lines"),
        ({"temperature_table": [(20, 570), (24, 600)]}, "shorter|quicker"),
        ({"push_table": [(1, 720), (2, 900)]}, "0 stops"),
        ({"push_factor": 1.0}, "factor"),
        ({"for_s": 90}, "every 60 s"),
        ({"chemical": ""}, "name the chemical"),
        ({"use_table": [(0, 195)]}, "Rolls rise"),
    ],
)
def test_what_can_not_be_is_refused_with_the_step(session: Session, change: dict[str, object], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        save_recipe(session, quill(steps=[DEVELOPER.model_copy(update=change)]))
    assert list_recipes(session) == ()


def test_another_temperature_by_coefficient(session: Session) -> None:
    """9:30 at 20 °C is 6:52 at 24 °C with k = 0.081: arithmetic on a fit to the usual chart (common practice)."""
    step = save_recipe(session, quill()).steps[0]
    assert step_time(step, temperature_c=24).seconds == 412
    assert step_time(step, temperature_c=20).seconds == 570
    assert step_time(step).reasons == ()
    with pytest.raises(InvalidInput, match="18 to 26"):
        step_time(step, temperature_c=30)
    warm = step_time(step, temperature_c=26, black_and_white=True)
    assert any("outside 18 to 24" in w for w in warm.warnings)


def test_another_temperature_by_the_sheets_lines() -> None:
    step = StepView(
        1, "developer", "developer", seconds=600, temperature_c=20, temperature_table=((18, 720), (20, 600), (24, 420))
    )
    assert step_time(step, temperature_c=24).seconds == 420
    assert step_time(step, temperature_c=19).seconds == 657  # √(720 × 600) = 657.3: straight in the logarithm
    assert step_time(step, temperature_c=20).seconds == 600
    with pytest.raises(InvalidInput, match="18 to 24"):
        step_time(step, temperature_c=25)


def test_a_recipe_without_a_rule_says_nothing_of_another_temperature() -> None:
    with pytest.raises(InvalidInput, match=r"says nothing of 36 °C"):
        step_time(colour(), temperature_c=36)
    assert step_time(colour(), temperature_c=37.7).seconds == 195  # within ± 0.15 °C


def test_a_used_bath_takes_longer_by_its_table_and_ends_where_it_ends() -> None:
    assert step_time(colour(), rolls_done=3, rolls_now=1).seconds == 195
    assert step_time(colour(), rolls_done=4, rolls_now=2).seconds == 205
    with pytest.raises(InvalidInput, match="table ends at 16"):
        step_time(colour(), rolls_done=15, rolls_now=2)
    assert step_time(colour(solution="one-shot"), rolls_done=15, rolls_now=2).seconds == 195


def test_a_push_by_table_by_factor_or_not_at_all() -> None:
    table = colour(push_table=((0, 195), (1, 225), (2, 270)))
    assert step_time(table, push_stops=1).seconds == 225
    assert any("starting point" in w for w in step_time(table, push_stops=1).warnings)
    assert step_time(table, push_stops=1, rolls_done=8).seconds == 260  # 225 × 225 / 195
    assert step_time(colour(push_factor=1.5), push_stops=2).seconds == 439  # 195 × 1.5²
    with pytest.raises(InvalidInput, match="says nothing"):
        step_time(colour(), push_stops=1)
    with pytest.raises(InvalidInput, match="outside"):
        step_time(table, push_stops=3)


def test_the_standard_processes_give_a_start(session: Session) -> None:
    """C-41: developer 3:15 at 37.8 ± 0.15 °C, 24:15 in all without drying (data sheet, from memory)."""
    start = standard_start("C-41")
    assert sum(s.seconds or 0 for s in start.steps) == 24 * 60 + 15
    kept = save_recipe(session, start)
    assert kept.developer is not None
    assert (kept.developer.seconds, kept.developer.temperature_c, kept.developer.tolerance_c) == (195, 37.8, 0.15)
    assert "Source:" in kept.developer.notes
    assert [s.kind for s in kept.steps] == ["developer", "bleach", "wash", "fix", "wash", "wetting agent"]
    assert save_recipe(session, standard_start("E-6")).developer is not None
    with pytest.raises(NotFound):
        standard_start("Z-9")


def test_black_and_white_is_told_by_its_name() -> None:
    assert all(map(is_black_and_white, ("black-and-white", "Black and white negative", "B&W", "bw")))
    assert not any(map(is_black_and_white, ("C-41", "E-6", "")))
