"""The frame log as lines that are typed.

A line is one frame or range, then in any order and each at most once a date or time, a shutter time, an aperture and
a focal length, then the caption; "@" before a place, "#" before notes, each with a blank on both sides:

    7       1/250 f/5.6 50mm Ferry at the pier @ Lower Harbour # sun in the lens
    8-10    2031-05-14T13:05 2s f/11 Long light
    00      The dog
    12      -- 1/2 eaten apple

Two hyphens end the facts where the caption begins like one. What the values may be, `catalogue.scans.log.frame_log` says.
"""

import re
from datetime import date

from catalogue.errors import InvalidInput
from catalogue.scans.log.frame_log import MAX_BYTES, MAX_LINES, LogBuilder, LogReading
from catalogue.scans.log.log_values import MOMENT, NUMBER

_TYPED = (
    ("focal_length", re.compile(rf"{NUMBER}mm", re.IGNORECASE | re.ASCII)),
    ("aperture", re.compile(rf"[fƒ]/?{NUMBER}", re.IGNORECASE | re.ASCII)),
    ("shutter", re.compile(rf"[0-9]{{1,3}}/[0-9]{{1,5}}s?|{NUMBER}(?:s|sec|min|\"|″)|bulb", re.ASCII)),
    ("taken", MOMENT),
    ("day", re.compile(r"[0-9]{4}-[0-9]{2}(-[0-9X]{2})?[?~%]?", re.ASCII)),
)


def read_log_lines(text: str, *, day: date | None = None) -> LogReading:
    """Reads lines as typed, one frame or range each; see the module for the form. Empty lines are passed over.

    Raises `InvalidInput` for more than `MAX_BYTES` of text or `MAX_LINES` lines.
    """
    if len(text.encode(errors="replace")) > MAX_BYTES or text.count("\n") > MAX_LINES:
        raise InvalidInput(f"That is more than {MAX_LINES} lines or {MAX_BYTES} bytes. Enter it in parts.")
    builder = LogBuilder(day)
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1):
        if line.strip():
            builder.add(number, _typed(line))
    return builder.reading()


def _typed(line: str) -> dict[str, str]:
    """The cells of a typed line."""
    rest, _, notes = f" {line.strip()} ".partition(" # ")
    rest, _, place = rest.partition(" @ ")
    frames, *tokens = rest.split() or [""]
    cells = {"frames": frames.rstrip(":."), "place": place.strip(), "notes": notes.strip()}
    while tokens:
        kind = next((kind for kind, shape in _TYPED if shape.fullmatch(tokens[0])), "")
        following = tokens[1] if len(tokens) > 1 else ""
        if not kind and re.fullmatch(r"[0-9]+", tokens[0]) and any(shape.fullmatch(following) for _, shape in _TYPED[:2]):
            kind = "shutter"  # a bare number before an aperture is meant as one, and is told of as a fault
        if not kind or kind in cells:
            break
        cells[kind] = tokens.pop(0)
    if tokens[:1] == ["--"]:
        tokens.pop(0)
    cells["caption"] = " ".join(tokens)
    if "taken" not in cells:
        cells["taken"] = cells.pop("day", "")
    return cells
