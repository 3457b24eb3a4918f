"""Developing time by how much film a bath has already seen, as a maker's sheet has it.

A developer that is used again grows weaker, so the sheet lengthens the time step
by step and ends where the bath is spent (US Army training text). Film is counted
in rolls by area, as in `catalogue.bench.rules.tank`.
"""

import re
from dataclasses import dataclass
from math import isfinite

from catalogue.bench.rules.figures import checked_seconds, format_time, parse_time, plain
from catalogue.errors import InvalidInput

_HAIR = 1e-6  # what adding thirds of a roll may leave over


@dataclass(frozen=True)
class UseTime:
    """The time in s for the film that goes in now, and why."""

    seconds: float
    words: str


@dataclass(frozen=True)
class UseTable:
    """Rows (up to and including this many rolls, seconds): ((2, 195), (4, 205)) is 1–2: 3:15, 3–4: 3:25."""

    rows: tuple[tuple[int, float], ...]

    def __post_init__(self) -> None:
        if not self.rows:
            raise InvalidInput("A table of uses has no rows. Write for example 1-2: 3:15.")
        before = 0
        for last, seconds in self.rows:
            checked_seconds(seconds)
            if not before < last <= 1000:
                raise InvalidInput(f"Rolls rise row by row up to 1000, but {last} follows {before}. Put the rows in order.")
            before = last

    @classmethod
    def parse(cls, text: str) -> "UseTable":
        """From lines such as "1-2: 3:15" or "3: 205 s", without a gap from roll 1 on; raises `InvalidInput` with the line."""
        rows: list[tuple[int, float]] = []
        for line in filter(str.strip, text.replace(";", "\n").splitlines()):
            found = re.fullmatch(r"\s*(?:rolls?\s+)?([0-9]{1,4})\s*(?:[-–—]\s*([0-9]{1,4}))?\s*[:=]\s*(.+)", line, re.IGNORECASE)
            if not found:
                raise InvalidInput(f"“{line.strip()[:40]}” is not a row of the table. Write rolls, a colon, a time: 1-2: 3:15.")
            first, last = int(found[1]), int(found[2] or found[1])
            due = rows[-1][0] + 1 if rows else 1
            if first != due:
                raise InvalidInput(f"“{line.strip()[:40]}” starts with roll {first}, but roll {due} is next. Leave no gap.")
            if last < first:
                raise InvalidInput(f"“{line.strip()[:40]}” goes backwards. Write {last}-{first}.")
            rows.append((last, parse_time(found[3])))
        return cls(tuple(rows))

    @property
    def text(self) -> str:
        """One row a line, as `parse` reads it."""
        said, before = [], 0
        for last, seconds in self.rows:
            said.append(f"{before + 1 if before + 1 == last else f'{before + 1}-{last}'}: {format_time(seconds)}")
            before = last
        return "\n".join(said)

    @property
    def most_rolls(self) -> int:
        """Where the sheet's table ends."""
        return self.rows[-1][0]

    def time_for(self, rolls_done: float, rolls_now: float = 1.0) -> UseTime:
        """The time for `rolls_now` that go in together after `rolls_done`.

        Film that goes in together meets a bath that has seen `rolls_done`, so the row of the first of it counts. Raises
        `InvalidInput` for impossible counts and where the sheet's table ends before the last of it.
        """
        if not (isfinite(rolls_done) and rolls_done >= 0):
            raise InvalidInput(f"A bath has seen 0 rolls or more, not {rolls_done:g}. Check the count.")
        if not (isfinite(rolls_now) and rolls_now > 0):
            raise InvalidInput(f"{rolls_now:g} rolls can't go in. Give more than 0.")
        after = rolls_done + rolls_now
        if after > self.most_rolls + _HAIR:
            left = max(self.most_rolls - rolls_done, 0.0)
            raise InvalidInput(
                f"The sheet's table ends at {_rolls(self.most_rolls)}. {plain(rolls_done, 2)} are done and {plain(rolls_now, 2)} "
                f"more make {plain(after, 2)}. "
                + (f"Develop at most {plain(left, 2)} now or mix" if left > _HAIR else "Mix")
                + " a fresh bath."
            )
        seconds = self._row(rolls_done)
        last_of_it = self._row(after - _HAIR * 2)
        words = f"{format_time(seconds)} after {_rolls(rolls_done)}."
        if last_of_it != seconds:
            words += (
                f" The {plain(rolls_now, 2)} that go in together reach into the sheet's next row ({format_time(last_of_it)}); "
                "the time is that of the bath as they meet it."
            )
        left = self.most_rolls - after
        words += f" Room for {_rolls(left)} after that." if left > _HAIR else " The sheet's table ends after that."
        return UseTime(seconds, words)

    def _row(self, rolls_done: float) -> float:
        return next((seconds for last, seconds in self.rows if rolls_done < last - _HAIR), self.rows[-1][1])


def _rolls(rolls: float) -> str:
    return f"{plain(rolls, 2)} {'roll' if rolls == 1 else 'rolls'}"
