"""Which shot shows which frame: the order of capture laid against the order of the film.

Copying a roll strip by strip goes along the film, so order carries much: but
frames are left out, taken twice or bracketed, the bare table is taken, and a
strip may lie the other way round. Every such thing has a cost
(`catalogue.scans.match.evidence`), and the cheapest whole course is taken
(`catalogue.scans.match.course_search`). numpy is imported here: import this module
where files are matched.

Shots and frames are counted from 0 in arguments and results, from 1 in sentences.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby

import numpy as np

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import MAX_FRAMES
from catalogue.scans.match.course_search import CourseSearch, steps_between
from catalogue.scans.match.evidence import IMPOSSIBLE, TURN, UNIT, Alike, Evidence, Role, Shot, share, whole_units

MAX_SHOTS = 1000
SURE_FROM = 0.6
"""Confidence below this is a doubt."""


@dataclass(frozen=True)
class Alignment:
    """What each shot shows. `assigned`: (frame or None, role) per shot; `confidence` 0 to 1 per shot.

    Confidence is tanh(margin / 2), where the margin is how much more the best course costs in which the
    shot shows another frame, or none in place of one; `instead` is what it shows there. `doubts` are
    sentences. `cost` is in natural units; `turned` holds the frames (first, last) of strips copied backwards.
    """

    assigned: tuple[tuple[int | None, Role], ...]
    confidence: tuple[float, ...]
    instead: tuple[int | None, ...]
    doubts: tuple[str, ...]
    cost: float
    turned: tuple[tuple[int, int], ...] = ()
    from_the_end: bool = False


def align(
    shots: Sequence[Shot],
    frame_count: int,
    *,
    strips: Sequence[int] = (),
    blank: Collection[int] = (),
    alike: Alike = None,
    likeness: Sequence[Sequence[float | None]] | None = None,
    may_turn: bool = True,
    labels: Sequence[str] = (),
) -> Alignment:
    """The cheapest course of the shots along the film, the same for the same input.

    `strips`: frames per strip in film order, as cut; none given means uncut. `blank`: frames known to hold
    no picture. `alike(i, j)` or `alike[i][j]`, i < j: how alike two shots look, 0 to 1. `likeness[shot][frame]`:
    how alike a shot and the frame's known picture look, 0 to 1. None means unknown throughout. A strip may be
    copied backwards, and the roll from its end, unless `may_turn` is False. `labels` name frames in sentences.
    Raises `InvalidInput` for sizes that don't agree and for held shots that contradict the order.
    """
    _check(shots, frame_count, strips, blank, likeness, labels)
    evidence = Evidence(tuple(shots), tuple(strips) or (frame_count,), frozenset(blank), alike, likeness)
    steps = steps_between(evidence)
    ways = [CourseSearch(evidence, False, may_turn, steps)]
    surcharge = [0]
    if may_turn and len(evidence.strips) > 1:  # one strip turned is the roll from its end already
        ways.append(CourseSearch(evidence, True, may_turn, steps))
        surcharge.append(whole_units(TURN))
    costs = [way.cost + more for way, more in zip(ways, surcharge, strict=True)]
    best = costs.index(min(costs))
    if costs[best] >= IMPOSSIBLE:
        held = [f"shot {n + 1} to frame {_name(s.frame, labels)}" for n, s in enumerate(shots) if s.held]
        named = ", ".join(held[:6]) + (" …" if len(held) > 6 else "")
        raise InvalidInput(
            f"The film can't run through all frames that shots are held to: {named}. Let one go, or say how the strips are cut."
        )
    assigned: list[tuple[int | None, Role]] = [(None, "extra")] * len(shots)
    before: tuple[int, int] | None = None
    directions: dict[int, set[tuple[int, int]]] = {}
    strip_of = [k for k, count in enumerate(evidence.strips) for _ in range(count)]
    for shot, state in ways[best].course():
        role: Role = evidence.repeat_role(before[0], shot)[0] if before and before[1] == state else "frame"
        assigned[shot] = (state // 2, role)
        directions.setdefault(strip_of[state // 2], set()).add((state // 2, state % 2))
        before = (shot, state)
    starts = [0, *accumulate(evidence.strips)]
    turned = tuple(
        (starts[k], starts[k + 1] - 1) for k, seen in sorted(directions.items()) if len(seen) > 1 and any(t for _, t in seen)
    )
    marginal = np.minimum.reduce([way.marginal + more for way, more in zip(ways, surcharge, strict=True)])
    confidence, instead = [], []
    for shot, (frame, _) in enumerate(assigned):
        others = marginal[shot].copy()
        others[frame_count if frame is None else frame] = 2 * IMPOSSIBLE
        other = int(others.argmin())
        confidence.append(math.tanh((int(others[other]) - costs[best]) / UNIT / 2))
        instead.append(None if other == frame_count else other)
    doubts = _doubts(shots, assigned, confidence, instead, evidence, turned, best == 1, labels)
    return Alignment(
        tuple(assigned), tuple(confidence), tuple(instead), doubts, costs[best] / UNIT, turned, from_the_end=best == 1
    )


def _check(
    shots: Sequence[Shot],
    frame_count: int,
    strips: Sequence[int],
    blank: Collection[int],
    likeness: Sequence[Sequence[float | None]] | None,
    labels: Sequence[str],
) -> None:
    if not 1 <= frame_count <= MAX_FRAMES:
        raise InvalidInput(f"A roll holds 1 to {MAX_FRAMES} frames here, not {frame_count}.")
    if len(shots) > MAX_SHOTS:
        raise InvalidInput(f"{len(shots)} shots are too many for one roll; up to {MAX_SHOTS} are matched. Name a smaller folder.")
    if strips and (min(strips) < 1 or sum(strips) != frame_count):
        raise InvalidInput(
            f"The strips hold {sum(strips)} frames and the roll {frame_count}. Give each strip its count, 1 or more."
        )
    if labels and len(labels) != frame_count:
        raise InvalidInput(f"There are {len(labels)} labels for {frame_count} frames. Give one for each.")
    outside = [f for f in (*blank, *(s.frame for s in shots if s.frame is not None)) if not 0 <= f < frame_count]
    if outside:
        raise InvalidInput(f"Frame {outside[0] + 1} isn't on this roll, which has {frame_count} frames.")
    if likeness is not None:
        if len(likeness) != len(shots) or any(len(row) != frame_count for row in likeness):
            raise InvalidInput(f"The likeness must have {len(shots)} rows, one for each shot, of {frame_count} frames.")
        for row in likeness:
            for value in row:
                share(value, "Likeness")


def _name(frame: int | None, labels: Sequence[str]) -> str:
    return "none" if frame is None else labels[frame] if labels else str(frame + 1)


def _doubts(
    shots: Sequence[Shot],
    assigned: Sequence[tuple[int | None, Role]],
    confidence: Sequence[float],
    instead: Sequence[int | None],
    evidence: Evidence,
    turned: Sequence[tuple[int, int]],
    from_the_end: bool,
    labels: Sequence[str],
) -> tuple[str, ...]:
    """Sentences, the widest doubt first."""
    said: list[str] = []
    frames = sum(evidence.strips)
    doubtful = [n for n, sure in enumerate(confidence) if sure < SURE_FROM]
    surplus = [n for n, (_, role) in enumerate(assigned) if role != "frame"]
    if surplus and doubtful:
        which = ", ".join(f"{n + 1} ({assigned[n][1]})" for n in surplus[:8]) + (" …" if len(surplus) > 8 else "")
        said.append(
            f"There are {len(shots)} shots for {frames} frames. {len(surplus)} can't be a frame of their own: "
            f"taken as such {'is' if len(surplus) == 1 else 'are'} {which}, but that is not certain."
        )
    if from_the_end:
        said.append("The roll seems to be copied from its end.")
    for first, last in turned:
        said.append(
            f"The strip with frames {_name(first, labels)} to {_name(last, labels)} seems to be copied the other way round."
        )
    for _, group in groupby(enumerate(doubtful), key=lambda pair: pair[1] - pair[0]):
        run = [n for _, n in group]
        weakest = min(run, key=lambda n: (confidence[n], n))
        which = f"Shot {run[0] + 1} is" if len(run) == 1 else f"Shots {run[0] + 1} to {run[-1] + 1} are"
        taken, other = assigned[weakest][0], instead[weakest]
        one = f"frame {_name(taken, labels)}" if taken is not None else "no frame"
        two = f"frame {_name(other, labels)}" if other is not None else "no frame"
        said.append(f"{which} doubtful: shot {weakest + 1} is taken as {one} and may be {two}.")
    for n, shot in enumerate(shots):
        if shot.frame is not None and shot.frame != assigned[n][0]:
            said.append(
                f"Shot {n + 1} is named as frame {_name(shot.frame, labels)}, but its place in the order says "
                f"{'frame ' + _name(assigned[n][0], labels) if assigned[n][0] is not None else 'no frame'}."
            )
    missing = [f for f in range(frames) if f not in {frame for frame, _ in assigned} and f not in evidence.blank]
    if missing:
        which = ", ".join(_name(f, labels) for f in missing[:8]) + (" …" if len(missing) > 8 else "")
        said.append(f"{'Frame' if len(missing) == 1 else 'Frames'} {which} {'has' if len(missing) == 1 else 'have'} no shot.")
    return tuple(said)


def doubts_first(alignment: Alignment) -> tuple[int, ...]:
    """The shots in the order in which a person should look at them: least certain first, equal ones as taken."""
    return tuple(sorted(range(len(alignment.confidence)), key=lambda n: (round(alignment.confidence[n], 9), n)))
