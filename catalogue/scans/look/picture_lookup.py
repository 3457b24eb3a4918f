"""Which frame a picture shows: all words are gone through, then the best frames are looked at more and more closely.

Loads numpy with it, so load this module where pictures are looked for.
"""

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalogue.errors import InvalidInput
from catalogue.scans.look import fingerprints as fp
from catalogue.scans.look.fingerprints import Fingerprint, Floats, Window

Words = NDArray[np.uint64]
Whole = NDArray[np.intp]
Small = NDArray[np.float32]

STANDINGS = tuple((mirrored, turns) for mirrored in (False, True) for turns in range(4))
FOUND = 0.8
"""From this score on it is the frame; below, it isn't sure. Measured, no published source: with 3,000 other pictures blended
of photographs in the index, four times over, the best wrong scores of 1,080 looked-for pictures were 0.78 and 0.77, one in a
hundred above 0.74, and the highest belonged to pictures of few and simple shapes. Of 402 copies of photographs, textures and
drawn pictures (from their negatives), re-toned, turned, cropped to 60 % at worst and compressed, 98 % were found first and
93 % with 0.8 and more; a brick wall cropped so was missed most. Two photographs of one subject from nearly one place reach
0.9 and are shown together.
"""
DETAIL = 16
"""Frequencies along each side that are compared in the end."""
TRUSTED_BITS = 44
"""So many of a word's 63 bits are asked: those of the looked-for picture that a small shift of its edges changes least."""
SHIFT = 0.05
BLOCK = 2048
"""Frames gone through at a time: few enough for a processor's own memory, enough that two threads don't wait for each other."""
LOOKED_AT = 400
GUESSED = 8
"""Ways in which each of these may hold the picture: windows and standings whose words agree best."""
STEPS = ((24, 8, 0.035), (16, 8, 0.02), (12, 12, 0.014), (10, DETAIL, 0.007), (10, DETAIL, 0.004))
"""Looking closer: how many frames, how many frequencies, and how far each edge is tried to either side."""


@dataclass(frozen=True)
class Match:
    """A frame that may be the one, and how the looked-for picture lies in it.

    `score` runs from 0 to 1. The picture is the `window` of the frame (left, right, top, bottom, as parts of the frame,
    origin top left), first mirrored left to right if `mirrored`, then turned anticlockwise by `quarter_turns`, and
    `inverted` in its tones.
    """

    key: int
    score: float
    mirrored: bool
    quarter_turns: int
    inverted: bool
    window: Window

    @property
    def found(self) -> bool:
        """Whether the score says that it is this frame."""
        return self.score >= FOUND


def standing_words(mirrored: bool, quarter_turns: int) -> list[str]:
    """How a picture lies beside another, in words; none where it stands as it should."""
    words = ["mirrored"] if mirrored else []
    if quarter_turns:
        words.append("upside down" if quarter_turns == 2 else "lying on its side")
    return words


def turned_back(found: Floats, mirrored: bool, quarter_turns: int) -> Floats:
    """The frequencies (… × n × n) of a picture from which this turning, and then this mirroring, is taken back."""
    signs = (-1.0) ** np.arange(found.shape[-1])
    for _ in range(quarter_turns):
        found = found.swapaxes(-1, -2) * signs
    return found * signs if mirrored else found


@cache
def _weights(kept: int) -> Floats:
    """How much each frequency counts: in photographs the amplitude falls off with the frequency, and this makes up for it."""
    far = np.hypot(*np.mgrid[0:kept, 0:kept])
    weights: Floats = np.where(far < kept, far, 0.0)
    return weights


def _all_standings(found: Floats) -> Floats:
    return np.stack([turned_back(found, mirrored, turns) for mirrored, turns in STANDINGS])


@dataclass(frozen=True)
class _Probe:
    """The looked-for picture in all eight standings: words, the bits of them that are asked, and the frequencies."""

    words: Words
    asked: Words
    found: Floats

    @classmethod
    def of(cls, query: Fingerprint) -> "_Probe":
        ranked = fp.ranks(query.small.reshape(1, -1).astype(np.float64)).reshape(query.small.shape)
        taken = fp.whole_waves(fp.SMALL, DETAIL)
        found = taken @ ranked @ taken.T
        low = found[: fp.KEPT, : fp.KEPT]
        edges = np.array([0.0, SHIFT])
        spans = fp.waves(np.repeat(edges, 2), 1 - np.tile(edges, 2), fp.SMALL, fp.KEPT)
        shifted = spans[:, None] @ ranked @ spans.swapaxes(-1, -2)[None, :]
        firm = np.abs(low) / np.sqrt(np.mean((shifted - low) ** 2, axis=(0, 1)) + 1e-12)
        firm[0, 0] = -1
        asked = np.zeros(firm.size)
        asked[np.argsort(-firm.ravel(), kind="stable")[:TRUSTED_BITS]] = 1
        return cls(
            fp.sign_words(_all_standings(low)),
            fp.sign_words(np.abs(_all_standings(asked.reshape(firm.shape)))),
            _all_standings(found),
        )

    def weighted(self, kept: int) -> Small:
        """The frequencies in every standing, weighted and brought to length 1."""
        found = self.found[:, :kept, :kept] * _weights(kept)
        length = np.linalg.norm(found.reshape(len(found), -1), axis=1)
        weighted: Small = (found / np.maximum(length, 1e-12)[:, None, None]).astype(np.float32)
        return weighted


@dataclass(frozen=True)
class _Guesses:
    """Frames by their place in the index, with standing, window (rows of four) and signed likeness, best first."""

    frames: Whole
    standings: Whole
    windows: Floats
    likeness: Floats

    def best(self, count: int) -> "_Guesses":
        order = np.argsort(-np.abs(self.likeness), kind="stable")[:count]
        return _Guesses(self.frames[order], self.standings[order], self.windows[order], self.likeness[order])


def _likeness(found: Small, weighted: Small) -> Floats:
    """Signed likeness from -1 to 1 of frequencies (… × n × n) to weighted ones of length 1."""
    found = found * _weights(found.shape[-1]).astype(np.float32)
    shared = np.einsum("...uv,...uv->...", found, weighted)
    length = np.sqrt(np.einsum("...uv,...uv->...", found, found))
    likeness: Floats = (shared / np.maximum(length, 1e-6)).astype(np.float64)
    return likeness


def _centred(small: NDArray[np.uint8], frames: Whole) -> Small:
    return small[frames].astype(np.float32) - np.float32(127.5)


def _waves(spans: NDArray[Any], kept: int) -> Small:
    """The waves over spans given as pairs of edges along the last axis."""
    single = spans.astype(np.float32)
    return fp.waves(single[..., 0], single[..., 1], fp.SMALL, kept)


@cache
def _over_windows(kept: int) -> tuple[Small, Small]:
    """The waves down and across each of the windows kept of a frame."""
    edges = np.array(fp.windows())
    return _waves(edges[:, 2:], kept), _waves(edges[:, :2], kept)


def _glance(small: NDArray[np.uint8], probe: _Probe, frames: Whole, standings: Whole, which: Whole, kept: int) -> _Guesses:
    """How like the picture is to the given windows of the given frames, in the given standings."""
    likeness = np.zeros(len(frames))
    weighted = probe.weighted(kept)
    down, across = _over_windows(kept)
    known, place = np.unique(frames, return_inverse=True)
    cells = _centred(small, known)
    for number in np.unique(which):
        here = np.flatnonzero(which == number)
        # Small products one by one: a large one would be shared out among threads, which wait long on a busy machine.
        found: Small = down[number] @ (cells[place[here]] @ across[number].T)
        likeness[here] = _likeness(found, weighted[standings[here]])
    return _Guesses(frames, standings, np.array(fp.windows())[which], likeness)


def _along(cells: Small, weighted: Small, across: Floats, down: Floats, step: float) -> Floats:
    """The spans `across` (rows of two) moved to the best of nine: each edge stays or goes a step to either side.

    `cells` are the small pictures, `down` the spans held in the other direction, `weighted` the frequencies looked for.
    """
    moves = np.stack([tried.ravel() for tried in np.meshgrid((0.0, -step, step), (0.0, -step, step))], axis=1)
    kept = weighted.shape[-1]
    held: Small = _waves(down, kept) @ cells
    spans = across[:, None] + moves
    found: Small = held[:, None] @ _waves(spans, kept).swapaxes(-1, -2)
    best = np.argmax(np.abs(_likeness(found, weighted[:, None])), axis=1)
    chosen: Floats = spans[np.arange(len(spans)), best]
    return chosen


def _closer(small: NDArray[np.uint8], probe: _Probe, guesses: _Guesses, kept: int, step: float) -> _Guesses:
    """Moves each edge of each window by a step at most, to where the picture is most alike."""
    cells = _centred(small, guesses.frames)
    weighted = probe.weighted(kept)[guesses.standings]
    across, down = guesses.windows[:, :2], guesses.windows[:, 2:]
    across = _along(cells, weighted, across, down, step)
    down = _along(cells.swapaxes(1, 2), weighted.swapaxes(1, 2), down, across, step)
    rows: Small = _waves(down, kept) @ cells
    found: Small = rows @ _waves(across, kept).swapaxes(1, 2)
    return _Guesses(guesses.frames, guesses.standings, np.hstack([across, down]), _likeness(found, weighted))


def _settle(small: NDArray[np.uint8], probe: _Probe, guesses: _Guesses) -> _Guesses:
    """Looks at the best guesses more and more closely."""
    for count, kept, step in STEPS:
        guesses = _closer(small, probe, guesses.best(count), kept, step)
    return guesses.best(len(guesses.frames))


def _match(key: int, guesses: _Guesses, at: int) -> Match:
    mirrored, turns = STANDINGS[guesses.standings[at]]
    left, right, top, bottom = (round(float(edge), 4) for edge in guesses.windows[at])
    likeness = float(guesses.likeness[at])
    return Match(key, min(1.0, abs(likeness)), mirrored, turns, likeness < 0, (left, right, top, bottom))


class PictureIndex:
    """The fingerprints of an archive, ready to be searched; about 1.3 kB of memory for each frame."""

    def __init__(self, entries: Iterable[tuple[int, bytes]] = ()) -> None:
        """From pairs of a key and a fingerprint's bytes. Raises `InvalidInput` for bytes that are no fingerprint."""
        count = len(fp.windows())
        keys, words, smalls = [], [], []
        for key, stored in entries:
            fp.check_bytes(stored)
            if not fp.holds_enough(stored):
                continue
            keys.append(key)
            words.append(fp.words_in(stored))
            smalls.append(fp.small_in(stored))
        self._keys = np.array(keys, dtype=np.int64)
        self._small = np.frombuffer(b"".join(smalls), np.uint8).reshape(-1, fp.SMALL, fp.SMALL)
        blocks = -(-len(keys) // BLOCK)
        padded = np.zeros((blocks * BLOCK, count), dtype=np.uint64)
        padded[: len(keys)] = np.frombuffer(b"".join(words), "<u8").reshape(-1, count)
        # Window by window within a block, so that the best window is found by whole rows at a time.
        self._words: Words = np.ascontiguousarray(padded.reshape(blocks, BLOCK, count).transpose(0, 2, 1))

    def __len__(self) -> int:
        """How many frames can be found; a picture with too little in it can't."""
        return len(self._keys)

    def _go_through(self, probe: _Probe, blocks: range, agreement: NDArray[np.uint8]) -> None:
        shape = self._words.shape[1:]
        kept, differing = np.empty(shape, np.uint64), np.empty(shape, np.uint64)
        counts, least, most = (np.empty(shape, np.uint8) for _ in range(3))
        # Mirroring changes signs only, so that four standings ask the same bits.
        groups = [(asked, probe.words[probe.asked == asked] & asked) for asked in np.unique(probe.asked)]
        for block in blocks:
            least.fill(TRUSTED_BITS)
            most.fill(0)
            for asked, words in groups:
                np.bitwise_and(self._words[block], asked, out=kept)
                for word in words:
                    np.bitwise_xor(kept, word, out=differing)
                    np.bitwise_count(differing, out=counts)
                    np.minimum(least, counts, out=least)
                    np.maximum(most, counts, out=most)
            # Nearly all bits differing is as good as nearly none: that is the inverted picture.
            agreement[block] = np.maximum(TRUSTED_BITS - least.min(axis=0), most.max(axis=0))

    def _agreement(self, probe: _Probe) -> NDArray[np.uint8]:
        """For each frame, how many of the asked bits agree in its best window and standing."""
        blocks = len(self._words)
        agreement = np.empty((blocks, BLOCK), np.uint8)
        half = blocks // 2
        with ThreadPoolExecutor(2) as two:
            list(two.map(lambda part: self._go_through(probe, part, agreement), (range(half), range(half, blocks))))
        return agreement.ravel()[: len(self._keys)]

    def _guesses(self, probe: _Probe, frames: Whole) -> _Guesses:
        """The few windows and standings in which each of these frames agrees best."""
        words = self._words[frames // BLOCK, :, frames % BLOCK]
        differing = (words[:, None] ^ probe.words[:, None]) & probe.asked[:, None]
        apart = np.abs(2 * np.bitwise_count(differing).astype(np.int16) - TRUSTED_BITS).reshape(len(frames), -1)
        best = np.argpartition(apart, -GUESSED, axis=1)[:, -GUESSED:].ravel()
        standings, which = np.divmod(best, len(fp.windows()))
        return _glance(self._small, probe, np.repeat(frames, GUESSED), standings, which, STEPS[0][1])

    def rank(self, query: Fingerprint | NDArray[Any], limit: int = 10) -> list[Match]:
        """The frames most like the picture, best first, at most `limit` and never more than 10.

        Empty for a picture with too little in it: ask `Fingerprint.enough` and say so. Raises `InvalidInput` for a limit
        below 1.
        """
        if limit < 1:
            raise InvalidInput(f"At least 1 frame must be asked for, not {limit}.")
        picture = query if isinstance(query, Fingerprint) else fp.fingerprint_of(query)
        if not picture.enough or not len(self):
            return []
        probe = _Probe.of(picture)
        agreement = self._agreement(probe)
        frames = np.argpartition(agreement, -min(LOOKED_AT, len(self)))[-LOOKED_AT:]
        found = _settle(self._small, probe, self._guesses(probe, frames))
        _, first = np.unique(found.frames, return_index=True)
        return [_match(int(self._keys[found.frames[at]]), found, at) for at in np.sort(first)[:limit]]


def _within(one: Fingerprint, two: Fingerprint) -> Match:
    """How the picture two lies in the picture one, which shows as much or more."""
    probe = _Probe.of(two)
    standings, which = (tried.ravel() for tried in np.mgrid[0 : len(STANDINGS), 0 : len(fp.windows())])
    small = one.small[None]
    glance = _glance(small, probe, np.zeros(len(which), dtype=np.intp), standings, which, STEPS[0][1])
    return _match(0, _settle(small, probe, glance), 0)


def _seen_from_the_other(match: Match) -> Match:
    """How one lies to two, told as how two lies to one; two then reaches beyond one."""
    left, right, top, bottom = match.window
    wide, high = right - left, bottom - top
    window = (-left / wide, (1 - left) / wide, -top / high, (1 - top) / high)
    turns = match.quarter_turns if match.mirrored else -match.quarter_turns % 4
    for _ in range(turns):
        window = (1 - window[3], 1 - window[2], window[0], window[1])
    if match.mirrored:
        window = (1 - window[1], 1 - window[0], window[2], window[3])
    left, right, top, bottom = (round(edge, 4) for edge in window)
    return Match(match.key, match.score, match.mirrored, turns, match.inverted, (left, right, top, bottom))


def compare(one: Fingerprint, two: Fingerprint) -> Match:
    """How like the pictures are, and how two is turned, mirrored and inverted as seen from one; the key is 0.

    Either may be a crop of the other; where two shows more, its window reaches beyond 0 to 1. The score is 0 where
    either holds too little to say.
    """
    if not (one.enough and two.enough):
        return Match(0, 0.0, False, 0, False, (0.0, 1.0, 0.0, 1.0))
    inner, outer = _within(one, two), _within(two, one)
    return inner if inner.score >= outer.score else _seen_from_the_other(outer)
