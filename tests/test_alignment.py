"""Shots laid against frames: cases named by what happened at the light table, and the search against trying everything.

What is right in each case follows from how it was made; no published source treats this task.
"""

import math
import random
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.scans.match.alignment import SURE_FROM, Alignment, align, doubts_first
from catalogue.scans.match.by_likeness import Likely, assign_by_likeness
from catalogue.scans.match.evidence import TURN, UNIT, Evidence, Shot

Table = list[list[float | None]]


def frames_of(found: Alignment) -> list[int | None]:
    return [frame for frame, _ in found.assigned]


def roles_of(found: Alignment) -> list[str]:
    return [role for _, role in found.assigned]


def pictures(truth: Sequence[int | None], frames: int, like: float = 0.95, unlike: float = 0.2) -> list[list[float]]:
    """Likeness of shots to frames whose pictures are known."""
    return [[like if frame == shown else unlike for frame in range(frames)] for shown in truth]


def looks(truth: Sequence[int | None]) -> list[list[float]]:
    """Likeness of shots to each other."""
    return [[0.95 if one is not None and one == two else 0.2 for two in truth] for one in truth]


# --- cases ---


@pytest.mark.parametrize("strips", [(), (6,) * 6, (5,) * 7 + (1,)])
def test_equal_counts_and_nothing_else_known_go_one_by_one(strips: tuple[int, ...]) -> None:
    found = align([Shot()] * 36, 36, strips=strips)
    assert frames_of(found) == list(range(36))
    assert set(roles_of(found)) == {"frame"}
    assert found.cost == 0 and found.doubts == () and min(found.confidence) > SURE_FROM


@pytest.mark.parametrize(
    ("happened", "truth", "roles"),
    [
        ("a frame twice", [0, 1, 1, 2, 3, 4, 5], "frame frame again frame frame frame frame"),
        ("two frames twice", [0, 0, 1, 2, 3, 3, 4, 5], "frame again frame frame frame again frame frame"),
        ("three of one", [0, 1, 2, 2, 2, 3, 4, 5], "frame frame frame again again frame frame frame"),
        ("the last twice", [0, 1, 2, 3, 4, 5, 5], "frame frame frame frame frame frame again"),
    ],
)
def test_repeats_are_told_by_their_looks(happened: str, truth: list[int], roles: str) -> None:
    found = align([Shot()] * len(truth), 6, alike=looks(truth))
    assert frames_of(found) == truth, happened
    assert roles_of(found) == roles.split()
    assert found.doubts == ()


@pytest.mark.parametrize("at", [0, 3, 6])
def test_a_bare_table_is_no_frame(at: int) -> None:
    shots = [Shot(emptiness=0.05) for _ in range(6)]
    shots.insert(at, Shot(emptiness=0.97))
    found = align(shots, 6)
    assert roles_of(found).index("extra") == at
    assert [f for f in frames_of(found) if f is not None] == list(range(6))


@pytest.mark.parametrize("gone", range(6))
def test_a_blank_frame_is_left_out_rather_than_another(gone: int) -> None:
    found = align([Shot()] * 5, 6, blank=[gone])
    assert frames_of(found) == [f for f in range(6) if f != gone]
    assert found.doubts == ()


def test_a_blank_frame_may_be_copied_all_the_same() -> None:
    shots = [Shot(emptiness=0.95 if n == 2 else 0.05) for n in range(6)]
    assert frames_of(align(shots, 6, blank=[2])) == list(range(6))


def test_a_frame_left_out_is_found_by_known_pictures_and_said() -> None:
    truth = [0, 1, 3, 4, 5]
    found = align([Shot()] * 5, 6, likeness=pictures(truth, 6), labels=["00", "0", "1", "2", "3", "3A"])
    assert frames_of(found) == truth
    assert found.doubts == ("Frame 1 has no shot.",)


def test_a_hand_over_the_table_is_an_extra_though_it_is_a_picture() -> None:
    truth = [0, 1, None, 2, 3]
    found = align([Shot(emptiness=0.2)] * 5, 4, alike=looks(truth), likeness=pictures(truth, 4))
    assert frames_of(found) == truth and roles_of(found)[2] == "extra"


def test_a_repeat_is_seen_across_an_extra_shot() -> None:
    truth = [0, 1, None, 1, 2, 3]
    found = align([Shot(emptiness=0.95 if shown is None else 0.05) for shown in truth], 4, alike=looks(truth))
    assert frames_of(found) == truth
    assert roles_of(found) == ["frame", "frame", "extra", "again", "frame", "frame"]


@pytest.mark.parametrize(
    ("told_by", "second"),
    [
        ("exposure", Shot(gap_s=10, exposure_stops=2.0)),
        ("haste", Shot(gap_s=1)),
    ],
)
def test_brackets_are_told(told_by: str, second: Shot) -> None:
    plain = Shot(gap_s=10, exposure_stops=0.0)
    found = align([plain, plain, second, plain], 3, alike=looks([0, 1, 1, 2]))
    assert roles_of(found) == ["frame", "frame", "bracket", "frame"], told_by


def test_the_same_exposure_is_no_bracket_however_quick() -> None:
    shot = Shot(gap_s=1, exposure_stops=0.0)
    assert roles_of(align([shot] * 3, 2, alike=looks([0, 0, 1]))) == ["frame", "again", "frame"]


def test_pauses_say_in_which_strip_a_frame_was_left_out() -> None:
    # Two strips of four; after three shots a long pause, so one of the first strip is missing.
    shots = [Shot(gap_s=60 if n == 3 else 8) for n in range(7)]
    found = align(shots, 8, strips=[4, 4])
    assert frames_of(found)[3:] == [4, 5, 6, 7]
    assert min(found.confidence[:3]) < SURE_FROM < min(found.confidence[3:])


@pytest.mark.parametrize(
    ("happened", "truth", "turned", "from_the_end"),
    [
        ("one strip the other way round", [0, 1, 2, 5, 4, 3, 6, 7, 8], ((3, 5),), False),
        ("every strip the other way round", [2, 1, 0, 5, 4, 3, 8, 7, 6], ((0, 2), (3, 5), (6, 8)), False),
        ("the roll from its end", [8, 7, 6, 5, 4, 3, 2, 1, 0], (), True),
        ("strips from the end, each along", [6, 7, 8, 3, 4, 5, 0, 1, 2], ((0, 2), (3, 5), (6, 8)), True),
    ],
)
def test_directions(happened: str, truth: list[int], turned: tuple[tuple[int, int], ...], from_the_end: bool) -> None:
    found = align([Shot()] * 9, 9, strips=[3, 3, 3], likeness=pictures(truth, 9))
    assert frames_of(found) == truth, happened
    assert (found.turned, found.from_the_end) == (turned, from_the_end)
    assert len(found.doubts) == len(turned) + from_the_end
    # Without leave to turn, no frame may come before an earlier one.
    kept = [f for f in frames_of(align([Shot()] * 9, 9, strips=[3, 3, 3], likeness=pictures(truth, 9), may_turn=False)) if f]
    assert kept == sorted(kept)


def test_one_name_per_strip_is_enough_for_its_direction() -> None:
    shots = [Shot(frame=2 if n == 0 else None, held=n == 0) for n in range(6)]
    assert frames_of(align(shots, 6, strips=[3, 3]))[:3] == [2, 1, 0]


def test_part_of_a_roll_is_its_beginning() -> None:
    found = align([Shot()] * 12, 36, strips=[6] * 6)
    assert frames_of(found) == list(range(12))
    assert found.doubts[-1].startswith("Frames 13, 14,")


def test_two_surplus_shots_that_nothing_explains_leave_every_shot_in_doubt() -> None:
    found = align([Shot()] * 38, 36)
    assert found.doubts[0].startswith("There are 38 shots for 36 frames. 2 can't be a frame of their own")
    assert max(found.confidence) < SURE_FROM
    assert found.doubts[1].startswith("Shots 1 to 38 are doubtful")


def test_evidence_keeps_the_doubt_where_it_belongs() -> None:
    # Three strips of four and one shot too many in the second: pauses fence the doubt in.
    gaps = [8, 8, 8, 8, 60, 8, 8, 8, 8, 60, 8, 8, 8]
    found = align([Shot(gap_s=g) for g in gaps], 12, strips=[4, 4, 4])
    doubtful = {n for n, sure in enumerate(found.confidence) if sure < SURE_FROM}
    assert doubtful and doubtful <= {4, 5, 6, 7, 8}
    assert frames_of(found)[:4] == [0, 1, 2, 3] and frames_of(found)[9:] == [8, 9, 10, 11]
    assert set(doubts_first(found)[: len(doubtful)]) == doubtful


def test_a_name_is_strong_and_a_held_one_binds() -> None:
    truth = [0, 1, 2, 3]
    named = [Shot(), Shot(frame=2), Shot(), Shot()]
    free = align(named, 4, likeness=pictures(truth, 4))
    assert frames_of(free) == truth
    assert free.doubts == ("Shot 2 is named as frame 3, but its place in the order says frame 2.",)
    held = align([Shot(), Shot(frame=2, held=True), Shot(), Shot()], 4, likeness=pictures(truth, 4))
    assert frames_of(held)[1] == 2


def test_a_name_decides_where_nothing_else_does() -> None:
    found = align([Shot(), Shot(frame=2), Shot(frame=3)], 4)
    assert frames_of(found)[1:] == [2, 3]


def test_no_shots_and_only_extras() -> None:
    assert align([], 3).assigned == ()
    found = align([Shot(emptiness=1.0)] * 3, 2)
    assert roles_of(found) == ["extra"] * 3


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: align([Shot()], 0), "not 0"),
        (lambda: align([Shot()], 401), "not 401"),
        (lambda: align([Shot()] * 1001, 36), "1001 shots"),
        (lambda: align([Shot()], 6, strips=[4, 4]), "hold 8 frames and the roll 6"),
        (lambda: align([Shot()], 6, strips=[6, 0]), "1 or more"),
        (lambda: align([Shot(frame=6)], 6), "Frame 7 isn't on this roll"),
        (lambda: align([Shot()], 6, blank=[-1]), "Frame 0 isn't"),
        (lambda: align([Shot()], 2, likeness=[[0.5]]), "1 rows, one for each shot, of 2"),
        (lambda: align([Shot()], 1, likeness=[[1.5]]), "from 0 to 1, not 1.5"),
        (lambda: align([Shot()] * 2, 2, alike=lambda a, b: -1.0), "from 0 to 1, not -1"),
        (lambda: align([Shot()], 2, labels=["1"]), "1 labels for 2 frames"),
        (lambda: Shot(emptiness=math.nan), "from 0 to 1"),
        (lambda: Shot(gap_s=-1), "-1 s"),
        (lambda: Shot(exposure_stops=math.inf), "must be a number"),
        (lambda: Shot(held=True), "no frame is named"),
        (
            lambda: align([Shot(frame=f, held=True) for f in (2, 0, 1)], 3, labels=["7", "8", "9"]),
            "shot 1 to frame 9, shot 2 to frame 7, shot 3 to frame 8",
        ),
        (lambda: assign_by_likeness([[0.5], []]), "differ in length"),
        (lambda: assign_by_likeness([[0.5]], threshold=2), "not 2"),
    ],
)
def test_impossible_input_is_refused(call: object, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        call()  # type: ignore[operator]


# --- a whole roll ---


def whole_roll(seed: int) -> tuple[list[int | None], list[Shot], Table, Table]:
    """36 frames in strips of six; 8 and 26 twice, 23 left out, the bare table and the lens cap once each."""
    rng = random.Random(seed)
    truth: list[int | None] = []
    for frame in range(36):
        truth += [None, frame] if frame == 12 else [] if frame == 22 else [frame]
        truth += [frame] if frame in (7, 25) else [None] if frame == 29 else []
    shots = []
    for n, shown in enumerate(truth):
        new_strip = shown == 12 or (shown is not None and shown % 6 == 0 and truth[n - 1] != shown)
        gap = rng.uniform(30, 60) if new_strip else rng.uniform(6, 14)
        shots.append(Shot(gap if n else None, rng.uniform(0.9, 1) if shown is None else rng.uniform(0, 0.25)))

    def noisy(same: bool) -> float:
        return min(1.0, max(0.0, rng.gauss(0.9, 0.05) if same else rng.gauss(0.35, 0.12)))

    alike: Table = [[noisy(one is not None and one == two) for two in truth] for one in truth]
    likeness: Table = [[noisy(frame == shown) if frame % 2 == 0 else None for frame in range(36)] for shown in truth]
    return truth, shots, alike, likeness


@pytest.mark.parametrize("seed", range(12))
def test_a_whole_roll_with_its_mishaps(seed: int) -> None:
    truth, shots, alike, _ = whole_roll(seed)
    found = align(shots, 36, strips=[6] * 6, blank=[22], alike=alike)
    assert frames_of(found) == truth
    roles = roles_of(found)
    assert [n for n, role in enumerate(roles) if role == "again"] == [n for n in range(1, 39) if truth[n] == truth[n - 1]]
    assert roles.count("extra") == 2 and roles.count("frame") == 35


@pytest.mark.parametrize("seed", range(12))
def test_a_whole_roll_of_which_every_second_frame_has_a_picture_already(seed: int) -> None:
    # The frame left out is not blank and not known beforehand.
    truth, shots, alike, likeness = whole_roll(seed)
    found = align(shots, 36, strips=[6] * 6, alike=alike, likeness=likeness)
    assert frames_of(found) == truth
    assert found.doubts[-1] == "Frame 23 has no shot."


@pytest.mark.parametrize("seed", range(12))
def test_which_frame_was_left_out_is_doubted_where_nothing_shows_it(seed: int) -> None:
    truth, shots, alike, _ = whole_roll(seed)
    found = align(shots, 36, strips=[6] * 6, alike=alike)
    wrong = {n for n, frame in enumerate(frames_of(found)) if frame != truth[n]}
    doubtful = {n for n, sure in enumerate(found.confidence) if sure < SURE_FROM}
    assert doubtful and wrong <= doubtful
    # Fenced in by the pause before the strip and by the repeat behind it, which might hide the gap.
    assert {truth[n] for n in doubtful} <= set(range(18, 26))


# --- the search against trying everything ---


def courses(shots: int, travel: list[list[int]]) -> Iterator[list[int | None]]:
    """Every way to lay shots along the frames in the order of travel, none going back."""
    order = [frame for run in travel for frame in run]

    def go(n: int, reached: int) -> Iterator[list[int | None]]:
        if n == shots:
            yield []
            return
        for rest in go(n + 1, reached):
            yield [None, *rest]
        for at in range(max(reached, 0), len(order)):
            for rest in go(n + 1, at):
                yield [order[at], *rest]

    yield from go(0, -1)


def price(evidence: Evidence, travel: list[list[int]], turned: tuple[int, ...], course: list[int | None]) -> int:
    """What one course costs, added up by itself: the shots, the steps, the frames left out, the turns."""
    order = [frame for run in travel for frame in run]
    strip = {frame: k for k, run in enumerate(travel) for frame in run}
    shown = [(n, frame) for n, frame in enumerate(course) if frame is not None]
    first, last = (shown[0][0], shown[-1][0]) if shown else (len(course), -1)
    cost = sum(evidence.shows(n, frame) for n, frame in shown)
    cost += sum(evidence.extra(n, "first" if shown else "last") for n in range(len(course)) if n < first)
    cost += sum(evidence.extra(n, "last") for n in range(last + 1, len(course)) if shown)
    for (a, one), (b, two) in pairwise(shown):
        cost += evidence.step(a, b, "same" if one == two else "along" if strip[one] == strip[two] else "next strip")
    seen = {order.index(frame) for _, frame in shown}
    for is_out, run in groupby(range(len(order)), key=lambda at: at not in seen):
        places = list(run)
        if not is_out:
            continue
        where = "last" if not seen or places[0] > max(seen) else "first" if places[0] < min(seen) else "inside"
        for _, part in groupby(places, key=lambda at: strip[order[at]]):
            frames = [order[at] for at in part]
            whole_strip = travel[strip[frames[0]]]
            inner = frames[0] != whole_strip[0] and frames[-1] != whole_strip[-1]
            alone = sum(evidence.left_out(frame, where) for frame in frames)  # type: ignore[arg-type]
            cost += alone if inner else evidence.strip_end_left_out(frames, where)  # type: ignore[arg-type]
    lying = 0
    for k in sorted({strip[frame] for _, frame in shown}):
        cost += round(TURN * UNIT) * (turned[k] != lying)
        lying = turned[k]
    return cost


def cheapest(evidence: Evidence, may_turn: bool) -> tuple[int, list[dict[int | None, int]]]:
    """The least cost of all courses, and for each shot the least cost with each frame or none."""
    starts = [sum(evidence.strips[:k]) for k in range(len(evidence.strips))]
    strips = [list(range(a, a + count)) for a, count in zip(starts, evidence.strips, strict=True)]
    best, per_shot = 10**15, [dict[int | None, int]() for _ in evidence.shots]
    for backwards in (False, True) if may_turn and len(strips) > 1 else (False,):
        for turned in product((0, 1) if may_turn else (0,), repeat=len(strips)):
            laid = [run[::-1] for run in strips[::-1]] if backwards else strips
            travel = [run[::-1] if turn else run for run, turn in zip(laid, turned, strict=True)]
            for course in courses(len(evidence.shots), travel):
                cost = price(evidence, travel, turned, course) + (round(TURN * UNIT) if backwards else 0)
                best = min(best, cost)
                for n, frame in enumerate(course):
                    per_shot[n][frame] = min(per_shot[n].get(frame, 10**15), cost)
    return best, per_shot


maybe = st.none() | st.floats(0, 1)


@st.composite
def small_cases(draw: st.DrawFn, most_shots: int, most_frames: int, most_strips: int) -> tuple[Evidence, bool]:
    frames = draw(st.integers(1, most_frames))
    cuts = draw(st.sets(st.integers(1, frames - 1), max_size=most_strips - 1)) if frames > 1 else set()
    edges = [0, *sorted(cuts), frames]
    shots = draw(
        st.lists(
            st.builds(
                Shot,
                gap_s=st.none() | st.floats(0, 100),
                emptiness=maybe,
                exposure_stops=st.none() | st.floats(-3, 3),
                frame=st.none() | st.none() | st.integers(0, frames - 1),
            ),
            max_size=most_shots,
        )
    )
    n = len(shots)
    alike = draw(st.none() | st.lists(st.lists(maybe, min_size=n, max_size=n), min_size=n, max_size=n))
    likeness = draw(st.none() | st.lists(st.lists(maybe, min_size=frames, max_size=frames), min_size=n, max_size=n))
    blank = draw(st.frozensets(st.integers(0, frames - 1), max_size=2))
    strips = tuple(b - a for a, b in pairwise(edges))
    return Evidence(tuple(shots), strips, blank, alike, likeness), draw(st.booleans())


def run(evidence: Evidence, may_turn: bool) -> Alignment:
    return align(
        evidence.shots,
        sum(evidence.strips),
        strips=evidence.strips,
        blank=evidence.blank,
        alike=evidence.alike,
        likeness=evidence.likeness,
        may_turn=may_turn,
    )


def same_as_trying_everything(evidence: Evidence, may_turn: bool) -> None:
    found = run(evidence, may_turn)
    best, per_shot = cheapest(evidence, may_turn)
    assert round(found.cost * UNIT) == best
    for (frame, _), sure, options in zip(found.assigned, found.confidence, per_shot, strict=True):
        assert options[frame] == best
        margin = min(cost for other, cost in options.items() if other != frame) - best
        assert sure == pytest.approx(math.tanh(margin / UNIT / 2))


@settings(max_examples=40, deadline=None)
@given(small_cases(6, 5, 1))
def test_the_search_finds_what_trying_everything_finds_on_one_strip(case: tuple[Evidence, bool]) -> None:
    same_as_trying_everything(*case)


@settings(max_examples=60, deadline=None)
@given(small_cases(4, 5, 3))
def test_the_search_finds_what_trying_everything_finds_on_several_strips(case: tuple[Evidence, bool]) -> None:
    same_as_trying_everything(*case)


@settings(max_examples=80, deadline=None)
@given(small_cases(12, 12, 3))
def test_what_holds_always(case: tuple[Evidence, bool]) -> None:
    evidence, may_turn = case
    found = run(evidence, may_turn)
    assert found == run(evidence, may_turn)
    assert len(found.assigned) == len(found.confidence) == len(found.instead) == len(evidence.shots)
    assert sorted(doubts_first(found)) == list(range(len(evidence.shots)))
    assert all(0 <= sure <= 1 for sure in found.confidence)
    strip_of = [k for k, count in enumerate(evidence.strips) for _ in range(count)]
    shown = [(frame, role) for frame, role in found.assigned if role != "extra"]
    assert all((frame is None) == (role == "extra") for frame, role in found.assigned)
    firsts = [frame for frame, role in shown if role == "frame"]
    assert len(firsts) == len(set(firsts))
    for (one, _), (two, role) in pairwise(shown):
        assert (one == two) == (role in ("again", "bracket"))
    # Strips are gone through once, and each in one direction.
    runs = [[f for f in list(part) if f is not None] for _, part in groupby(firsts, key=lambda f: strip_of[f or 0])]
    visited = [strip_of[part[0]] for part in runs]
    assert visited in (sorted(set(visited)), sorted(set(visited), reverse=True))
    assert all(part in (sorted(part), sorted(part, reverse=True)) for part in runs)


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_held_shots_keep_their_frames(data: st.DataObject) -> None:
    frames = data.draw(st.integers(1, 10))
    held = sorted(data.draw(st.lists(st.integers(0, frames - 1), min_size=1, max_size=6)))
    shots = [Shot(frame=f, held=True, emptiness=data.draw(maybe)) for f in held]
    for _ in range(data.draw(st.integers(0, 4))):
        shots.insert(data.draw(st.integers(0, len(shots))), Shot(emptiness=data.draw(maybe)))
    found = align(shots, frames)
    assert all(frame == shot.frame for (frame, _), shot in zip(found.assigned, shots, strict=True) if shot.held)


# --- by likeness alone ---


@pytest.mark.parametrize(
    ("meaning", "matrix", "expected"),
    [
        ("shuffled", [[0.1, 0.9], [0.95, 0.2]], [Likely(1, True, 0.9, 0), Likely(0, True, 0.95, 1)]),
        ("two files of one frame", [[0.9, 0.1], [0.88, 0.2]], [Likely(0, True, 0.9, 1), Likely(0, True, 0.88, 1)]),
        ("of no frame, clearly", [[0.3, 0.1]], [Likely(None, True, 0.3, 0)]),
        ("of no frame, nearly one", [[0.65, 0.1]], [Likely(None, False, 0.65, 0)]),
        ("at the threshold and the margin", [[0.7, 0.6]], [Likely(0, True, 0.7, 1)]),
        ("two frames alike", [[0.9, 0.85]], [Likely(0, False, 0.9, 1)]),
        ("two views of one motif", [[0.9, 0.89], [0.91, 0.88]], [Likely(1, False, 0.89, 0), Likely(0, False, 0.91, 1)]),
        ("a sure file keeps its frame", [[0.9, 0.5], [0.92, 0.88]], [Likely(0, True, 0.9, 1), Likely(1, False, 0.88, 0)]),
        ("nothing known", [[None, None]], [Likely(None, False, None, None)]),
        ("one frame with a picture", [[None, 0.8]], [Likely(1, True, 0.8, None)]),
        ("no files", [], []),
    ],
)
def test_files_find_their_frames_by_likeness(meaning: str, matrix: Table, expected: list[Likely]) -> None:
    assert list(assign_by_likeness(matrix)) == expected, meaning


@given(st.permutations(range(8)), st.integers(0, 1000))
def test_the_order_of_the_files_does_not_matter_where_all_is_clear(order: list[int], seed: int) -> None:
    rng = random.Random(seed)
    matrix = [[rng.uniform(0.85, 1) if f == shown else rng.uniform(0, 0.6) for f in range(8)] for shown in order]
    assert [one.frame for one in assign_by_likeness(matrix)] == order
