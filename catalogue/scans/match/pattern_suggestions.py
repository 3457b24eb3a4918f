"""Patterns suggested for a person's own file names: drafted from single names, tried on all, the best ones told."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber
from catalogue.scans.match.name_patterns import (
    NamePattern,
    is_camera_name,
    roll_shape,
    roll_writings,
    small_letters,
    try_pattern,
)
from catalogue.scans.read.file_kinds import natural_key, split_ending

MAX_SUGGESTIONS = 5
_SAMPLE, _DRAFTS = 240, 40  # names looked at and patterns tried, so that a large folder answers at once
_FRAME_IN_NAME = re.compile(r"(?<![0-9])([0-9]{1,4}(?:[A-Za-z](?![A-Za-z0-9]))?)(?![0-9])")


@dataclass(frozen=True)
class Suggestion:
    """A pattern, or None for matching by order; `explained` of the names looked at get a frame without doubt."""

    pattern: NamePattern | None
    explained: int
    reason: str


def _plain(text: str) -> str:
    return re.sub(r"[0-9]+", "{number}", text)


def _drafts(stem: str, roll: str, labels: set[FrameNumber]) -> Iterator[str]:
    """Patterns that this one name suggests; some of them can't be read and are refused later."""
    folded = small_letters(stem)
    spans = [m.span() for m in re.finditer(rf"(?<![0-9])(?:{roll_shape(roll)})(?![0-9])(?![a-z](?![a-z0-9]))", folded)]
    # A number written whole has no frame in it; its last part alone may be one.
    parted = len(re.findall(r"[0-9]+|[^\W\d_]+", roll)) > 1
    whole = [span for span in spans if parted and re.fullmatch(roll_writings(roll)[0], folded[slice(*span)])]
    squeezed = re.sub(r"[\W_]", "", small_letters(roll))
    joined = re.search(rf"(?<![0-9]){squeezed}(?=[0-9])", folded) if squeezed.isdigit() else None
    if joined:
        for width in (2, 3, 1):
            rest = stem[joined.end() :]
            if re.fullmatch(rf"[0-9]{{{width}}}[A-Za-z]?", rest):
                yield f"{_plain(stem[: joined.start()])}{joined[0]}{{frame}}"
    for span in (None, *spans):
        for found in _FRAME_IN_NAME.finditer(stem):
            if FrameNumber.parse(found[1]) not in labels and not set(found[1]) <= {"0"}:
                continue
            if any(start <= found.start() < end for start, end in whole):
                continue
            if span is None:
                before, behind = _plain(stem[: found.start()]), _plain(stem[found.end() :])
            elif span[1] <= found.start():
                before = _plain(stem[: span[0]]) + "{roll}" + _plain(stem[span[1] : found.start()])
                behind = _plain(stem[found.end() :])
            elif found.end() <= span[0]:
                before = _plain(stem[: found.start()])
                behind = _plain(stem[found.end() : span[0]]) + "{roll}" + _plain(stem[span[1] :])
            else:
                continue
            mark = re.fullmatch(r"([\s_\-.]+\(?)[^\W_]{1,20}(\)?)", stem[found.end() :])
            tails = [behind, f"[{mark[1]}{{copy}}{mark[2]}]", f"{mark[1]}{{copy}}{mark[2]}"] if mark else [behind]
            loose_tails = ["{any}"] if behind and "{roll}" not in behind else []
            heads = [before, "{any}"] if before and span is None else [before]
            for head, tail in product(heads, [*tails, *loose_tails]):
                yield f"{head}{{frame}}{tail}"


def suggest_patterns(names: Sequence[str], roll: str, labels: Sequence[FrameNumber]) -> tuple[Suggestion, ...]:
    """Patterns that explain the names best, best first, then by their text: the same names give the same list.

    At most `MAX_SUGGESTIONS`. One without a pattern advises matching by order: first where most
    names are a camera's own count, last where no pattern explains half of them. A large folder is
    judged by `_SAMPLE` names spread evenly over it.
    """
    step = max(1, -(-len(names) // _SAMPLE))
    sample = sorted(names, key=natural_key)[::step]
    by_hand = [name for name in sample if not is_camera_name(name)]
    drafts: Counter[str] = Counter()
    for name in by_hand:
        if not re.search(r"[{}\[\]]", stem := split_ending(name)[0]):
            drafts.update(set(_drafts(stem, roll, set(labels))))
    ranked: list[tuple[tuple[int, int, int, int, int, str], NamePattern, dict[str, FrameNumber]]] = []
    for text, _ in sorted(drafts.items(), key=lambda item: (-item[1], len(item[0]), item[0]))[:_DRAFTS]:
        try:
            pattern = NamePattern.parse(text)
        except InvalidInput:
            continue
        tried = [one for one in try_pattern(pattern, by_hand, roll, labels) if one.frame]
        sure = {one.name: one.frame for one in tried if one.frame and not one.doubtful}
        looseness = sum(text.count(part) * cost for part, cost in (("{any}", 3), ("{copy}", 2), ("{number}", 1), ("[", 1)))
        # Different frames count before files: a constant number with a copy mark behind it explains nothing.
        order = (-len(set(sure.values())), -len(sure), len(tried) - len(sure), 0 if "{roll}" in text else 1, looseness, text)
        ranked.append((order, pattern, sure))
    chosen: list[tuple[NamePattern, dict[str, FrameNumber]]] = []
    for _, pattern, sure in sorted(ranked, key=lambda entry: entry[0]):
        if not sure or len(chosen) == MAX_SUGGESTIONS or any(sure.items() <= other.items() for _, other in chosen):
            continue
        best = chosen[0][1] if chosen else {}
        contradicts = any(best.get(name, frame) != frame for name, frame in sure.items())
        if not contradicts or len(set(sure.values())) * 2 >= len(set(best.values())):
            chosen.append((pattern, sure))
    found = [Suggestion(p, len(sure), f"{p.text} explains {len(sure)} of {len(sample)} names.") for p, sure in chosen]
    counted = len(sample) - len(by_hand)
    if counted * 2 > len(sample):
        reason = f"{counted} of {len(sample)} names are a camera's own count. Match them by the order in which they were taken."
        return (Suggestion(None, 0, reason), *found[: MAX_SUGGESTIONS - 1])
    if sample and (not found or found[0].explained * 2 < len(sample)):
        reason = "Most names say no frame of this roll. Match them by the order in which they were taken."
        return (*found[: MAX_SUGGESTIONS - 1], Suggestion(None, 0, reason))
    return tuple(found)
