"""What the clock at the sink says at which second.

US Navy training manual 14209 (photography, basic), hand processing in a small tank: fill the tank in 10 to 20 s; turn it
over for the first 30 s, then 5 s each minute; begin to pour out in the last 10 s. The longer habits (first minute, then
10 s each minute; 15 s for pouring out) are common practice, no published source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.bench.rules.times.schedule import (
    Agitation,
    SinkEvent,
    TimedStep,
    agitation_words,
    clock_words,
    cues,
    step_words,
    steps_as_json,
)
from catalogue.errors import InvalidInput

NAVY = Agitation(first_s=30, every_s=60, for_s=5)


def said(step: TimedStep) -> list[tuple[int, str]]:
    return [(cue.at_s, cue.what) for cue in cues(step)]


def test_the_navy_manuals_practice_in_a_developer_of_three_minutes() -> None:
    assert said(TimedStep("developer", 180, "developer", agitation=NAVY, pour_s=10)) == [
        (0, "agitate"), (30, "rest"), (60, "agitate"), (65, "rest"), (120, "agitate"), (125, "rest"), (170, "pour"), (180, "end"),
    ]  # fmt: skip


def test_after_a_first_whole_minute_the_next_turn_is_due_a_minute_later() -> None:
    step = TimedStep("developer", 240, "developer", agitation=Agitation(60, 60, 10), pour_s=15)
    assert said(step) == [
        (0, "agitate"), (60, "rest"), (120, "agitate"), (130, "rest"), (180, "agitate"), (190, "rest"),
        (225, "pour"), (240, "end"),
    ]  # fmt: skip


def test_a_turn_is_cut_short_by_pouring_out() -> None:
    step = TimedStep("fixer", 72, "fixer", agitation=Agitation(0, 30, 10), pour_s=10)
    assert said(step) == [(0, "rest"), (30, "agitate"), (40, "rest"), (60, "agitate"), (62, "pour"), (72, "end")]
    # Due at the very second of pouring out: not said.
    step = TimedStep("fixer", 70, "fixer", agitation=Agitation(0, 30, 10), pour_s=10)
    assert said(step) == [(0, "rest"), (30, "agitate"), (40, "rest"), (60, "pour"), (70, "end")]


def test_moving_without_a_rest_and_standing_still() -> None:
    moving = TimedStep("bleach", 60, "bleach", agitation=Agitation(first_s=60), pour_s=10)
    assert said(moving) == [(0, "agitate"), (50, "pour"), (60, "end")]
    assert agitation_words(moving) == "turn the tank over without a rest"
    still = TimedStep("wetting agent", 60, "wetting agent")
    assert said(still) == [(0, "rest"), (60, "end")]
    assert agitation_words(still) == "let it stand"


def test_agitation_in_words() -> None:
    step = TimedStep("developer", 300, "developer", agitation=NAVY, pour_s=10)
    assert agitation_words(step) == "turn the tank over for the first 30 s, then 5 s every minute"
    step = TimedStep("developer", 300, "developer", agitation=Agitation(0, 30, 5, how="twirl the stick"))
    assert agitation_words(step) == "twirl the stick 5 s every 30 s"


def test_a_step_in_one_sentence() -> None:
    step = TimedStep("developer", 390, "developer", "20 °C", NAVY, pour_s=10)
    assert step_words(step) == (
        "Developer 6:30; 20 °C; turn the tank over for the first 30 s, then 5 s every minute; pour out in the last 10 s."
    )
    assert step_words(TimedStep("rinse", 60, "rinse", optional=True)) == "Rinse 1:00; let it stand (may be left out)."


def test_clock_words() -> None:
    assert [clock_words(s) for s in (0, 30, 600, 5999, 6000)] == ["0:00", "0:30", "10:00", "99:59", "1:40:00"]


def test_the_page_reads_the_cues_computed_here() -> None:
    step = TimedStep("fixer", 60, "fixer", "20 °C", Agitation(first_s=10), pour_s=10, wanted_c=20.0)
    (told,) = steps_as_json([step])
    assert told["cues"] == [
        {"at_s": 0, "what": "agitate"}, {"at_s": 10, "what": "rest"}, {"at_s": 50, "what": "pour"}, {"at_s": 60, "what": "end"},
    ]  # fmt: skip
    assert (told["temperature"], told["wanted_c"], told["how"]) == ("20 °C", 20.0, "turn the tank over")


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: TimedStep("developer", 0), "between 1 and 86400 s; 0 s was given"),
        (lambda: TimedStep("developer", 90.5), "whole seconds, not as 90.5"),
        (lambda: TimedStep("developer", True), "whole seconds, not as True"),
        (lambda: TimedStep(" ", 60), "1 to 60 characters"),
        (lambda: TimedStep("developer", 60, "soup"), "no kind of step"),
        (lambda: TimedStep("developer", 10, pour_s=10), "lasts 10 s and 10 s of them"),
        (lambda: TimedStep("developer", 60, pour_s=-1), "between 0 and 86400 s; -1 s"),
        (lambda: TimedStep("developer", 60, wanted_c=68.0), "wanted at 68 °C"),
        (lambda: TimedStep("developer", 60, wanted_c=float("nan")), "wanted at nan °C"),
        (lambda: Agitation(30, 60, 0), "needs a length"),
        (lambda: Agitation(30, 0, 5), "needs to say how often"),
        (lambda: Agitation(30, 60, 60), "60 s in every 60 s leaves no rest"),
        (lambda: Agitation(how=""), "in words how"),
    ],
)
def test_impossible_steps_are_refused_with_the_numbers(make, sentence) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InvalidInput, match=sentence):
        make()


@st.composite
def steps(draw: st.DrawFn) -> TimedStep:
    seconds = draw(st.integers(1, 2000))
    every = draw(st.integers(0, 400).filter(lambda n: n != 1))
    for_s = draw(st.integers(1, every - 1)) if every else 0
    return TimedStep(
        "bath", seconds, agitation=Agitation(draw(st.integers(0, 2100)), every, for_s), pour_s=draw(st.integers(0, seconds - 1))
    )


@given(steps())
def test_cues_agree_with_going_through_the_step_second_by_second(step: TimedStep) -> None:
    """The same rules asked of each second by itself, another way round."""
    moving, pour_at = step.agitation, step.seconds - step.pour_s

    def doing(t: int) -> str:
        if t >= pour_at:
            return "pour"
        if t < moving.first_s:
            return "agitate"
        if moving.every_s and t % moving.every_s < moving.for_s and t - t % moving.every_s > moving.first_s:
            return "agitate"
        return "rest"

    found = cues(step)
    assert found[0].at_s == 0 and found[-1] == SinkEvent(step.seconds, "end")
    assert len({cue.at_s for cue in found}) == len(found)
    for t in range(step.seconds):
        assert [cue for cue in found if cue.at_s <= t][-1].what == doing(t)
