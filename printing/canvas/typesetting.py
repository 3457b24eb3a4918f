"""A line of text in any script: which font has each character, in what order and in which glyphs it goes on paper.

Pure: fonts are handed in, nothing is drawn, and widths are parts of the type size. Joined and placed glyphs are HarfBuzz's.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, Protocol

import uharfbuzz

from printing.canvas.direction import SIGNS, from_left, levels

_JOINERS = "\u200c\u200d"


@dataclass(frozen=True)
class Glyph:
    """A glyph of a shaped run: its number in the font, the characters it stands for ("" for a part of the glyph before),
    how far it moves the pen and how far it lies from it, in parts of the type size, y upwards."""

    number: int
    text: str
    advance: float
    dx: float
    dy: float


class Face(Protocol):
    """One font at one weight."""

    fontName: str
    bold: bool
    shaper: Any
    """Its uharfbuzz Font; None where it has none."""

    def has(self, char: str) -> bool:
        """Whether the font has a glyph for this character."""

    def advance(self, text: str) -> float:
        """Width of the text, character by character, in parts of the type size."""

    def character(self, glyph: Glyph) -> str:
        """The character that paints this glyph."""


@dataclass(frozen=True)
class Run:
    """A stretch in one font, left to right as it lies on paper; `glyphs` is None where characters are drawn as they come."""

    face: Face
    text: str
    width: float
    glyphs: tuple[Glyph, ...] | None = None


@dataclass(frozen=True)
class SetLine:
    """A line's runs from left to right, and the characters that could not be set."""

    runs: tuple[Run, ...]
    missing: frozenset[str]

    @property
    def width(self) -> float:
        """In parts of the type size."""
        return sum(run.width for run in self.runs)


def instance(file: Path, weight: int) -> bytes:
    """A variable TrueType font at this weight and normal width; one that isn't variable, as it is."""
    face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(file))
    wanted = uharfbuzz.SubsetInput()
    wanted.keep_everything()
    held = {axis.tag for axis in face.axis_infos}
    for axis, value in (("wght", weight), ("wdth", 100)):
        if axis in held:
            wanted.pin_axis_location(face, axis, value)
    return bytes(uharfbuzz.subset(face, wanted).blob.data)


def shaper_of(font: bytes | Path) -> Any:
    """HarfBuzz's view of a font or of a font file."""
    blob = uharfbuzz.Blob.from_file_path(font) if isinstance(font, Path) else uharfbuzz.Blob(font)
    return uharfbuzz.Font(uharfbuzz.Face(blob))


def has_character(shaper: Any, char: str) -> bool:
    """Whether the font has a glyph for a character."""
    return bool(shaper.get_nominal_glyph(ord(char)))


def set_line(text: str, faces: Sequence[Face]) -> SetLine:
    """Sets a text in the first of these faces that has each character; the first face has the Latin letters and “?”.

    A character that can't be set becomes “?”, a combining mark is left out; both are told in `missing`.
    """
    text = cleaned(text)
    missing: set[str] = set()
    pieces: list[tuple[int, Face, str, str]] = []  # level, face, script, character
    face, script = faces[0], ""
    for char, level in zip(text, levels(text), strict=True):
        if char in SIGNS:
            pieces.append((level, faces[0], "", ""))  # kept until all is in order: levels on its two sides must not touch
            continue
        if char in _JOINERS:
            if face.shaper is not None:
                pieces.append((level, face, script, char))
            continue
        mark = unicodedata.category(char).startswith("M")
        found = _face_for(char, faces, face if mark else None)
        if found is None:
            missing.add(char)
            if mark:
                continue
            found, char = faces[0], "?"
        face = found
        if unicodedata.category(char).startswith("L"):
            script = unicodedata.name(char, "").partition(" ")[0]
        elif not mark:
            script = ""
        pieces.append((level, face, script, char))
    runs = []
    for (level, on, _), group in groupby(pieces, key=lambda piece: piece[:3]):
        runs.append((level, _run("".join(piece[3] for piece in group), on, bool(level % 2), on is not faces[0])))
    return SetLine(tuple(run for run in from_left(runs) if run.text), frozenset(missing))


def cleaned(text: str) -> str:
    """The text in composed characters (NFC), in one line, without characters that leave no mark and set no direction."""
    kept = []
    for char in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(char)
        if kind in ("Cc", "Zl", "Zp"):
            kept.append(" ")  # a line break or tab: a label is one line
        elif char in SIGNS or char in _JOINERS:
            kept.append(char)
        elif kind != "Cf" and not 0xFE00 <= ord(char) <= 0xFE0F and not 0xE0100 <= ord(char) <= 0xE01EF:
            kept.append(char)  # variation selectors and other format characters leave no mark of their own
    return "".join(kept)


def _face_for(char: str, faces: Sequence[Face], first: Face | None) -> Face | None:
    for face in (first, *faces):  # a mark is best set in the font of the letter that it belongs to
        if face is not None and (char == " " or face.has(char)):
            return face
    return None


def _run(text: str, face: Face, leftward: bool, other_script: bool) -> Run:
    marks = any(unicodedata.category(char).startswith("M") for char in text)
    if not text or face.shaper is None or not (leftward or other_script or marks):
        return Run(face, text[::-1] if leftward else text, face.advance(text))
    buffer = uharfbuzz.Buffer()
    buffer.cluster_level = uharfbuzz.BufferClusterLevel.MONOTONE_CHARACTERS
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if leftward else "ltr"
    buffer.language = "und"  # guessed, it would be that of the machine, and some fonts have other forms for some languages
    buffer.flags = uharfbuzz.BufferFlags.REMOVE_DEFAULT_IGNORABLES
    uharfbuzz.shape(face.shaper, buffer, {"liga": False, "dlig": False})  # only what a script can't do without
    em = face.shaper.face.upem
    infos, places = buffer.glyph_infos, buffer.glyph_positions
    stands_for = _shared_out(text, [info.cluster for info in infos], leftward)
    glyphs = tuple(
        Glyph(info.codepoint, own, place.x_advance / em, place.x_offset / em, place.y_offset / em)
        for info, place, own in zip(infos, places, stands_for, strict=True)
    )
    return Run(face, text, sum(glyph.advance for glyph in glyphs), glyphs)


def _shared_out(text: str, clusters: list[int], leftward: bool) -> list[str]:
    """The characters that each glyph stands for, each once, in the order on paper: left to right, as the glyphs are."""
    starts = sorted(set(clusters))
    ends = dict(zip(starts, [*starts[1:], len(text)], strict=False))  # joiners alone have no glyph
    shares = [""] * len(clusters)
    for start in starts:
        chars = [char for char in text[start : ends[start]] if char not in _JOINERS]
        owners = [n for n, cluster in enumerate(clusters) if cluster == start]
        for n, owner in enumerate(reversed(owners) if leftward else owners):
            last = n == len(owners) - 1
            share = chars[n:] if last else chars[n : n + 1]
            shares[owner] = "".join(reversed(share) if leftward else share)
    return shares
