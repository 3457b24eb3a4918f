"""Which file of a folder shows which frame of a roll: by names, by order or by picture. Plain values in and out.

Files and frames are named by their places, from 0, in the order they are given.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber
from catalogue.scans.look.fingerprints import Fingerprint
from catalogue.scans.look.picture_lookup import FOUND, compare
from catalogue.scans.match.alignment import align
from catalogue.scans.match.by_likeness import assign_by_likeness
from catalogue.scans.match.capture_order import CapturedFile, capture_order
from catalogue.scans.match.evidence import Shot
from catalogue.scans.match.name_patterns import NamePattern, try_pattern
from catalogue.scans.match.pattern_suggestions import Suggestion, suggest_patterns
from catalogue.scans.match.picture_evidence import Standing, matches, put_right, scaled

UPRIGHT = Standing()
METHODS = ("names", "order", "pictures")
SURE = 0.6
MARGIN = 0.1
CROPPED, SMALL_COPY = 0.85, 0.25
"""A copy that shows less of the frame than this part is cropped; one with fewer of the master's pixels is for the web
(own choice)."""


@dataclass(frozen=True)
class FileToMatch:
    """A file that was read. `captured`: ISO 8601 or empty; `modified_s`: seconds since 1970; `pixels`: how many it has."""

    path: str
    captured: str
    modified_s: float
    pixels: int
    bits: int
    fingerprint: bytes | None

    @property
    def name(self) -> str:
        """The last part of its path."""
        return self.path.rpartition("/")[2]

    @property
    def picture(self) -> Fingerprint | None:
        """The fingerprint, read."""
        return Fingerprint.from_bytes(self.fingerprint) if self.fingerprint else None

    @property
    def moment(self) -> float | None:
        """When it was captured, in seconds since 1970; None where no time of day is known."""
        try:
            return datetime.fromisoformat(self.captured).timestamp() if "T" in self.captured else None
        except ValueError:
            return None


@dataclass(frozen=True)
class FrameToMatch:
    """A frame; `fingerprint` is of the picture it has already, and `standing` what puts that right."""

    label: str
    blank: bool = False
    fingerprint: bytes | None = None
    standing: Standing = UPRIGHT


@dataclass(frozen=True)
class Proposed:
    """What is proposed for one file: a frame or None, how sure, and any doubt. `settled` is the person's own word."""

    frame: int | None
    sureness: float = 0.0
    doubt: str = ""
    role: str = ""
    standing: Standing = UPRIGHT
    settled: bool = False


@dataclass(frozen=True)
class FolderToMatch:
    """The files of a folder and the frames of the roll, both in their order.

    `strips`: how many frames lie on each strip, empty where that isn't known. `proposed`: what stands for each file now.
    """

    roll: str
    files: tuple[FileToMatch, ...]
    frames: tuple[FrameToMatch, ...]
    strips: tuple[int, ...]
    proposed: tuple[Proposed, ...]

    def suggestions(self) -> tuple[Suggestion, ...]:
        """Patterns that the names suggest, the best first."""
        return suggest_patterns([f.name for f in self.files], self.roll, self._numbers()) if self.files else ()

    def _numbers(self) -> list[FrameNumber]:
        return [FrameNumber(f.label) for f in self.frames]

    def usual_method(self) -> tuple[str, str]:
        """The method that promises most, and a pattern for "names": names that say frames, else pictures, else order."""
        suggested = self.suggestions()
        if suggested and suggested[0].pattern is not None and suggested[0].explained >= 0.8 * min(len(self.files), 240):
            return "names", suggested[0].pattern.text
        return ("pictures", "") if sum(f.fingerprint is not None for f in self.frames) * 2 >= len(self.frames) else ("order", "")

    def by_names(self, pattern: str) -> list[Proposed]:
        """Raises `InvalidInput` for a pattern that can't be read."""
        place = {f.label: at for at, f in enumerate(self.frames)}
        found = []
        for one in try_pattern(NamePattern.parse(pattern), [f.name for f in self.files], self.roll, self._numbers()):
            at = place.get(one.frame.text) if one.frame else None
            sure = 0.0 if at is None else 0.5 if one.doubtful else 1.0
            found.append(Proposed(at, sure, one.reason if at is None or one.doubtful else ""))
        return found

    def _likeness(self) -> list[list[float | None]]:
        """How alike each file and each frame's picture are, 0 to 1; None where the frame has none."""
        known = {at: f.fingerprint for at, f in enumerate(self.frames) if f.fingerprint}
        rows = matches(known, [f.picture for f in self.files])
        places = range(len(self.frames))
        return [[(row[at].score if at in row else 0.0) if at in known else None for at in places] for row in rows]

    def by_pictures(self) -> list[Proposed]:
        """Raises `InvalidInput` where no frame has a picture to compare with."""
        matrix = self._likeness()
        if not any(value is not None for row in matrix for value in row):
            raise InvalidInput("No frame of this roll has a picture yet to compare with. Match by names or by order.")
        found = []
        for file, likely in zip(self.files, assign_by_likeness(matrix, FOUND, MARGIN), strict=True):
            if (picture := file.picture) is not None and not picture.enough:
                found.append(Proposed(None, 0.0, "There is too little in this picture to tell it from others."))
            elif likely.frame is None:
                found.append(Proposed(None, 0.0, "It is like no picture of this roll."))
            else:
                close = "" if likely.sure or likely.instead is None else self.frames[likely.instead].label
                doubt = f"Frame {close} is nearly as like it." if close else ""
                found.append(Proposed(likely.frame, 0.95 if likely.sure else 0.4, doubt))
        return found

    def by_order(self) -> list[Proposed]:
        """By the order of capture, held against pauses, looks and strips."""
        place = {f.path: at for at, f in enumerate(self.files)}
        captured = [CapturedFile(f.path, f.captured or None, f.modified_s) for f in self.files]
        sequence = [place[one.name] for one in capture_order(captured).files]
        prints = [f.picture for f in self.files]
        moments = [self.files[at].moment for at in sequence]
        gaps = [None, *(max(0.0, b - a) if a is not None and b is not None else None for a, b in pairwise(moments))]
        shots = [
            Shot(gap_s=gap, emptiness=0.0 if (picture := prints[at]) is None or picture.enough else 0.9)
            for at, gap in zip(sequence, gaps, strict=True)
        ]
        own = matches({n: picture.to_bytes() for n, picture in enumerate(prints) if picture and picture.enough}, prints)

        def alike(one: int, two: int) -> float | None:
            first, second = sequence[one], sequence[two]
            if not ((a := prints[first]) and (b := prints[second]) and a.enough and b.enough):
                return None
            scores = [own[x][y].score for x, y in ((first, second), (second, first)) if y in own[x]]
            return scaled(max(scores, default=0.0))

        matrix = self._likeness()
        known = [[None if value is None else scaled(value) for value in matrix[at]] for at in sequence]
        aligned = align(
            shots, len(self.frames), strips=self.strips, blank=[at for at, f in enumerate(self.frames) if f.blank], alike=alike,
            likeness=known if any(v is not None for row in known for v in row) else None, labels=[f.label for f in self.frames],
        )  # fmt: skip
        found = [Proposed(None)] * len(self.files)
        for shot, at in enumerate(sequence):
            frame, role = aligned.assigned[shot]
            sure, instead = aligned.confidence[shot], aligned.instead[shot]
            doubt = "" if frame is not None else "It seems to show no frame of this roll. "
            if sure < SURE:
                doubt += "It may show no frame." if instead is None else f"It may show frame {self.frames[instead].label}."
            found[at] = Proposed(frame, sure, doubt.strip(), "working" if role in ("again", "bracket") else "")
        return found

    def looked_at(self, file: FileToMatch, proposed: Proposed) -> Proposed:
        """The proposal held against what the frame shows already: mirrored, turned, or another picture altogether."""
        picture = file.picture
        known = self.frames[proposed.frame] if proposed.frame is not None else None
        if picture is None or not picture.enough or known is None or known.fingerprint is None:
            return proposed
        (found,) = matches({0: known.fingerprint}, [picture])
        if 0 not in found:
            return proposed
        if not found[0].found:
            doubt = f"{proposed.doubt} It doesn't look like the picture that frame {known.label} has.".strip()
            return replace(proposed, sureness=min(proposed.sureness, 0.3), doubt=doubt)
        right = put_right(found[0], known.standing)
        wrong = f" It is {right.words} beside the earlier picture; it will be shown put right." if right.words else ""
        return replace(proposed, standing=right, doubt=f"{proposed.doubt}{wrong}".strip())

    def with_roles(self, proposed: Sequence[Proposed]) -> tuple[Proposed, ...]:
        """Of several files for one frame the one with the most pixels, and then bits, is proposed as master.

        What derives from it is told by picture and size: a part of it is cropped, a much smaller copy is for the web.
        """
        best: dict[int | None, int] = {}
        for at, one in enumerate(proposed):
            before = best.setdefault(one.frame, at)
            if _fineness(self.files[before]) < _fineness(self.files[at]):
                best[one.frame] = at

        def role(at: int, one: Proposed) -> str:
            if one.frame is None:
                return ""
            if one.settled:
                return one.role
            master = best[one.frame]
            return "master" if master == at else _derived(self.files[at], self.files[master])

        return tuple(replace(one, role=role(at, one)) for at, one in enumerate(proposed))


def _fineness(file: FileToMatch) -> tuple[int, int]:
    return file.pixels, file.bits


def _derived(file: FileToMatch, master: FileToMatch) -> str:
    if (one := master.picture) and (two := file.picture):
        match = compare(one, two)
        left, right, top, bottom = match.window
        if match.found and (right - left) * (bottom - top) < CROPPED:
            return "cropped"
    return "web" if file.pixels < SMALL_COPY * master.pixels else "working"


def match_files(folder: FolderToMatch, method: str, pattern: str) -> tuple[str, str, tuple[Proposed, ...]]:
    """The method and pattern used, and what is proposed for each file; what is settled stays.

    No `method` takes the one that promises most. Raises `InvalidInput` for an unknown one, and where it can't serve.
    """
    if not method:
        method, pattern = ("names", pattern) if pattern else folder.usual_method()
    if method not in METHODS:
        raise InvalidInput(f"Files are matched by {', '.join(METHODS)}; not by {method[:20]}.")
    by_looks = folder.by_pictures if method == "pictures" else folder.by_order
    found = folder.by_names(pattern) if method == "names" else by_looks()
    found = [
        own if own.settled else folder.looked_at(file, replace(new, sureness=round(new.sureness, 3)))
        for file, own, new in zip(folder.files, folder.proposed, found, strict=True)
    ]
    return method, pattern, folder.with_roles(found)


def settle_files(folder: FolderToMatch, frames: tuple[tuple[int, int | None], ...]) -> tuple[Proposed, ...]:
    """What is proposed once the person has said what these files show: (file, its frame or None for none) each."""
    found = list(folder.proposed)
    for file, frame in frames:
        looked = folder.looked_at(folder.files[file], Proposed(frame, 1.0, role=found[file].role))
        found[file] = replace(looked, sureness=1.0, settled=True)
    return folder.with_roles(found)
