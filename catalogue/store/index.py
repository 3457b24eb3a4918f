"""The full-text index: text folded so that any script is found, and the one quoting function.

Folding drops diacritics and case in every script. Characters of scripts written
without spaces (Chinese, Japanese, Korean) are indexed one by one and looked for
as a phrase, so that a word of one or two characters is found too.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import text
from sqlmodel import Session, col, select

from catalogue.store.tables.rolls import FormerNumber, Frame, ProcessRecord, Roll

_UNSPACED = re.compile(r"([\u3040-\u30ff\u3400-\u4dbf\u4e00-\u9fff\uac00-\ud7af\uf900-\ufaff\U00020000-\U0003ffff])")
# Letters that Unicode doesn't take apart, and what is typed where the keyboard lacks them.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})
MAX_WORDS = 12


def fold(raw: str) -> str:
    """The text as indexed and looked for."""
    apart = unicodedata.normalize("NFKD", raw.casefold())
    bare = "".join(c for c in apart if not unicodedata.combining(c)).translate(_PLAIN)
    plain = unicodedata.normalize("NFC", bare)
    return " ".join(_UNSPACED.sub(r" \1 ", plain).split())


def phrases(raw: str) -> list[str]:
    """The words of a query, each quoted for MATCH; letters and digits only, the last as a prefix.

    Nothing that a person types reaches MATCH except inside these quotes.
    """
    found = []
    for word in raw.split():
        tokens = re.findall(r"[^\W_]+", fold(word))
        if tokens:
            found.append('"' + " ".join(tokens) + '"')
    found = found[:MAX_WORDS]
    if found and not raw[-1:].isspace():
        found[-1] += "*"
    return found


def match_rolls(raw: str) -> str:
    """The MATCH text for rolls: every word in the roll's own text; empty where there is no word."""
    return " AND ".join(f"words : {p}" for p in phrases(raw))


def match_frames(raw: str) -> str:
    """The MATCH text for frames: every word in the frame or its roll, at least one in the frame."""
    words = phrases(raw)
    if not words:
        return ""
    return f"(words : ({' OR '.join(words)})) AND {' AND '.join(words)}"


_ROWS = 16
"""A roll's rows stand together, by its key shifted by so many bits: the roll's own first, then frames by position.

To delete by the roll's column, which isn't indexed, would read the whole index.
"""


def forget_roll(session: Session, roll_id: int) -> None:
    """Takes a roll out of the index."""
    first = roll_id << _ROWS
    session.connection().execute(
        text("DELETE FROM found WHERE rowid BETWEEN :first AND :last"), {"first": first, "last": first + (1 << _ROWS) - 1}
    )


def index_rows(
    roll: Mapping[str, Any], frames: Iterable[Mapping[str, Any]], process: Mapping[str, Any] | None, former: Iterable[str] = ()
) -> list[dict[str, Any]]:
    """The rows of the index for a roll and those of its frames that have words of their own; columns are given by name."""
    told = (roll[name] for name in ("number", "stock", "camera", "lens", "subject", "place", "keywords", "notes"))
    done = (process[name] for name in ("process", "developer", "notes")) if process else ()
    roll_words = fold(" ".join((*told, *former, *done)))
    first = roll["id"] << _ROWS
    rows = [{"row": first, "roll": roll["id"], "frame": None, "words": roll_words, "more": ""}]
    for frame in frames:
        own = " ".join(frame[name] for name in ("caption", "subject", "place", "keywords", "lens", "notes"))
        if own.strip():
            at = first + frame["position"]
            rows.append({"row": at, "roll": roll["id"], "frame": frame["id"], "words": fold(own), "more": roll_words})
    return rows


def add_rows(session: Session, rows: Sequence[dict[str, Any]]) -> None:
    """Adds rows to the index."""
    session.connection().execute(
        text("INSERT INTO found (rowid, roll_id, frame_id, words, roll_words) VALUES (:row, :roll, :frame, :words, :more)"), rows
    )


def index_roll(session: Session, roll_id: int) -> None:
    """Writes the index rows of one roll and its frames anew."""
    session.flush()
    process = session.get(ProcessRecord, roll_id)
    former = session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == roll_id)).all()
    frames = session.exec(select(Frame).where(Frame.roll_id == roll_id).order_by(col(Frame.position)))
    roll = vars(session.get_one(Roll, roll_id))
    forget_roll(session, roll_id)
    add_rows(session, index_rows(roll, map(vars, frames), vars(process) if process else None, former))
