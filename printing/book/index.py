"""The index of a book: places, and subjects and keywords, each with the rolls and frames where it stands.

Words are sorted for readers of any script without the rules of one language:
letters before accents before capitals, figures by their value, signs ignored
at first, scripts in the order of Unicode. That follows the levels of the
Unicode Collation Algorithm (UTS #10, from memory), not its table.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from catalogue.sleeves.geometry import Rect
from catalogue.views import FrameView, RollView
from printing.book.binder_record import BinderRecord
from printing.book.leaves import Block, Leaf, LeafShape, flow, heading, wrapped
from printing.canvas.items import Item, Jump, Measure, Text, fitted, moved

SIZE_MM = 2.5
MANY = 50
"""References of a word that stay together; a word with more begins again, so that it can go on in the next column."""
_BASE = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe", "ı": "i", "þ": "th", "ħ": "h", "ŧ": "t"})
"""Small letters that Unicode doesn't take apart, and where a reader looks for them (common practice)."""
_WIDE = {"CJK": "Chinese characters", "HANGUL": "Hangul", "HIRAGANA": "Kana", "KATAKANA": "Kana"}


def sort_key(text: str) -> tuple[str, str, str, str]:
    """Base letters first, then accents, then small before capital letters, then the text itself."""
    folded = unicodedata.normalize("NFKD", text.casefold()).translate(_BASE)
    bare = "".join(char for char in folded if not 0x300 <= ord(char) <= 0x36F)
    plain = "".join(char if char.isalnum() or unicodedata.category(char)[0] == "M" else " " for char in bare)
    numbered = re.sub(r"\d+", lambda found: found[0].zfill(12), " ".join(plain.split()))
    return numbered, folded, text.swapcase(), text


def letter_of(text: str) -> str:
    """The heading that a word stands under: its first letter without accents, "0–9", a script without letters, or "Other"."""
    base = sort_key(text)[0]
    if not base:
        return "Other"
    first = base[0]
    if first.isdecimal():
        return "0–9"
    name = unicodedata.name(first, "")
    return next((words for prefix, words in _WIDE.items() if name.startswith(prefix)), first.upper())


@dataclass(frozen=True)
class IndexEntry:
    """A word and where it stands: (text to print, what of a leaf it leads to)."""

    word: str
    references: tuple[tuple[str, str], ...]


def terms(text: str) -> list[str]:
    """The words of a list as typed, between commas, semicolons or line ends (also the full-width and Arabic ones)."""
    return [plain for part in re.split(r"[,;\n，、；،؛]", text) if (plain := " ".join(part.split()))]


def _runs(labels: Iterable[str], roll: RollView) -> str:
    """Frame labels in film order, neighbours drawn together: "3, 5–7"."""
    place = {frame.label: n for n, frame in enumerate(roll.frames)}
    found = sorted({place[label] for label in labels})
    runs: list[list[int]] = []
    for n in found:
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    names = [frame.label for frame in roll.frames]
    return ", ".join(names[r[0]] if len(r) == 1 else f"{names[r[0]]}{'–' if len(r) > 2 else ', '}{names[r[-1]]}" for r in runs)


def _entries(rolls: Sequence[RollView], of_roll: Mapping[int, list[str]], of_frame: Mapping[int, list[str]]) -> list[IndexEntry]:
    """One entry a word, however it is capitalised; the spelling met first is printed."""
    spelled: dict[str, str] = {}
    found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    by_number = {roll.number: roll for roll in rolls}
    for roll in rolls:
        for word in of_roll.get(roll.id, []):
            key = unicodedata.normalize("NFC", word).casefold()
            spelled.setdefault(key, word)
            found[key][roll.number].add("")
        for frame in roll.frames:
            for word in of_frame.get(frame.id, []):
                key = unicodedata.normalize("NFC", word).casefold()
                spelled.setdefault(key, word)
                found[key][roll.number].add(frame.label)
    entries = []
    for key, where in found.items():
        references = []
        for number in sorted(where, key=sort_key):
            labels = where[number] - {""}
            frames = _runs(labels, by_number[number]) if labels else ""
            words = f"{number}: {frames}" if frames and "" not in where[number] else number
            first = next((f.label for f in by_number[number].frames if f.label in labels), None) if words != number else None
            references.append((words, number if first is None else f"{number}/{first}"))
        entries.append(IndexEntry(spelled[key], tuple(references)))
    return sorted(entries, key=lambda entry: sort_key(entry.word))


def build_index(record: BinderRecord) -> tuple[tuple[str, tuple[IndexEntry, ...]], ...]:
    """Both indexes of a binder: places; subjects, people and keywords. A word for a whole roll isn't told by frame too."""
    rolls = record.in_order()

    def words(thing: RollView | FrameView) -> list[str]:
        return terms(thing.subject) + terms(thing.keywords)

    frames = [frame for roll in rolls for frame in roll.frames]
    places = _entries(rolls, {r.id: _one(r.place) for r in rolls}, {f.id: _one(f.place) for f in frames})
    subjects = _entries(rolls, {r.id: words(r) for r in rolls}, {f.id: words(f) for f in frames})
    return (("Index of places", tuple(places)), ("Index of subjects, people and keywords", tuple(subjects)))


def _one(text: str) -> list[str]:
    """A place as typed, whole: "Harbour, east quay" is one place."""
    plain = " ".join(text.split())
    return [plain] if plain else []


def _entry_block(entry: IndexEntry, width: float, measure: Measure) -> Block:
    """A word, then its references as they fill the lines, each leading to its leaf."""
    step = SIZE_MM * 1.35
    lines = wrapped(entry.word, width * 0.96, SIZE_MM, measure, most=3)
    items: list[Item] = [Text(0, SIZE_MM + step * n, SIZE_MM, line, True) for n, line in enumerate(lines)]
    space, indent = measure("  ", SIZE_MM, False), 4.0
    y, x = step * (len(lines) - 1), measure(lines[-1], SIZE_MM, True) * 1.04 + space
    for n, (words, holds) in enumerate(entry.references):
        shown, size = fitted(words + ("," if n + 1 < len(entry.references) else ""), width - indent, SIZE_MM, 1.7, measure)
        wide = measure(shown, size, False)
        if x > indent and x + wide > width:  # references begin beside the word where they fit
            x, y = indent, y + step
        items += [Text(x, y + SIZE_MM, size, shown), Jump(Rect(x, y, wide, step), holds)]
        x += wide + space
    return Block(y + step + 0.5, tuple(items))


def _in_columns(blocks: list[Block], columns: int, width: float, gap: float, height: float) -> list[Block]:
    """Blocks down one column and then the next, in bands no higher than `height`; a heading stays with its first word."""
    bands: list[Block] = []
    items: list[Item] = []
    column, y, deepest = 0, 0.0, 0.0
    for n, block in enumerate(blocks):
        need = block.height + (blocks[n + 1].height if block.keep and n + 1 < len(blocks) else 0)
        if y + need > height and y > 0:
            column, y = column + 1, 0.0
            if column == columns:
                bands.append(Block(deepest, tuple(items)))
                items, column, deepest = [], 0, 0.0
        items += [moved(item, column * (width + gap), y) for item in block.items]
        y += block.height
        deepest = max(deepest, y)
    return [*bands, Block(deepest, tuple(items))] if items else bands


def index_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """Both indexes, two columns a leaf, with a heading a letter; references lead to the leaf that has the frame."""
    gap = 7.0
    width = (shape.body.width - gap) / 2
    leaves: list[Leaf] = []
    for title, entries in build_index(record):
        blocks: list[Block] = []
        letter = ""
        for entry in entries:
            if (now := letter_of(entry.word)) != letter:
                blocks.append(heading(now, width, measure, size=3.2))
                letter = now
            for first in range(0, len(entry.references), MANY):
                word = f"{entry.word} (goes on)" if first else entry.word
                part = IndexEntry(word, entry.references[first : first + MANY])
                blocks.append(_entry_block(part, width, measure))
        bands = _in_columns(blocks, 2, width, gap, shape.body.height - 11)
        if not bands:
            bands = [Block(6, (Text(0, 3, 2.9, "Nothing of this kind was noted for this binder."),))]
        name = title.casefold().split(",")[0]
        heads = (record.archive, record.binder)
        leaves += flow(name, title, bands, shape, measure, heads=heads, section=title)
    return leaves
