"""The full-text index: text folded so that any script is found, and the one quoting function.

Folding drops diacritics and case in every script. Characters of scripts written
without spaces (Chinese, Japanese, Korean) are indexed one by one and looked for
as a phrase, so that a word of one or two characters is found too.
"""

import re
import unicodedata

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


def forget_roll(session: Session, roll_id: int) -> None:
    """Takes a roll out of the index."""
    session.connection().execute(text("DELETE FROM found WHERE roll_id = :roll"), {"roll": roll_id})


def index_roll(session: Session, roll_id: int) -> None:
    """Writes the index rows of one roll and its frames anew."""
    session.flush()
    roll = session.get_one(Roll, roll_id)
    process = session.get(ProcessRecord, roll_id)
    former = session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == roll_id)).all()
    told = (roll.stock, roll.camera, roll.lens, roll.subject, roll.place, roll.keywords, roll.notes)
    done = (process.process, process.developer, process.notes) if process else ()
    roll_words = fold(" ".join((roll.number, *former, *told, *done)))
    rows = [{"roll": roll_id, "frame": None, "words": roll_words, "more": ""}]
    for f in session.exec(select(Frame).where(Frame.roll_id == roll_id).order_by(col(Frame.position))):
        own = fold(" ".join((f.caption, f.subject, f.place, f.keywords, f.lens, f.notes)))
        if own:
            rows.append({"roll": roll_id, "frame": f.id, "words": own, "more": roll_words})
    session.connection().execute(text("DELETE FROM found WHERE roll_id = :roll"), {"roll": roll_id})
    session.connection().execute(
        text("INSERT INTO found (roll_id, frame_id, words, roll_words) VALUES (:roll, :frame, :words, :more)"),
        rows,
    )
