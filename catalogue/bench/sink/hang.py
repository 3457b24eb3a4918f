"""After the last bath: the bottles get their rolls, the rolls their process record, the strips their clips and their names."""

from collections.abc import Mapping
from datetime import date
from itertools import combinations

from sqlmodel import Session, col, select

from catalogue.bench.bottles.shelf import bottle_view, roll_pass, write_entry
from catalogue.bench.rules.baths.entries import Overruled, PouredBack, RollsDone
from catalogue.bench.rules.baths.outlook import check_before
from catalogue.bench.rules.figures import format_time
from catalogue.bench.sink.log import actual_celsius, actual_seconds, session_row, session_view, skipped
from catalogue.bench.sink.logged_drift import development_words
from catalogue.bench.sink.sink_views import SessionRoll, SessionView, SinkStep
from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.store.index import index_roll
from catalogue.store.tables.bench import TankRoll, TankSession, WaitingRoll
from catalogue.store.tables.rolls import Roll

HANGER_TAKES = 5
"""Rolls that one hanger takes: common practice, no published source."""
_FOUND_AFTERWARDS = "the bath was used elsewhere after this session was planned"


def hanger_words(clip: int) -> str:
    """Where a strip hangs: "hanger 1, clip 3"."""
    hanger, place = divmod(clip - 1, HANGER_TAKES)
    return f"hanger {hanger + 1}, clip {place + 1}"


def finish_session(session: Session, session_id: int, poured_back_ml: Mapping[int, float] | None = None) -> SessionView:
    """Ends the work at the sink: the film hangs. `poured_back_ml` by step is what came back, else all that went in.

    Every bottle gets its rolls once and every roll its process record; raises `InvalidInput` where it was finished before.
    """
    row = session_row(session, session_id)
    view = session_view(session, session_id)
    if row.state not in ("planned", "under way"):
        raise InvalidInput(f"Session {session_id} is {row.state} already.")
    with session.begin_nested():
        for step in view.steps:
            if step.bottle_id is not None and not skipped(view, step.position):
                _pour_back(session, view, step, (poured_back_ml or {}).get(step.position))
        row.state, row.ended_at = "hanging", now()
        if not row.begun_at:
            row.begun_at = row.ended_at  # done from the tank card alone
        for roll in view.rolls:
            _record(session, view, roll)
        session.flush()
    return session_view(session, session_id)


def _pour_back(session: Session, view: SessionView, step: SinkStep, back_ml: float | None) -> None:
    """Writes the rolls into the bottle's ledger. The film has gone in, so what was not known before is overruled now."""
    key, today = step.bottle_id or 0, date.today()
    bath = bottle_view(session, key).bath
    if bath is None:
        raise NotFound(f"{step.bottle} is empty. Write in its ledger what happened, then finish the session.")
    rolls = tuple(roll_pass(session, roll.number) for roll in view.rolls)
    ml = step.draws_ml if step.draws_ml is not None and bath.in_bottle_ml >= step.draws_ml else None
    kinds = {w.kind for w in check_before(bath, rolls, today, ml) if w.must_be_overruled}
    note = f"session {view.id}, {step.name}"
    if "capacity" in kinds:
        reason = step.overruled or _FOUND_AFTERWARDS
        write_entry(
            session, key, Overruled(on=today, reason=reason, rolls=tuple(r.roll for r in rolls), note=note), session_id=view.id
        )
    again = (step.again or _FOUND_AFTERWARDS) if "again" in kinds else ""
    write_entry(session, key, RollsDone(on=today, rolls=rolls, ml=ml, again=again, note=note), session_id=view.id)
    if ml is not None and step.solution == "bath" and not bath.facts.one_shot:
        back = ml if back_ml is None else back_ml
        if not 0 <= back <= ml:
            raise InvalidInput(f"{step.name}: {back:g} ml can't come back of the {ml:g} ml that went in.")
        if back > 0:
            write_entry(session, key, PouredBack(on=today, ml=back, note=note), session_id=view.id)


def record_words(view: SessionView) -> str:
    """Every step as it went, in one paragraph: times, temperatures, bottles, what was skipped and why."""
    said = []
    for step in view.steps:
        if reason := skipped(view, step.position):
            said.append(f"{step.name}: skipped ({reason})")
            continue
        took = actual_seconds(view, step.position)
        warmth = actual_celsius(view, step.position)
        words = [step.name]
        if took is not None and step.seconds is not None and took != step.seconds:
            words.append(f"{format_time(took)}, planned {format_time(step.seconds)}")
        elif took or step.seconds:
            words.append(format_time(took or step.seconds or 0))
        if warmth:
            words.append("at " + ", ".join(f"{c:g} °C" for c in warmth))
        elif step.temperature_c is not None:
            words.append(f"planned at {step.temperature_c:g} °C")
        if step.bottle:
            words.append(f"from {step.bottle}" + (f" (overruled: {step.overruled})" if step.overruled else ""))
        elif step.dilution:
            words.append(f"{step.chemical} {step.dilution}".strip())
        words += [f.value for f in view.facts if f.step == step.position and f.what == "note" and f.value]
        said.append(" ".join([words[0] + ":", ", ".join(words[1:])]) if len(words) > 1 else words[0])
    return ". ".join(said) + "."


def _record(session: Session, view: SessionView, roll: SessionRoll) -> None:
    developer = next((s for s in view.steps if s.kind == "developer"), None)
    values = ProcessInput(process=view.process, done_by=view.done_by, push_stops=view.push_stops or None)
    values.done_on = date.today().isoformat()
    mates = ", ".join(r.number for r in view.rolls if r.number != roll.number)
    together = f" Together with {mates}." if mates else ""
    told = " ".join(t for t in (record_words(view), development_words(session, view), together.strip(), view.notes) if t)
    values.notes = f"Session {view.id}, reel {roll.reel}. {told}"[:4000]
    if developer is not None:
        warmth = actual_celsius(view, developer.position)
        values.developer, values.dilution = developer.chemical or developer.name, developer.dilution
        values.time_s = actual_seconds(view, developer.position) or developer.seconds
        values.temperature_c = round(sum(warmth) / len(warmth), 2) if warmth else developer.temperature_c
    record_process(session, roll.number, values)
    row = session.exec(select(Roll).where(Roll.number == roll.number)).one()
    day = date.today().isoformat()
    row.processed = row.processed_from = row.processed_to = day
    waiting = session.get_one(WaitingRoll, row.id)
    waiting.state = "processed"
    session.flush()
    index_roll(session, row.id or 0)


def _place(session: Session, session_id: int, number: str) -> TankRoll:
    found = session.exec(
        select(TankRoll)
        .join(Roll, col(Roll.id) == col(TankRoll.roll_id))
        .where(TankRoll.session_id == session_id, Roll.number == number)
    ).first()
    if found is None:
        raise NotFound(f"Roll {number[:40]} is not in session {session_id}.")
    return found


def hang_rolls(session: Session, session_id: int, clips: Mapping[str, int]) -> SessionView:
    """Keeps which roll hangs from which clip, before memory goes; a clip holds one roll. Raises `InvalidInput`, `NotFound`."""
    numbers = list(clips.values())
    for clip in numbers:
        if not 1 <= clip <= 99:
            raise InvalidInput(f"Clips are numbered 1 to 99, not {clip}.")
        if numbers.count(clip) > 1:
            both = " and ".join(number for number, at in clips.items() if at == clip)
            raise InvalidInput(f"{both} can't both hang from clip {clip}. Give each its own.")
    with session.begin_nested():
        for number, clip in clips.items():
            _place(session, session_id, number).clip = clip
        session.flush()
    return session_view(session, session_id)


def alike(view: SessionView) -> tuple[str, ...]:
    """Which rolls of the tank nobody can tell apart by facts, and what would settle it."""
    said = []
    for one, other in combinations(view.rolls, 2):
        differ = one.format_name != other.format_name or (one.stock and other.stock and one.stock != other.stock)
        if one.frames_expected and other.frames_expected:
            differ = differ or abs(one.frames_expected - other.frames_expected) > 3
        if not differ:
            said.append(
                f"{one.number} and {other.number} can't be told apart by format, stock or number of frames. Keep to reel and "
                f"clip ({_hangs(one)}; {_hangs(other)}), and look at the first frame of each."
            )
    return tuple(said)


def _hangs(roll: SessionRoll) -> str:
    return f"{roll.number}: reel {roll.reel}" + (f", {hanger_words(roll.clip)}" if roll.clip else ", no clip noted")


def tell_roll(
    session: Session,
    session_id: int,
    number: str,
    *,
    stock: str = "",
    frames: int | None = None,
    seen: str = "",
    sure: bool = False,
) -> SessionView:
    """Confirms after drying which roll a strip is, by the stock and the frames on it and what is seen on its first frame.

    What speaks against it is said with the roll that it may be instead, unless `sure`. Raises `InvalidInput`, `NotFound`.
    """
    row: TankSession = session_row(session, session_id)
    if row.state not in ("hanging", "done"):
        raise InvalidInput(f"Session {session_id} is {row.state}: tell the rolls apart when they hang and are dry.")
    view = session_view(session, session_id)
    place = _place(session, session_id, number)
    roll = next(r for r in view.rolls if r.number == number)
    against = _against(roll, stock, frames)
    if against and not sure:
        others = [r.number for r in view.rolls if r.number != number and not _against(r, stock, frames)]
        hint = f" It may be {' or '.join(others)}." if others else ""
        raise InvalidInput(f"{' '.join(against)}{hint} Look again, or say that you are sure.")
    facts = [f"stock {stock}" if stock else "", f"{frames} frames" if frames else "", seen, f"reel {roll.reel}"]
    facts.append(hanger_words(roll.clip) if roll.clip else "")
    words = ", ".join(f for f in facts if f) + (f"; although: {' '.join(against)}" if against else "")
    with session.begin_nested():
        place.told_by = words[:500]
        waiting = session.get_one(WaitingRoll, place.roll_id)
        if frames:
            waiting.frames_expected = frames
        if all(r.told_by or r.number == number for r in view.rolls):
            row.state = "done"
        session.flush()
    return session_view(session, session_id)


def _against(roll: SessionRoll, stock: str, frames: int | None) -> list[str]:
    """What on the film doesn't fit the roll; up to three frames more than a roll is sold as are usual."""
    found = []
    if stock and roll.stock and stock.strip().casefold() != roll.stock.casefold():
        found.append(f"Roll {roll.number} is {roll.stock}, and this film says {stock.strip()}.")
    if frames and roll.frames_expected and not roll.frames_expected - 2 <= frames <= roll.frames_expected + 3:
        found.append(f"Roll {roll.number} should have {roll.frames_expected} frames, and {frames} are on this film.")
    return found
