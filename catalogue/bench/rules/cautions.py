"""The usual cautions for work with chemicals, heat and blades, by the kind of step.

The sentences are our own. They rest on: a metropolitan waste authority's public
guide (acid to water, goggles and gloves, ventilation, marked containers out of
children's reach), a state environment office's guidance (labels, no photo waste
into a septic system, used fixer to collection or silver recovery), federal
rules on silver (40 CFR 261.24; household wastes under 261.4(b)(1), from
memory), and common practice without a published source where marked below.
Guidance differs from place to place, so they are notices and no rules.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from catalogue.errors import InvalidInput

StepKind = Literal[
    "mixing", "powder", "acid", "developer", "colour developer", "stop bath", "bleach", "fixer", "toner",
    "final rinse", "warm water", "storing", "disposal", "cutting",
]  # fmt: skip
"""Kinds of step or hazard."""

LAST = "The maker's data sheet and local rules come first; this is no professional advice."

_WET: tuple[StepKind, ...] = (
    "mixing", "powder", "acid", "developer", "colour developer", "stop bath", "bleach", "fixer", "toner", "final rinse",
)  # fmt: skip


@dataclass(frozen=True)
class Caution:
    """One sentence and the kinds of step it belongs to."""

    sentence: str
    kinds: tuple[StepKind, ...]


# What hurts most and soonest stands first.
ALL_CAUTIONS: tuple[Caution, ...] = (
    # The waste authority's guide.
    Caution("Pour acid into water, never water into acid.", ("acid", "mixing", "stop bath")),
    # Common practice, no published source.
    Caution(
        "Never bring a bleach bath together with acids or with household bleach: the gas is poisonous.",
        ("bleach", "acid", "toner", "disposal"),
    ),
    Caution(
        "Never mix leftover baths with one another, nor anything whose bottle doesn't say what it is.",
        ("mixing", "disposal", "storing"),
    ),
    # The waste authority's guide.
    Caution(
        "Wear goggles that keep splashes out; glasses aren't enough.", ("mixing", "powder", "acid", "bleach", "toner", "disposal")
    ),
    # The guide for gloves; nitrile and skin complaints from memory.
    Caution("Wear nitrile gloves, and keep arms and skin covered.", (*_WET, "disposal")),
    Caution("Colour developing agents can make skin sensitive for good: don't let them touch it at all.", ("colour developer",)),
    # Hydroquinone and metol from memory; sulfite from a published page.
    Caution(
        "Developers can bring on rashes, and sulfite allergies: stop if skin or breath protest.",
        ("developer", "colour developer", "powder"),
    ),
    Caution("Let no dust rise from powders, and don't breathe it: pour low and slowly, with a dust mask.", ("powder",)),
    # The waste authority's guide: a bathroom fan isn't enough.
    Caution("Let fresh air through the room; a bathroom fan isn't enough.", _WET),
    # Common practice, no published source.
    Caution(
        "Rinse splashes off at once with much water; for eyes or anything swallowed, call a doctor or the emergency number.", _WET
    ),
    # Common practice, no published source.
    Caution(
        "Use no jug, cup or bottle that ever held or will hold food or drink, and don't eat or drink at the bench.",
        (*_WET, "storing"),
    ),
    # The state office's guidance.
    Caution("Label every bottle with its content, the day it was mixed and its hazards.", ("mixing", "storing")),
    # The waste authority's guide.
    Caution(
        "Keep bottles closed, unbreakable, not of metal, and out of the reach of children and animals.", ("mixing", "storing")
    ),
    # Common practice, no published source.
    Caution(
        "Keep heaters, pumps, plugs and leads dry and above the water, on a socket with a residual-current breaker.",
        ("warm water",),
    ),
    Caution(
        "Water hot enough to dissolve powder scalds: let it cool to what the data sheet says, and pour away from you.",
        ("warm water", "powder"),
    ),
    # Federal rules on silver; the state office's guidance.
    Caution(
        "Used fixer carries silver: take it to a collection of household hazardous waste or to silver recovery, "
        "and keep it out of septic systems.",
        ("fixer", "disposal"),
    ),
    Caution(
        "Ask the local water works before anything goes down a drain; what is allowed differs from place to place.",
        ("disposal", "fixer", "bleach", "toner"),
    ),
    # Common practice, no published source.
    Caution("Cut away from your fingers, and close the blade or shears before you put them down.", ("cutting",)),
)


def cautions_for(step_kinds: Iterable[str]) -> tuple[str, ...]:
    """The sentences for these kinds of step, each once, gravest first, and `LAST` at the end always.

    Raises `InvalidInput` for a kind that isn't known, as a caution left out in silence would be worse.
    """
    kinds = set(step_kinds)
    if unknown := sorted(kinds - set(get_args(StepKind))):
        raise InvalidInput(f"“{unknown[0][:40]}” is no kind of step known here. Known are: {', '.join(get_args(StepKind))}.")
    return (*(one.sentence for one in ALL_CAUTIONS if kinds & set(one.kinds)), LAST)
