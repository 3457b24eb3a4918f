"""The cheapest course of shots along the film: an exact search by dynamic programming over the costs of the evidence.

numpy is imported here: import this module where files are matched.
"""

from itertools import accumulate, pairwise

import numpy as np
import numpy.typing as npt

from catalogue.scans.match.evidence import IMPOSSIBLE, TURN, Course, Evidence, whole_units

Costs = npt.NDArray[np.int64]
"""In whole cost units."""
MAX_EXTRA_RUN = 40
"""Most extra shots between two that show frames; before the first and behind the last there may be any number."""


class CourseSearch:
    """The search in one direction of the roll. A state is a frame and whether its strip lies turned: 2 × frame + turned."""

    def __init__(self, evidence: Evidence, backwards: bool, may_turn: bool, steps: dict[Course, Costs]) -> None:
        self.evidence, self.backwards, self.steps = evidence, backwards, steps
        starts = [0, *accumulate(evidence.strips)]
        strips = [list(range(a, b)) for a, b in pairwise(starts)]
        travel = [strip[::-1] if backwards else strip for strip in (strips[::-1] if backwards else strips)]
        frames, turn = starts[-1], whole_units(TURN)
        self.same = np.full((2 * frames, 2 * frames), IMPOSSIBLE, np.int64)
        self.along, self.across = self.same.copy(), self.same.copy()
        self.start = np.full(2 * frames, IMPOSSIBLE, np.int64)
        self.end = self.start.copy()
        np.fill_diagonal(self.same, 0)
        first = [0, *accumulate(evidence.strip_end_left_out(strip, "first") for strip in travel)]
        inside = [0, *accumulate(evidence.strip_end_left_out(strip) for strip in travel)]
        last = [0, *accumulate(evidence.strip_end_left_out(strip, "last") for strip in travel)]
        states: list[tuple[int, int, int]] = []  # state, strip in travel, turned
        heads, tails = np.zeros(2 * frames, np.int64), np.zeros(2 * frames, np.int64)
        for k, strip in enumerate(travel):
            for turned in (0, 1) if may_turn else (0,):
                run = strip[::-1] if turned else strip
                for r, frame in enumerate(run):
                    state = 2 * frame + turned
                    states.append((state, k, turned))
                    heads[state] = evidence.strip_end_left_out(run[:r])
                    tails[state] = evidence.strip_end_left_out(run[r + 1 :])
                    self.start[state] = first[k] + evidence.strip_end_left_out(run[:r], "first") + turn * turned
                    self.end[state] = evidence.strip_end_left_out(run[r + 1 :], "last") + last[-1] - last[k + 1]
                    between = 0
                    for later in run[r + 1 :]:
                        self.along[state, 2 * later + turned] = between
                        between += evidence.left_out(later)
        at = np.array([state for state, _, _ in states])
        strip_of, turned_of = np.array([k for _, k, _ in states]), np.array([turned for _, _, turned in states])
        inner = np.array(inside)
        cost = tails[at][:, None] + heads[at][None, :] + inner[strip_of][None, :] - inner[strip_of + 1][:, None]
        cost = cost + turn * (turned_of[:, None] != turned_of[None, :])
        self.across[np.ix_(at, at)] = np.where(strip_of[None, :] > strip_of[:, None], cost, IMPOSSIBLE)
        self.frames = frames
        self._run()

    def _run(self) -> None:
        evidence, n = self.evidence, len(self.evidence.shots)
        self.node = np.array([[evidence.shows(s, f) for f in range(self.frames) for _ in (0, 1)] for s in range(n)], np.int64)
        self.lead = np.array([0, *accumulate(evidence.extra(s, "first") for s in range(n))], np.int64)
        rest = list(accumulate(evidence.extra(s, "last") for s in reversed(range(n))))
        self.trail = np.array([*reversed(rest), 0], np.int64)  # [s]: shots s and later are extra
        self.move: dict[Course, Costs] = {"same": self.same, "along": self.along, "next strip": self.across}
        shape = (n, 2 * self.frames)
        self.forward, self.backward = np.empty(shape, np.int64), np.empty(shape, np.int64)
        # Costs up to a shot, after the move that follows it; the move doesn't know yet which shot is next.
        self.moved: dict[Course, Costs] = {course: np.empty(shape, np.int64) for course in self.move}
        for s in range(n):
            best = self.lead[s] + self.start
            near = slice(max(0, s - MAX_EXTRA_RUN - 1), s)
            for course in self.move:
                if s:
                    best = np.minimum(best, (self.moved[course][near] + self.steps[course][near, s, None]).min(axis=0))
            self.forward[s] = np.minimum(best + self.node[s], IMPOSSIBLE)
            for course, move in self.move.items():
                after = self.forward[s] if course == "same" else (self.forward[s][:, None] + move).min(axis=0)
                self.moved[course][s] = np.minimum(after, IMPOSSIBLE)
        came: dict[Course, Costs] = {course: np.empty(shape, np.int64) for course in self.move}
        for s in reversed(range(n)):
            best = self.end + self.trail[s + 1]
            near = slice(s + 1, s + MAX_EXTRA_RUN + 2)
            for course in self.move:
                if s + 1 < n:
                    best = np.minimum(best, (came[course][near] + self.steps[course][s, near, None]).min(axis=0))
            self.backward[s] = np.minimum(best, IMPOSSIBLE)
            for course, move in self.move.items():
                rest_of_it = self.node[s] + self.backward[s]
                came[course][s] = rest_of_it if course == "same" else (move + rest_of_it[None, :]).min(axis=1)
                came[course][s] = np.minimum(came[course][s], IMPOSSIBLE)
        whole = self.forward + self.backward
        nothing = int(self.trail[0]) + int(sum(evidence.strip_end_left_out(strip, "last") for strip in self._strips()))
        self.cost = min(nothing, int(whole.min())) if n else nothing
        # Per shot: the cheapest course in which it shows each frame; in the last column, none.
        self.marginal = np.empty((n, self.frames + 1), np.int64)
        if n:
            self.marginal[:, :-1] = whole.reshape(n, self.frames, 2).min(axis=2)
            self._extras(nothing)

    def _strips(self) -> list[range]:
        starts = [0, *accumulate(self.evidence.strips)]
        return [range(a, b) for a, b in pairwise(starts)]

    def _extras(self, nothing: int) -> None:
        """Per shot the cheapest course that passes over it: between two shots, before the first, behind the last."""
        n = len(self.evidence.shots)
        after = self.node + self.backward
        first = self.lead[:n] + (self.start + after).min(axis=1)
        last = (self.forward + self.end).min(axis=1) + self.trail[1:]
        over = np.full((n, n), 4 * IMPOSSIBLE, np.int64)
        for a in range(n):
            for course, moved in self.moved.items():
                near = slice(a + 1, a + MAX_EXTRA_RUN + 2)
                through = (moved[a][None, :] + after[near]).min(axis=1) + self.steps[course][a, near]
                over[a, near] = np.minimum(over[a, near], through)
        for s in range(n):
            ways = [nothing, *first[s + 1 :], *last[:s]]
            if 0 < s < n - 1:
                ways.append(over[:s, s + 1 :].min())
            self.marginal[s, -1] = min(ways)

    def course(self) -> list[tuple[int, int]]:
        """The cheapest course: (shot, state) of each shot that shows a frame. Of equal ones the plainest."""
        n = len(self.evidence.shots)
        finish = self.forward + self.end + self.trail[1:, None] if n else np.empty((0, 0), np.int64)
        if not n or finish.min() > self.cost:
            return []
        shot, state = (int(i) for i in np.argwhere(finish == self.cost)[-1])
        found = [(shot, state)]
        while (shot, state) not in self._starts(shot, state):
            shot, state = self._before(shot, state)
            found.append((shot, state))
        return found[::-1]

    def _starts(self, shot: int, state: int) -> list[tuple[int, int]]:
        begun = self.lead[shot] + self.start[state] + self.node[shot, state] == self.forward[shot, state]
        return [(shot, state)] if begun else []

    def _before(self, shot: int, state: int) -> tuple[int, int]:
        wanted = self.forward[shot, state] - self.node[shot, state]
        for a in reversed(range(max(0, shot - MAX_EXTRA_RUN - 1), shot)):
            for course, move in self.move.items():
                if self.moved[course][a, state] + self.steps[course][a, shot] == wanted:
                    return a, int((self.forward[a] + move[:, state]).argmin())
        raise AssertionError("every state has one before it or begins the course")


def steps_between(evidence: Evidence) -> dict[Course, Costs]:
    """[before, shot] for every two shots that may follow each other with only extras between."""
    n = len(evidence.shots)
    found: dict[Course, Costs] = {}
    courses: tuple[Course, ...] = ("same", "along", "next strip")
    for course in courses:
        found[course] = np.full((n, n), IMPOSSIBLE, np.int64)
        for shot in range(n):
            for before in range(max(0, shot - MAX_EXTRA_RUN - 1), shot):
                found[course][before, shot] = evidence.step(before, shot, course)
    return found
