"""How long finding a picture among 100,000 takes; run by hand: python tests/benchmark_lookup.py

It prints the time of a look-up and its ratio to going once over the same words with nothing but XOR and counting of
bits, for all eight standings. The fingerprints are made of drawn ones: bits turned over, small pictures shifted.
"""

import statistics
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from catalogue.scans.look import fingerprints as fp
from catalogue.scans.look.picture_lookup import PictureIndex

FRAMES = 100_000
DRAWN = 400
ROUNDS = 15


def drawn(numbers: np.random.Generator) -> np.ndarray:
    """A picture whose amplitude falls off with the frequency, as in photographs."""
    far = np.hypot(np.fft.fftfreq(128)[:, None], np.fft.rfftfreq(128)[None])
    far[0, 0] = 1
    waves = (numbers.normal(size=far.shape) + 1j * numbers.normal(size=far.shape)) / far ** numbers.uniform(0.9, 1.6)
    tones = np.fft.irfft2(waves, (128, 128))
    return (tones - tones.min()) / np.ptp(tones)


def perturbed(frames: list[fp.Fingerprint], numbers: np.random.Generator) -> Iterator[tuple[int, bytes]]:
    """As many fingerprints as asked for, each a drawn one with a third of its bits turned over."""
    for key in range(FRAMES):
        frame = frames[key % len(frames)]
        if key >= len(frames):
            flips = numbers.integers(0, 2**63, (3, len(frame.words)), dtype=np.uint64)
            turned = (flips[0] & flips[1]) | (flips[0] & flips[2] & ~flips[1])
            shift = tuple(int(step) for step in numbers.integers(0, fp.SMALL, 2))
            frame = fp.Fingerprint(np.roll(frame.small, shift, (0, 1)), frame.words ^ (turned & np.uint64(2**63 - 1)), True)
        yield key, frame.to_bytes()


def milliseconds(work: Callable[[], object]) -> float:
    """The median over some rounds, after one to warm up."""
    work()
    taken = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        taken.append((time.perf_counter() - start) * 1000)
    return statistics.median(taken)


def main() -> None:
    numbers = np.random.default_rng(1)
    pictures = [drawn(numbers) for _ in range(DRAWN)]
    index = PictureIndex(perturbed([fp.fingerprint_of(picture) for picture in pictures], numbers))
    looked_for = np.ascontiguousarray(np.rot90(pictures[7][10:118, 5:120]))
    query = fp.fingerprint_of(looked_for)
    best = index.rank(query)[0]

    words = numbers.integers(0, 2**63, (FRAMES // 500, 500 * len(fp.windows())), dtype=np.uint64)

    def bare() -> None:
        for standing in range(8):
            for some in words:
                np.bitwise_count(some ^ np.uint64(standing * 7919))

    whole, floor = milliseconds(lambda: index.rank(query)), milliseconds(bare)
    print(f"{len(index)} frames of {fp.BYTES} bytes; {words.nbytes / 1e6:.0f} MB of words, 8 standings")
    print(f"look-up {whole:.1f} ms, bare XOR and count in one thread {floor:.1f} ms, ratio {whole / floor:.2f}")
    print(f"the fingerprint of the looked-for picture: {milliseconds(lambda: fp.fingerprint_of(looked_for)):.1f} ms")
    print(f"found: frame {best.key} (should be 7), score {best.score:.2f}, turned by {best.quarter_turns} quarters")


if __name__ == "__main__":
    main()
