"""A session from waiting film to the process record: planned, worked at the sink, hung, told apart, sleeved."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from bench_scene import TODAY, Bench, set_up
from builders import filed
from sqlmodel import Session

from catalogue.bench.bottles.shelf import add_bottle, baths_of, bottle_view, roll_pass, write_entry
from catalogue.bench.recipes import RecipeInput, StepInput, save_recipe
from catalogue.bench.rules.baths.entries import BathFacts, Filled, RollsDone
from catalogue.bench.sink.hang import alike, finish_session, hang_rolls, hanger_words, record_words, tell_roll
from catalogue.bench.sink.log import (
    NewFact,
    give_up_session,
    list_sessions,
    log_fact,
    session_view,
    sessions_of,
    take_back_fact,
)
from catalogue.bench.sink.logged_drift import development_words
from catalogue.bench.sink.plan import NewSession, plan_session, work_out
from catalogue.bench.sink.sink_views import SessionRoll, SessionView, SinkFact, SinkStep
from catalogue.bench.tanks import add_tank, list_tanks
from catalogue.bench.waiting import NewWaiting, note_roll, waiting_view
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.plan import NewRoll

START = datetime(2031, 5, 14, 18, 0, tzinfo=UTC)


def plan(bench: Bench, *numbers: str, **facts: object) -> NewSession:
    """These rolls, or all, on reels from the lowest up, with both bottles."""
    rolls = [{"number": n, "reel": reel} for reel, n in enumerate(numbers or bench.rolls, 1)]
    values = {"recipe_id": bench.recipe, "tank_id": bench.tank, "bottles": {1: bench.developer, 3: bench.fixer}, "rolls": rolls}
    return NewSession.model_validate({**values, **facts})


def fact(key: str, step: int, what: str, seconds: float = 0, value: str = "") -> NewFact:
    return NewFact(key=key, step=step, what=what, at=(START + timedelta(seconds=seconds)).isoformat(), value=value)


def test_a_session_is_worked_out_before_anything_is_mixed(session: Session) -> None:
    bench = set_up(session)
    worked = work_out(session, plan(bench))
    assert worked.volume_ml == 600  # two 35 mm reels at 300 ml, common practice
    assert [s.seconds for s in worked.steps] == [195, 30, 390, 195]
    assert [s.bottle for s in worked.steps] == ["Brown 1", "", "Brown 2", ""]
    assert worked.said == ()
    assert list_sessions(session) == ()


def test_two_rolls_go_from_waiting_to_sleeved_with_a_full_record(session: Session) -> None:
    bench = set_up(session)
    key = plan_session(session, plan(bench, temperatures_c={1: 37.9}, done_by="Ada Wren"))
    for given in (
        fact("a", 1, "begun"), fact("b", 1, "temperature", 5, "37.8"), fact("c", 1, "temperature", 190, "37.6"),
        fact("d", 1, "ended", 201), fact("e", 2, "begun", 205), fact("f", 2, "ended", 236), fact("g", 3, "begun", 240),
        fact("h", 3, "note", 300, "a little cold"), fact("i", 3, "ended", 640), fact("j", 4, "skipped", 650, "washed at the tap"),
    ):  # fmt: skip
        log_fact(session, key, given)
    assert session_view(session, key).state == "under way"
    view = finish_session(session, key, {1: 595})
    assert view.state == "hanging"
    for number in bench.rolls:
        record = get_roll(session, number).process
        assert record is not None
        assert (record.process, record.developer, record.time_s, record.temperature_c) == ("C-41", "Kit K developer", 201, 37.7)
        assert record.done_by == "Ada Wren" and record.push_stops is None
        assert get_roll(session, number).processed == TODAY.isoformat()
        for words in (
            "3:21, planned 3:15",
            "from Brown 1",
            "a little cold",
            "wash: skipped (washed at the tap)",
            "Together with",
        ):
            assert words in record.notes, words
        assert waiting_view(session, number).state == "processed"
        assert [v.name for v, _ in baths_of(session, number)] == ["Brown 1", "Brown 2"]
    developer, fixer = bottle_view(session, bench.developer).bath, bottle_view(session, bench.fixer).bath
    assert developer is not None and fixer is not None
    assert (developer.left, fixer.left) == (14, 14)
    assert (developer.in_bottle_ml, fixer.in_bottle_ml) == (945, 950)
    one, two = bench.rolls
    hang_rolls(session, key, {one: 1, two: 2})
    assert session_view(session, key).rolls[1].clip == 2
    tell_roll(session, key, one, stock="Hazelgrain 200", frames=37, seen="the weir on frame 1")
    done = tell_roll(session, key, two, frames=36)
    assert done.state == "done"
    assert "the weir" in done.rolls[0].told_by
    sleeved = filed(session, NewRoll(number=one, frames=37))
    assert sleeved.process is not None and sleeved.process.time_s == 201
    assert [s.id for s in sessions_of(session, sleeved.id)] == [key]


def test_a_bath_at_its_limit_is_said_before_and_can_be_overruled(session: Session) -> None:
    bench = set_up(session, rolls=4, capacity=3)
    first = plan_session(session, plan(bench, *bench.rolls[:2]))
    finish_session(session, first)
    asked = plan(bench, *bench.rolls[2:])
    grave = work_out(session, asked).grave
    assert [(g.step, g.kind) for g in grave] == [(1, "capacity"), (3, "capacity")]
    assert "takes 1 roll more" in grave[0].sentence
    with pytest.raises(DoesNotFit, match="overrule"):
        plan_session(session, asked)
    with pytest.raises(DoesNotFit, match="step 3"):
        plan_session(session, plan(bench, *bench.rolls[2:], overruled={1: "only tests"}))
    assert len(list_sessions(session)) == 1
    second = plan_session(session, plan(bench, *bench.rolls[2:], overruled={1: "only tests", 3: "cleared in 20 s"}))
    finish_session(session, second)
    bath = bottle_view(session, bench.developer).bath
    assert bath is not None and bath.left == -1 and bath.passes[-1].overruled == "only tests"
    record = get_roll(session, bench.rolls[2]).process
    assert record is not None and "overruled: only tests" in record.notes


def test_a_bath_used_elsewhere_meanwhile_still_gets_its_rolls(session: Session) -> None:
    bench = set_up(session, rolls=2, capacity=1)
    one, two = (plan_session(session, plan(bench, number, volume_ml=600)) for number in bench.rolls)
    finish_session(session, one, {1: 0})
    finish_session(session, two)  # of the 350 ml that are left no 600 ml can have been taken: the volume stays
    bath = bottle_view(session, bench.developer).bath
    assert bath is not None and (bath.left, bath.in_bottle_ml) == (-1, 350)
    assert bath.passes[1].overruled == "the bath was used elsewhere after this session was planned"


def test_a_fact_is_kept_once_and_can_be_taken_back(session: Session) -> None:
    bench = set_up(session)
    key = plan_session(session, plan(bench))
    log_fact(session, key, fact("a", 1, "begun"))
    again = log_fact(session, key, fact("a", 1, "begun", 60))
    assert [f.at for f in again.facts] == ["2031-05-14T18:00:00.000+00:00"]
    assert take_back_fact(session, key, "a").facts == ()
    assert log_fact(session, key, fact("a", 1, "begun")).facts == ()  # sent late, it stays taken back
    assert take_back_fact(session, key, "never sent").facts == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"what": "eaten"}, "can't be logged"),
        ({"step": 9}, "steps 1 to 4"),
        ({"at": "2031-05-14T18:00:00"}, "offset"),
        ({"at": "at six"}, "no moment"),
        ({"what": "temperature", "value": "warm"}, "no temperature"),
        ({"what": "temperature", "value": "nan"}, "no temperature"),
    ],
)
def test_what_can_not_be_logged_is_said(session: Session, change: dict[str, object], said: str) -> None:
    key = plan_session(session, plan(set_up(session)))
    with pytest.raises(InvalidInput, match=said):
        log_fact(session, key, fact("a", 1, "begun").model_copy(update=change))
    assert session_view(session, key).state == "planned"


def test_reels_that_do_not_go_in_are_refused_with_numbers(session: Session) -> None:
    """A tank for two 35 mm reels takes one 120 reel's worth instead: common practice, no published source."""
    bench = set_up(session, rolls=3)
    with pytest.raises(DoesNotFit, match="3 reels"):
        work_out(session, plan(bench))
    wide = [note_roll(session, NewWaiting(format="120-6x6")).number for _ in range(2)]
    assert work_out(session, plan(bench, wide[0])).volume_ml == 500
    with pytest.raises(DoesNotFit):
        work_out(session, plan(bench, *wide))
    both = plan(bench, rolls=[{"number": n, "reel": 1} for n in wide])
    assert work_out(session, both).volume_ml == 500  # two 120 behind one another on one reel
    with pytest.raises(DoesNotFit, match="reels of their own"):
        work_out(session, plan(bench, rolls=[{"number": n, "reel": 1} for n in bench.rolls[:2]]))
    with pytest.raises(DoesNotFit, match="reel for each"):
        work_out(session, plan(bench, rolls=[{"number": n, "reel": 1} for n in (bench.rolls[0], wide[0])]))
    with pytest.raises(AlreadyExists):
        add_tank(session, "two-reel TANK", 3, 900)
    assert [t.name for t in list_tanks(session)] == ["Two-reel tank"]


def test_what_can_not_be_planned_is_said(session: Session) -> None:
    bench = set_up(session)
    one, two = bench.rolls
    for given, error, said in (
        (plan(bench, one, one), InvalidInput, "twice"),
        (plan(bench, "1999-1"), NotFound, "no roll"),
        (plan(bench, one, bottles={2: bench.fixer}), InvalidInput, "is water"),
        (plan(bench, one, bottles={1: bench.fixer}), InvalidInput, "wants Kit K developer"),
        (plan(bench, one, bottles={7: bench.fixer}), InvalidInput, "no step 7"),
        (plan(bench, one, temperatures_c={1: 30}), InvalidInput, "says nothing of 30 °C"),
        (plan(bench, one, push_stops=3), InvalidInput, "outside"),
        (plan(bench, one, volume_ml=100), DoesNotFit, "too little"),
        (plan(bench, one, tank_id=99), NotFound, "no tank"),
        (plan(bench, one, recipe_id=99), NotFound, "no recipe"),
    ):
        with pytest.raises(error, match=said):
            plan_session(session, given)
    key = plan_session(session, plan(bench, one))
    with pytest.raises(InvalidInput, match=f"session {key} already"):
        plan_session(session, plan(bench, one, two))
    give_up_session(session, key)
    other = plan_session(session, plan(bench, one, two))
    finish_session(session, other)
    with pytest.raises(InvalidInput, match="film went in"):
        give_up_session(session, other)
    with pytest.raises(InvalidInput, match="already"):
        finish_session(session, other)
    with pytest.raises(InvalidInput, match="processed already"):
        work_out(session, plan(bench, one))


def test_rolls_that_want_different_development_do_not_share_a_tank(session: Session) -> None:
    bench = set_up(session, rolls=1)
    pushed = note_roll(session, NewWaiting(push_stops=1, frames_expected=36)).number
    with pytest.raises(InvalidInput, match=r"\+0, .* \+1"):
        work_out(session, plan(bench, bench.rolls[0], pushed))
    assert work_out(session, plan(bench, pushed)).steps[0].seconds == 225
    finish_session(session, plan_session(session, plan(bench, pushed)))
    record = get_roll(session, pushed).process
    assert record is not None and record.push_stops == 1


def test_a_roll_that_goes_through_a_bath_again_is_written_with_the_reason(session: Session) -> None:
    bench = set_up(session, rolls=1)
    key = plan_session(session, plan(bench))
    entry = RollsDone(on=TODAY, rolls=(roll_pass(session, bench.rolls[0]),))
    write_entry(session, bench.fixer, entry)  # fixed by hand before its session is finished
    finish_session(session, key)

    def reasons(bottle: int) -> list[str]:
        return [m.entry.again for m in bottle_view(session, bottle).entries if isinstance(m.entry, RollsDone)]

    assert reasons(bench.developer) == [""]
    assert reasons(bench.fixer) == ["", "the bath was used elsewhere after this session was planned"]


def test_a_one_shot_developer_is_measured_out(session: Session) -> None:
    """1+9 in 600 ml is 60 + 540 ml: arithmetic. At least 30 ml of concentrate a roll asks for no more here."""
    bench = set_up(session)
    step = StepInput(
        kind="developer", name="developer", seconds=570, temperature_c=20, solution="one-shot", chemical="Quartz", dilution="1+9",
        least_ml=30,
    )  # fmt: skip
    recipe = save_recipe(session, RecipeInput(name="Quartz 1+9", process="black-and-white", steps=[step]))
    worked = work_out(session, plan(bench, recipe_id=recipe.id, bottles={}))
    assert worked.steps[0].amounts == "60 ml concentrate + 540 ml water"
    hungry = save_recipe(session, RecipeInput(name="Quartz, much", steps=[step.model_copy(update={"least_ml": 40})]), recipe.id)
    with pytest.raises(DoesNotFit, match="800 ml"):
        work_out(session, plan(bench, recipe_id=hungry.id, bottles={}))


def test_a_concentrate_used_once_is_drawn_from_its_bottle(session: Session) -> None:
    """600 ml at 1+9 take 60 ml of concentrate: arithmetic; 500 ml of it are good for 20 rolls at 25 ml each."""
    bench = set_up(session)
    step = StepInput(kind="developer", name="developer", seconds=570, solution="one-shot", chemical="Quartz", dilution="1+9")
    recipe = save_recipe(session, RecipeInput(name="Quartz 1+9", process="black-and-white", steps=[step]))
    bottle = add_bottle(session, "Quartz", 500)
    bath = BathFacts("Quartz", 500, TODAY, capacity=20, one_shot=True)
    write_entry(session, bottle.id, Filled(on=TODAY, bath=bath))
    given = plan(bench, recipe_id=recipe.id, bottles={1: bottle.id})
    assert work_out(session, given).steps[0].draws_ml == 60
    finish_session(session, plan_session(session, given))
    left = bottle_view(session, bottle.id).bath
    assert left is not None
    assert (left.in_bottle_ml, left.left) == (440, Fraction(88, 5))


def test_rolls_that_nobody_can_tell_apart_are_named(session: Session) -> None:
    bench = set_up(session)
    key = plan_session(session, plan(bench))
    (said,) = alike(session_view(session, key))
    assert "reel 1, no clip noted" in said
    finish_session(session, key)
    with pytest.raises(InvalidInput, match="both hang"):
        hang_rolls(session, key, dict.fromkeys(bench.rolls, 3))
    hang_rolls(session, key, {bench.rolls[0]: 6})
    assert hanger_words(6) == "hanger 2, clip 1"
    with pytest.raises(InvalidInput, match="24 are on this film"):
        tell_roll(session, key, bench.rolls[0], frames=24)
    with pytest.raises(InvalidInput, match="says Quill 400"):
        tell_roll(session, key, bench.rolls[0], stock="Quill 400")
    assert "although" in tell_roll(session, key, bench.rolls[0], frames=24, sure=True).rolls[0].told_by
    with pytest.raises(NotFound):
        tell_roll(session, key, "1999-1")


def test_another_roll_that_fits_is_named(session: Session) -> None:
    bench = set_up(session, rolls=1)
    short = note_roll(session, NewWaiting(frames_expected=24, stock="Hazelgrain 200")).number
    key = plan_session(session, plan(bench, bench.rolls[0], short))
    assert alike(session_view(session, key)) == ()
    finish_session(session, key)
    with pytest.raises(InvalidInput, match=f"It may be {short}"):
        tell_roll(session, key, bench.rolls[0], frames=24)


def test_a_bath_that_cooled_counts_for_less(session: Session) -> None:
    """k = 0.081, from 20 to 18 °C over 10 min: 600 × (1 − e^−0.162) / 0.162 = 553.9 s; arithmetic on the chart's fit."""
    bench = set_up(session)
    step = StepInput(
        kind="developer", name="developer", seconds=600, temperature_c=20, per_degree=0.081, valid_from_c=18, valid_to_c=26,
    )  # fmt: skip
    recipe = save_recipe(session, RecipeInput(name="Quartz", process="black-and-white", steps=[step]))
    key = plan_session(session, plan(bench, recipe_id=recipe.id, bottles={}))
    assert development_words(session, session_view(session, key)) == ""
    for given in (
        fact("a", 1, "begun"), fact("b", 1, "temperature", 0, "20"), fact("c", 1, "temperature", 600, "18"),
        fact("d", 1, "ended", 600),
    ):  # fmt: skip
        log_fact(session, key, given)
    words = development_words(session, session_view(session, key))
    assert words == "The 10:00 in the developer count as 9:14 at 20 °C."
    finish_session(session, key)
    record = get_roll(session, bench.rolls[0]).process
    assert record is not None and words in record.notes


def test_the_record_names_the_developer_and_not_the_first_step(session: Session) -> None:
    bench = set_up(session)
    steps = [
        StepInput(kind="water", name="pre-wash", seconds=60, temperature_c=24),
        StepInput(kind="developer", name="developer", seconds=540, temperature_c=20, chemical="Quartz", dilution="1+9"),
    ]
    both = save_recipe(session, RecipeInput(name="Quartz after water", process="black-and-white", steps=steps))
    water = save_recipe(session, RecipeInput(name="Washed again", process="black-and-white", steps=steps[:1]))
    told = []
    for recipe, number in ((both.id, bench.rolls[0]), (water.id, bench.rolls[1])):
        key = plan_session(session, plan(bench, number, recipe_id=recipe, bottles={}))
        log_fact(session, key, fact("a", 1, "begun"))
        log_fact(session, key, fact("b", 1, "ended", 75))
        finish_session(session, key)
        record = get_roll(session, number).process
        assert record is not None and "pre-wash: 1:15, planned 1:00, planned at 24 °C" in record.notes
        assert "Together" not in record.notes
        told.append((record.developer, record.dilution, record.time_s, record.temperature_c))
    assert told == [("Quartz", "1+9", 540, 20), ("", "", None, None)]


def test_the_words_of_the_record_say_what_is_known_and_no_more() -> None:
    steps = (
        SinkStep(1, "stop", "stop bath"),
        SinkStep(2, "wash", "wash", 60),
        SinkStep(3, "fix", "fix", 300, 20.0, bottle="Brown 2", overruled="cleared in 20 s", dilution="1+4"),
        SinkStep(4, "developer", "developer", chemical="Quartz", dilution="1+9"),
        SinkStep(5, "rinse", "rinse", 30, 20.0),
    )
    facts = (
        SinkFact("a", 2, "begun", START.isoformat(), ""), SinkFact("b", 2, "ended", "2031-05-14T18:01:00+00:00", ""),
        SinkFact("c", 3, "temperature", START.isoformat(), "19.5"), SinkFact("d", 3, "temperature", START.isoformat(), "20"),
        SinkFact("e", 1, "begun", START.isoformat(), ""), SinkFact("f", 2, "note", START.isoformat(), "leaked"),
        SinkFact("g", 5, "skipped", START.isoformat(), ""),
    )  # fmt: skip
    view = SessionView(1, "", "", "under way", "", None, (), steps, facts, "", "", "", "", "")
    assert record_words(view) == (
        "stop bath. wash: 1:00, leaked. fix: 5:00, at 19.5 °C, 20 °C, from Brown 2 (overruled: cleared in 20 s). "
        "developer: Quartz 1+9. rinse: skipped (no reason given)."
    )


def test_what_comes_back_is_no_more_than_went_in_and_clips_are_1_to_99(session: Session) -> None:
    bench = set_up(session)
    key = plan_session(session, plan(bench))
    log_fact(session, key, fact("a", 3, "skipped", 0, "fixed tomorrow"))
    for back in (600.5, -1):
        with pytest.raises(InvalidInput, match=r"can't come back of the 600 ml"):
            finish_session(session, key, {1: back})
    assert session_view(session, key).state == "planned"
    ended = finish_session(session, key, {1: 0})
    assert ended.begun_at == ended.ended_at != ""  # nothing was logged at its beginning
    developer, fixer = bottle_view(session, bench.developer).bath, bottle_view(session, bench.fixer).bath
    assert developer is not None and fixer is not None
    assert (developer.in_bottle_ml, developer.left) == (350, 14)
    assert (fixer.in_bottle_ml, fixer.left, fixer.passes) == (950, 16, ())  # a skipped step has no rolls in its bottle
    for clip in (0, 100):
        with pytest.raises(InvalidInput, match=f"1 to 99, not {clip}"):
            hang_rolls(session, key, {bench.rolls[0]: clip})
    assert [hanger_words(clip) for clip in (1, 5, 10)] == ["hanger 1, clip 1", "hanger 1, clip 5", "hanger 2, clip 5"]
    assert [roll.clip for roll in hang_rolls(session, key, {bench.rolls[0]: 99, bench.rolls[1]: 1}).rolls] == [99, 1]


@pytest.mark.parametrize(("frames", "fits"), [(33, False), (34, True), (39, True), (40, False)])
def test_frames_two_under_and_three_over_what_was_expected_are_usual(session: Session, frames: int, fits: bool) -> None:
    bench = set_up(session, rolls=1)
    key = plan_session(session, plan(bench))
    with pytest.raises(InvalidInput, match="when they hang"):
        tell_roll(session, key, bench.rolls[0])
    finish_session(session, key)
    if fits:
        done = tell_roll(session, key, bench.rolls[0], frames=frames, stock=" hazelgrain 200 ")
        assert done.state == "done" and waiting_view(session, bench.rolls[0]).frames_expected == frames
    else:
        with pytest.raises(InvalidInput, match=rf"{frames} are on this film\. Look again"):
            tell_roll(session, key, bench.rolls[0], frames=frames)


def test_rolls_with_four_frames_between_them_can_be_told_apart() -> None:
    def said(first: dict[str, object], second: dict[str, object]) -> int:
        facts = {"clip": None, "format_name": "24x36", "stock": "", "camera": "", "frames_expected": 36}
        rolls = tuple(SessionRoll(number=f"R{n}", reel=n, **{**facts, **own}) for n, own in enumerate((first, second), 1))  # type: ignore[arg-type]
        return len(alike(SessionView(1, "", "", "hanging", "", None, rolls, (), (), "", "", "", "", "")))

    for same in ({}, {"frames_expected": 39}, {"frames_expected": None}, {"stock": "A"}):
        assert said({}, same) == 1, same
    for other in ({"frames_expected": 40}, {"frames_expected": 32}, {"stock": "B"}, {"format_name": "6x6"}):
        assert said({"stock": "A"}, other) == 0, other
