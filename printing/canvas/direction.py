"""The order of a line of text on paper: which way each character runs, after UAX #9, the Unicode Bidirectional Algorithm.

The rules are python-bidi's where it has them. It knows no isolates and no paired brackets; these are added.
"""

import re
import unicodedata
from itertools import groupby, takewhile
from typing import Any, TypeVar

from bidi import algorithm as bidi

T = TypeVar("T")

_BRACKETS = dict(zip("([{⟦⟨〈《「『【〔（［｛", ")]}⟧⟩〉》」』】〕）］｝", strict=True))
_STRONG = {"L": "L", "R": "R", "EN": "R", "AN": "R"}  # numbers count as right to left among neutrals
_OPENING, _END = "\u2066\u2067\u2068", "\u2069"
_BETWEEN = " · "  # between the fields of a line on a sheet
_NEUTRAL = "\ufffc"
_ISOLATED = re.compile(r"[\u2066-\u2068][^\u2069]*\u2069?")
_NUMBER = re.compile(r"[0-9A-Za-z]+(?:[-–/.:][0-9A-Za-z]+)+")
SIGNS = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e" + _OPENING + _END
"""Characters that set directions and leave no mark."""


def is_leftward(char: str) -> bool:
    """Whether a character is written right to left, or is a digit of such a script."""
    return unicodedata.bidirectional(char) in ("R", "AL", "AN")


def _rightward(text: str) -> bool:
    """Whether a line begins on the left: unless its first letter and most of the others are written right to left.

    UAX #9 goes by the first letter alone (P2, P3) and lets a program know better (HL1): sheets are written in English around
    people's own words, and one Arabic name at its start must not turn an English line over. As in P2, what is isolated does
    not count, nor do numbers with letters in them.
    """
    kinds = [unicodedata.bidirectional(char) for char in _NUMBER.sub("", _ISOLATED.sub("", text))]
    letters = [kind == "L" for kind in kinds if kind in ("L", "R", "AL")]
    return not letters or letters[0] or 2 * sum(letters) > len(letters)


def levels(text: str) -> list[int]:
    """The embedding level of each character; odd ones run right to left. 0 throughout where nothing needs ordering.

    What stands between middle dots is a field of its own (HL4, structured text): two fields in Hebrew keep their order in
    an English line, and each goes its own way within. A text with isolates of its own is left to them.
    """
    if not any(map(is_leftward, text)):
        return [0] * len(text)
    base = 0 if _rightward(text) else 1
    if _BETWEEN not in text or any(char in SIGNS for char in text):
        return _resolved(text, base)
    fields = text.split(_BETWEEN)
    found = _resolved(_BETWEEN.join(f"{_OPENING[2]}{field}{_END}" for field in fields), base)
    kept: list[int] = []
    at = 0
    for field in fields:
        kept += found[at + 1 : at + 1 + len(field)]
        at += len(field) + 2
        kept += found[at : at + len(_BETWEEN)]
        at += len(_BETWEEN)
    return kept


def _resolved(text: str, base: int) -> list[int]:
    """Levels of a text in a line of base level 0 or 1; an isolate counts as one neutral sign outside (rule X5a–c, BD9)."""
    outside, spans, n = "", [], 0
    while n < len(text):
        if text[n] in _OPENING:
            end, depth = n + 1, 1
            while end < len(text) and depth:
                depth += (text[end] in _OPENING) - (text[end] == _END)
                end += 1
            inside = text[n + 1 : end - (depth == 0)]
            spans.append((n, end, len(outside), inside))
            outside, n = outside + _NEUTRAL, end
        else:
            outside, n = outside + (_NEUTRAL if text[n] == _END else text[n]), n + 1
    whole = _ordered(outside, base)
    found: list[int] = []
    taken = 0
    for start, end, at, inside in spans:
        found += whole[taken:at]
        rightward = text[start] == _OPENING[0] or (text[start] == _OPENING[2] and _rightward(inside))
        raised = whole[at] + 1 + (whole[at] % 2 != rightward)
        own = [raised + level - raised % 2 for level in _resolved(inside, raised % 2)]
        found += [whole[at], *own, *([whole[at]] * (end - start - 1 - len(own)))]
        taken = at + 1
    return found + whole[taken:]


def _ordered(text: str, base: int) -> list[int]:
    """Levels by the library's rules, of a text without isolates."""
    line = bidi.get_empty_storage()
    line["base_level"], line["base_dir"] = base, "LR"[base]
    bidi.get_embedding_levels(text, line)
    for n, char in enumerate(line["chars"]):
        char["at"] = n
    bidi.explicit_embed_and_overrides(line)
    bidi.resolve_weak_types(line)
    held = {n for match in _NUMBER.finditer(text) for n in range(*match.span())}
    for char in line["chars"]:
        char["type"] = char["type"] or "ON"  # not in Python's Unicode tables yet
        if char["type"] == "ON" and char["at"] in held:
            # The hyphen in 2031-014 belongs to the number: by itself it would turn it to 014-2031 after Arabic (HL4).
            char["type"] = "AN"
    _pair_brackets(line)
    bidi.resolve_neutral_types(line, False)
    bidi.resolve_implicit_levels(line, False)
    known = {char["at"]: char["level"] for char in line["chars"]}
    found: list[int] = []
    for n in range(len(text)):  # joiners have been taken out by rule X9: they go with the character before
        found.append(known.get(n, found[-1] if found else base))
    return found


def _pair_brackets(line: dict[str, Any]) -> None:
    """Rule N0, which the library leaves out: both brackets of a pair go the way of what they hold or stand in."""
    for run in line["runs"]:
        chars = line["chars"][run["start"] : run["start"] + run["length"]]
        strong = [_STRONG.get(char["type"]) for char in chars]
        waiting: list[int] = []
        pairs = []
        for n, char in enumerate(chars):
            if char["type"] != "ON":
                continue
            if char["ch"] in _BRACKETS:
                waiting.append(n)
            opened = next((m for m in reversed(waiting) if _BRACKETS[chars[m]["ch"]] == char["ch"]), None)
            if opened is not None:
                pairs.append((opened, n))
                del waiting[waiting.index(opened) :]
        for opened, closed in sorted(pairs):
            along = "LR"[chars[opened]["level"] % 2]
            inside = {kind for kind in strong[opened + 1 : closed] if kind}
            if inside and along not in inside:
                along = next((kind for kind in reversed(strong[:opened]) if kind), run["sor"])
            if inside:
                for n in (opened, closed):
                    chars[n]["type"] = strong[n] = along
                    for mark in takewhile(lambda char: char["orig"] == "NSM", chars[n + 1 :]):
                        mark["type"] = along


def from_left(runs: list[tuple[int, T]]) -> list[T]:
    """What lies at these levels, as it follows from left to right.

    Rule L2: from the highest level down to the lowest odd one, what is at that level or above is turned round.
    """
    for least in range(max((level for level, _ in runs), default=0), 0, -1):
        turned: list[tuple[int, T]] = []
        for high, group in groupby(runs, key=lambda run: run[0] >= least):
            part = list(group)
            turned += reversed(part) if high else part
        runs = turned
    return [run for _, run in runs]
