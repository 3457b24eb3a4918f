"""What file names say: patterns of roll and frame tried on a person's own names.

A pattern is written as a name with words in braces: `{roll}_{frame}`,
`Frame {frame}[ ({copy})]`, `{any}-{frame}`. Square brackets hold what may be
missing. The ending (.jpg, .tif) may be left off; where it is written it binds.
Capitals don't count. Names only: no file is opened here.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber
from catalogue.scans.read.file_kinds import ENDING, same_ending, split_ending

MAX_NAME = 255
"""Characters of a file name; no usual disk takes more."""

# How often each field may stand in a pattern.
_FIELDS = {"roll": 1, "frame": 1, "copy": 1, "number": 3, "any": 3}
_PIECE = re.compile(r"\{([^{}]*)\}|([\[\]])|([^{}\[\]]+)|(.)", re.DOTALL)
# Free characters and number of a DCF file name, JEITA CP-3461: four of A-Z, 0-9, _ and 0001 to 9999 (from memory).
# The standard allows nothing behind; copies made later add a mark.
_DCF = re.compile(r"(?=[0-9_]*[A-Z])([A-Z0-9_]{4})(?!0000)([0-9]{4})(?![A-Z0-9])", re.IGNORECASE)
_NAMED_BY_HAND = {"SCAN", "FILM", "NEG", "ROLL", "DIA"}  # four characters too, yet words a person writes before a frame
_Token = tuple[str, str]


@dataclass(frozen=True)
class NameRead:
    """What a pattern reads in one name; `roll`, `copy` and `frame_as_written` stand as in the name."""

    roll: str | None
    frame: FrameNumber | None
    copy: str | None
    frame_as_written: str | None = None


@dataclass(frozen=True)
class TriedName:
    """One name under a pattern; `frame` is None where none was found. A sentence says why, also where it is sure."""

    name: str
    frame: FrameNumber | None
    reason: str
    copy: str | None = None
    doubtful: bool = False


@dataclass(frozen=True)
class NamePattern:
    """A pattern such as "{roll}_{frame}"; refuses with `InvalidInput` what can't be read one way."""

    text: str

    def __post_init__(self) -> None:
        _ways(self.text)

    @classmethod
    def parse(cls, text: str) -> "NamePattern":
        """The pattern as typed, blanks around it left off; raises `InvalidInput` with what to write."""
        return cls(unicodedata.normalize("NFC", text).strip())

    def read(self, file_name: str, roll: str | None = None) -> NameRead | None:
        """What the name says, or None where it has another shape.

        `file_name` comes without folders. With `roll`, the usual ways to write that number are tried
        first, so that "2031_014_23A" is frame 23A of 2031-014 and not copy 23A of frame 14.
        """
        ways, ending = _ways(self.text)
        stem, own_ending = split_ending(file_name)
        if len(stem) > MAX_NAME or (ending and same_ending(ending) != same_ending(own_ending)):
            return None
        for number in (roll, None) if roll else (None,):
            for way in ways:
                found = _match(way, stem, number)
                if found is not None:
                    written = found["frame"]
                    return NameRead(found.get("roll"), FrameNumber.parse(written), found.get("copy"), written)
        return None


def small_letters(text: str) -> str:
    """Small letters, one for one, so that places in the name stay the same."""
    return "".join(low if len(low := c.lower()) == 1 else c for c in text)


@lru_cache(maxsize=512)
def _ways(text: str) -> tuple[tuple[tuple[_Token, ...], ...], str]:
    """Every sequence of fields and plain text the pattern stands for, fullest first; and its ending."""
    if not 1 <= len(text) <= 120:
        raise InvalidInput(f"A pattern has 1 to 120 characters, not {len(text)}. Write for example {{roll}}_{{frame}}.")
    ending = ENDING.search(text)
    body = text[: ending.start()] if ending else text
    parts: list[tuple[bool, list[_Token]]] = [(False, [])]
    counts: Counter[str] = Counter()
    inside = False
    for field, bracket, plain, stray in (m.groups() for m in _PIECE.finditer(body)):
        if stray or (bracket == "[") & inside or (bracket == "]") > inside:
            raise InvalidInput(f"“{text}” has a brace or bracket without its partner, or one inside another. Close each one.")
        if bracket:
            inside = bracket == "["
            parts.append((inside, []))
        elif plain is not None:
            if re.search(r"[/\\\x00-\x1f]", plain):
                raise InvalidInput(f"“{text}” has a slash or a control character in it. A pattern is for the name alone.")
            parts[-1][1].append(("text", small_letters(plain)))
        else:
            name = field.strip().lower()
            if name not in _FIELDS:
                raise InvalidInput(f"“{{{field}}}” is no field. Use {{roll}}, {{frame}}, {{copy}}, {{number}} or {{any}}.")
            counts[name] += 1
            if counts[name] > _FIELDS[name]:
                raise InvalidInput(f"{{{name}}} stands {counts[name]} times in “{text}”. Up to {_FIELDS[name]} can be read.")
            if name == "frame" and inside:
                raise InvalidInput("{frame} stands in square brackets, which hold what may be missing. Put it outside.")
            parts[-1][1].append((name, ""))
    if inside:
        raise InvalidInput(f"“{text}” opens a square bracket and doesn't close it. Put ] where the part ends.")
    if not counts["frame"]:
        raise InvalidInput(f"“{text}” doesn't say where the frame stands. Write {{frame}} there, for example {{roll}}_{{frame}}.")
    optional = [n for n, (may_miss, tokens) in enumerate(parts) if may_miss and tokens]
    if len(optional) > 3:
        raise InvalidInput(f"“{text}” has {len(optional)} parts that may be missing. Up to 3 can be read.")
    ways = []
    for kept in product((True, False), repeat=len(optional)):
        missing = {n for n, keep in zip(optional, kept, strict=True) if not keep}
        way = tuple(token for n, (_, tokens) in enumerate(parts) if n not in missing for token in tokens)
        for (one, _), (two, _) in pairwise(way):
            # {any} may touch a number, which ends where its digits end; nothing else tells its end by itself.
            if "text" not in (one, two) and {one, two} not in ({"any", "frame"}, {"any", "number"}):
                raise InvalidInput(
                    f"Nothing parts {{{one}}} and {{{two}}} in “{text}”. Write a mark between them, such as _ or -."
                )
        ways.append(way)
    return tuple(ways), ending[0] if ending else ""


def _match(way: tuple[_Token, ...], stem: str, roll: str | None) -> dict[str, str] | None:
    """The fields' texts, first reading found; what failed once is not tried again, so no name takes long."""
    folded, failed = small_letters(stem), set[tuple[int, int]]()

    def go(n: int, at: int) -> dict[str, str] | None:
        if n == len(way):
            return {} if at == len(stem) else None
        if (n, at) in failed:
            return None
        kind, text = way[n]
        if kind == "text":
            ends: Sequence[int] = (at + len(text),) if folded.startswith(text, at) else ()
        else:
            ends = _ends(kind, folded, at, roll)
        before = n > 0 and way[n - 1][0] == "any"
        behind = n + 1 < len(way) and way[n + 1][0] == "any"
        for end in ends:
            if kind in ("frame", "number") and not _whole(folded, at if before else -1, end if behind else -1):
                continue
            rest = go(n + 1, end)
            if rest is not None:
                return {kind: stem[at:end], **rest}
        failed.add((n, at))
        return None

    return go(0, 0)


def _whole(text: str, start: int, end: int) -> bool:
    """Whether a number beside {any} is not cut out of a longer number or word; -1 for a side without {any}."""

    def cut(at: int) -> bool:
        one, two = text[at - 1], text[at]
        return (one.isdigit() and two.isdigit()) or (one.isalpha() and two.isalpha())

    return not (0 < start < len(text) and cut(start)) and not (0 < end < len(text) and cut(end))


_NUMBER, _FRAME = re.compile(r"[0-9]{1,12}"), re.compile(r"[0-9]{1,4}")
_COPY, _ROLL = re.compile(r"[^\W_]{1,20}"), re.compile(r"[^\W_][\w .\-]{0,39}")


def _ends(kind: str, text: str, at: int, roll: str | None) -> Sequence[int]:
    """Where a field that begins at `at` may end, likeliest first."""
    if kind == "any":
        return range(at, len(text) + 1)
    shape = {"number": _NUMBER, "frame": _FRAME, "copy": _COPY, "roll": _ROLL}[kind]
    found = shape.match(text, at)
    if kind == "frame":
        if not found:
            return (at + 1,) if text[at : at + 1] in ("s", "x", "e") else ()
        lettered = [end + 1 for end in (found.end(),) if re.match(r"[a-z]", text[end:])]
        return [*lettered, *range(found.end(), at, -1)]
    if not found:
        return ()
    ends = range(found.end(), at, -1)
    if kind != "roll":
        return ends
    spans = [end for end in ends if text[end - 1].isalnum() and re.search(r"[0-9]", text[at:end])]
    return [end for end in spans if says_roll(text[at:end], roll)] if roll else spans


@lru_cache(maxsize=64)
def roll_writings(roll: str) -> tuple[str, ...]:
    """The usual writings of a roll number, as expressions over small letters; the whole number first."""
    parts = re.findall(r"[0-9]+|[^\W\d_]+", small_letters(roll))
    writings = []
    for first in range(len(parts)):
        if not any(p.isdigit() for p in parts[first:]):
            continue
        shape = ""
        for n, part in enumerate(parts[first:], first):
            padded = "0*" + (part.lstrip("0") or "0") if part.isdigit() else re.escape(part)
            if n == first:
                short_year = n == 0 and len(parts) > 1 and re.fullmatch(r"(19|20)[0-9]{2}", part)
                shape = f"(?:{part[:2]})?{part[2:]}" if short_year else padded
            elif part.isdigit() and parts[n - 1].isdigit():
                # Without a mark between two numbers only the full width tells them apart.
                shape += rf"(?:[\s._\-]+{padded}|{part})"
            else:
                shape += rf"[\s._\-]*{padded}"
        writings.append(shape)
    return tuple(writings) or (re.escape(small_letters(roll)),)


def roll_shape(roll: str) -> str:
    """One expression for all usual writings of a roll number, over small letters."""
    return "|".join(roll_writings(roll))


def says_roll(written: str, roll: str) -> bool:
    """Whether this is a usual way to write the roll number: 2031-014 as 2031014, 31-014, 2031_14, 014 or 14."""
    return re.fullmatch(roll_shape(roll), small_letters(written)) is not None


def camera_count(file_name: str) -> tuple[str, int] | None:
    """The four free characters, in capitals, and the number of a camera's own name (DCF, JEITA CP-3461); else None."""
    found = _DCF.match(split_ending(file_name)[0])
    return (found[1].upper(), int(found[2])) if found and found[1].strip("_").upper() not in _NAMED_BY_HAND else None


def is_camera_name(file_name: str) -> bool:
    """Whether a camera numbered the file by its own count (DCF names, JEITA CP-3461), which is no frame number."""
    return camera_count(file_name) is not None


def _fit(read: NameRead, labels: set[FrameNumber], lone_zero: bool) -> tuple[FrameNumber | None, str]:
    """The roll's frame that is meant, and a sentence where that is in doubt or there is none."""
    frame, written = read.frame, read.frame_as_written or ""
    zero, double = FrameNumber("0"), FrameNumber("00")
    if frame is None:
        return None, "It names no frame."
    if frame == double and zero in labels:
        # Counting with leading zeros hides whether 00 or 0 is meant.
        if double not in labels:
            return zero, ""
        if len(written) > 2 or not lone_zero:
            return (zero if len(written) > 2 else double), f"“{written}” may be frame 00 or frame 0 of this roll."
    if frame in labels:
        return frame, ""
    plain = FrameNumber.parse(written[:-1]) if written[:-1].isdigit() and written[-1].isalpha() else None
    hint = f" It may be a copy of frame {plain}." if plain in labels else ""
    return None, f"It says frame {frame}, and this roll has no such frame.{hint}"


def try_pattern(pattern: NamePattern, names: Sequence[str], roll: str, labels: Sequence[FrameNumber]) -> tuple[TriedName, ...]:
    """What the pattern would do with each name, in the order given. `roll` is the roll the files are to belong to."""
    reads = [pattern.read(name, roll) for name in names]
    known = set(labels)
    lone_zero = any(read and read.frame_as_written == "0" for read in reads)
    tried: list[TriedName] = []
    for name, read in zip(names, reads, strict=True):
        if read is None:
            tried.append(TriedName(name, None, f"It doesn't fit {pattern.text}."))
        elif read.roll is not None and not says_roll(read.roll, roll):
            tried.append(TriedName(name, None, f"It says roll {read.roll}, and these files are for roll {roll}.", read.copy))
        else:
            frame, doubt = _fit(read, known, lone_zero)
            if frame and not doubt and is_camera_name(name):
                doubt = f"{read.frame_as_written} looks like a camera's own count, not a frame number. Match these by order."
            tried.append(TriedName(name, frame, doubt or f"Frame {frame}.", read.copy, bool(frame and doubt)))
    same: dict[tuple[FrameNumber, str], set[str]] = {}
    for one in tried:
        if one.frame:
            same.setdefault((one.frame, (one.copy or "").casefold()), set()).add(small_letters(split_ending(one.name)[0]))
    for n, one in enumerate(tried):
        stems = same[one.frame, (one.copy or "").casefold()] if one.frame else set()
        # The same name with another ending is one scan kept twice, which is usual.
        if len(stems) > 1 and not one.doubtful:
            reason = f"{len(stems)} names say frame {one.frame}. Keep those that show it."
            tried[n] = TriedName(one.name, one.frame, reason, one.copy, True)
    return tuple(tried)
