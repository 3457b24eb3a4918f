"""A maker's times by temperature, as lines a person types: "20: 9:30", "68 °F: 9:30"."""

import re
from itertools import pairwise

from catalogue.bench.rules.figures import format_time, parse_temperature, parse_time
from catalogue.errors import InvalidInput
from catalogue.units import Units

Line = tuple[float, int]


def parse_temperature_table(text: str, bare: str = "°C") -> tuple[Line, ...]:
    """(°C, s) in rising order from lines or from a list with semicolons; a bare figure is in `bare`.

    Raises `InvalidInput` with the line.
    """
    table: list[Line] = []
    for line in filter(str.strip, text.replace(";", "\n").splitlines()):
        found = re.fullmatch(r"\s*([^:=]{1,20}?)\s*[:=]\s*(.+)", line)
        if not found:
            raise InvalidInput(f"“{line.strip()[:40]}” is not a line of the table. Write temperature, a colon, a time: 20: 9:30.")
        table.append((parse_temperature(found[1], bare), max(1, round(parse_time(found[2])))))
    table.sort()
    for (one, _), (other, _) in pairwise(table):
        if one == other:
            figure = Units(temperature=bare).temperature_figure(one)
            raise InvalidInput(f"{figure} {bare} stands in the table twice. Keep the line that the sheet has.")
    return tuple(table)


def temperature_table_text(table: tuple[Line, ...] | list[Line], bare: str = "°C") -> str:
    """One line each, as `parse_temperature_table` reads it."""
    units = Units(temperature=bare)
    return "\n".join(f"{units.temperature_figure(celsius)}: {format_time(seconds)}" for celsius, seconds in table)
