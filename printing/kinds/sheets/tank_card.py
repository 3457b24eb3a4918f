"""The card that does without a screen what the clock at the sink does."""

import re
from collections.abc import Mapping
from typing import ClassVar

from pydantic import Field

from printing.kinds.asked import LARGEST_KEY, Door, Now, OnPaper, PrintedPdf, Session

_FIGURE = re.compile(r"([0-9]) (s|min|ml)\b")


class TankCardAsked(OnPaper):
    """The tank card of a session at the sink."""

    key: ClassVar[str] = "tank-card"
    called: ClassVar[str] = "tank card of a session"
    titled: ClassVar[str] = "Tank card of {session}"
    filed: ClassVar[str] = "tank card {session_id}"
    said: ClassVar[str] = "The tank card."
    doors: ClassVar[tuple[Door, ...]] = (Door("/sessions/{session_id}/tank-card.pdf", "tank_card"),)
    session_id: int = Field(le=LARGEST_KEY, title="Session, by the number in its address")

    def names(self, session: Session) -> Mapping[str, object]:
        """With the session's title."""
        from catalogue.bench.sink.log import session_view

        return {**super().names(session), "session": session_view(session, self.session_id).title}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """Reels, steps, times, agitation, boxes to tick."""
        from catalogue.bench.rules.figures import volume_words
        from catalogue.bench.rules.times.schedule import agitation_words
        from catalogue.bench.sink.log import session_view
        from catalogue.bench.sink.sink_words import session_cautions, timed, warmth
        from catalogue.settings import archive_name, get_units
        from printing.sheets.card_documents import tank_card_pdf
        from printing.sheets.tank_card import TankReel, TankStep, TankWork

        view, units = session_view(session, self.session_id), get_units(session)
        steps = []
        for step in view.steps:
            how = _FIGURE.sub("\\1\u00a0\\2", agitation_words(timed(step, units)))
            volume = step.amounts or (volume_words(view.volume_ml, units.volume) if view.volume_ml and step.bottle else "")
            from_where = f"from {step.bottle}" if step.bottle else step.notes[:120]
            steps.append(
                TankStep(step.name[:60], step.seconds, warmth(step, units)[:20], how[:120], volume[:30], from_where[:120])
            )
        reels = []
        for place in range(1, max(r.reel for r in view.rolls) + 1):
            on_it = [r for r in view.rolls if r.reel == place]
            film = ", ".join(dict.fromkeys(" ".join(t for t in (r.format_name, r.stock) if t) for r in on_it))
            reels.append(TankReel(tuple(r.number for r in on_it), film))
        work = TankWork(archive_name(session), tuple(steps), tuple(reels), view.title, view.tank, session_cautions(view))
        link = f"{now.base}bench/sessions/{self.session_id}"
        return tank_card_pdf(work, printed_on=now.on, paper=self.sheet(session), link=link)
