"""The clock at the sink in a real browser, with the time moved by hand on the device and at the service."""

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, expect
from serving import CHROMIUM, REQUIRED, serving
from sink_service import BEGAN, SinkService, sink_app

pytestmark = pytest.mark.skipif(CHROMIUM is None and not REQUIRED, reason="chromium is not installed")

PATIENCE = 15_000
"""Milliseconds a busy machine may take; what is waited for comes in a few."""
expect.set_options(timeout=PATIENCE)

# Counts the tones, the shaking and the requests under way, and hides or gives a lock on the screen.
STUBS = """
window.tones = 0; window.shakes = []; window.locks = 0; window.underWay = 0;
const realFetch = window.fetch;
window.fetch = async (...given) => {
  window.underWay += 1;
  try {
    const answer = await realFetch(...given);
    return new Response(await answer.text(), answer);
  } finally {
    window.underWay -= 1;
  }
};
const realStart = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...given) { window.tones += 1; return realStart.apply(this, given); };
Object.defineProperty(navigator, "vibrate", { value: (shake) => window.shakes.push(shake), configurable: true });
const given = () => Object.assign(new EventTarget(), { released: false, release() {} });
const lock = { request: async () => { window.locks += 1; return given(); } };
if (NO_LOCK) delete Navigator.prototype.wakeLock;
else Object.defineProperty(navigator, "wakeLock", { value: lock, configurable: true });
"""
# Chromium's own clock goes on in sleep, other browsers' stands still: that is what is imitated.
SLEEP = """(ms) => { const real = performance.now.bind(performance); performance.now = () => real() - ms; }"""


@pytest.fixture(scope="module")
def served() -> Iterator[tuple[str, SinkService]]:
    service = SinkService()
    with serving(sink_app(service)) as address:
        yield address, service


class Sink:
    """One device at the sink: its page, its clock and the service's clock beside it."""

    def __init__(self, context: BrowserContext, address: str, service: SinkService, ahead: timedelta, lock: bool) -> None:
        self.context, self.service, self.address = context, service, address
        context.set_default_timeout(PATIENCE)
        self.page = context.new_page()
        self.page.add_init_script(STUBS.replace("NO_LOCK", "false" if lock else "true"))
        self.problems: list[str] = []
        self.page.on("pageerror", lambda problem: self.problems.append(str(problem)))
        self.page.clock.install(time=service.now + ahead)
        service.later(1)
        self.page.clock.pause_at(service.now + ahead)
        self.open()

    def open(self) -> None:
        self.page.goto(f"{self.address}/sink")
        expect(self.page.locator("#sink")).not_to_have_attribute("data-phase", "reading")

    def wait(self, seconds: float) -> None:
        """Lets time go by at the service and on the device; what was due there meanwhile happens once, at the end."""
        self.settle()
        self.service.later(seconds)
        self.page.clock.fast_forward(int(seconds * 1000))

    def settle(self) -> None:
        """No request may be under way while the two clocks are moved one after the other."""
        for _ in range(PATIENCE // 20):
            if not self.page.evaluate("window.underWay ?? 0"):
                return
            time.sleep(0.02)
        raise AssertionError("a request never ends")

    def press(self, name: str) -> None:
        """Presses a button, not sooner than a second after the one before."""
        self.wait(1)
        self.page.get_by_role("button", name=name, exact=True).click()

    def begin(self) -> None:
        self.press("The tank is closed – go on")
        self.press("Begin developer")

    def text(self, part: str) -> str:
        return self.page.locator(f"#sink-{part}").inner_text()

    def shows(self, digits: str, cue: str) -> None:
        expect(self.page.locator("#sink-digits")).to_have_text(digits)
        expect(self.page.locator("#sink-cue-words")).to_have_text(cue)

    def sent(self, *whats: str) -> None:
        expect(self.page.locator("#sink-unsent")).to_be_hidden()
        for _ in range(PATIENCE // 20):
            if self.service.whats() == list(whats):
                return
            time.sleep(0.02)
        assert self.service.whats() == list(whats)


Opening = Callable[..., Sink]


@pytest.fixture
def opened(browser: Browser, served: tuple[str, SinkService]) -> Iterator[Opening]:
    """Opens the sink on an untouched session; at the end no script may have failed."""
    contexts: list[BrowserContext] = []
    sinks: list[Sink] = []

    def at(
        *, ahead: timedelta = timedelta(0), lock: bool = True, width: int = 390, ground: str = "light", moving: bool = False
    ) -> Sink:
        served[1].start()
        # Little motion is also quicker: without a graphics card a turning tank keeps a processor busy.
        contexts.append(
            browser.new_context(
                viewport={"width": width, "height": 844},
                color_scheme=ground,  # type: ignore[arg-type]
                reduced_motion="no-preference" if moving else "reduce",
            )
        )
        sinks.append(Sink(contexts[-1], *served, ahead, lock))
        return sinks[-1]

    yield at
    for context in contexts:
        context.close()
    assert [sink.problems for sink in sinks if sink.problems] == []


def test_a_step_is_cued_at_the_right_seconds_and_counts_up_when_it_is_over(opened: Opening) -> None:
    sink = opened()
    assert "This screen is light: no film may be open in this room" in sink.text("light")
    expect(sink.page.locator("#sink-go")).to_be_hidden()
    sink.press("The tank is closed – go on")
    assert sink.text("digits") == "3:00" and "first turn the tank over, 30 s" in sink.text("cue-more")
    sink.press("Begin developer")
    assert sink.page.evaluate("locks") == 1, "the screen is kept on"
    expect(sink.page.locator("#sink-lit")).to_be_hidden()
    # Seconds after the step was begun, for 3 minutes by the US Navy manual's practice (30 s, 5 s each minute, last 10 s).
    gone = 0
    for at, digits, cue, more in (
        (1, "2:59", "Turn the tank over – 29 s", "then let it stand"),
        (29, "2:31", "Turn the tank over – 1 s", "then let it stand"),
        (30, "2:30", "Let it stand", "turn the tank over in 30 s"),
        (59, "2:01", "Let it stand", "turn the tank over in 1 s"),
        (60, "2:00", "Turn the tank over – 5 s", "then let it stand"),
        (65, "1:55", "Let it stand", "turn the tank over in 55 s"),
        (130, "0:50", "Let it stand", "pour out in 40 s"),
        (170, "0:10", "Pour out now – 10 s", "empty when the time is over"),
        (180, "0:00", "Time is over", "pour out – 0 s over the time"),
        (192, "+0:12", "Time is over", "pour out – 12 s over the time"),
    ):
        sink.wait(at - gone)
        gone = at
        sink.shows(digits, cue)
        assert sink.text("cue-more") == more
    assert sink.text("said") == "Developer: time is over."
    # Two tones for turning over (at 0 and 60 s), one for standing (30, 65 and 125 s), three for pouring, four for the end.
    assert sink.page.evaluate("[tones, shakes.length]") == [2 * 2 + 3 * 1 + 3 + 4, 7]
    sink.wait(3)
    assert sink.page.evaluate("[tones, shakes.length]") == [18, 8], "a reminder every 15 s over the time"
    sink.press("Poured out – next")
    assert (sink.text("name"), sink.text("digits")) == ("Stop bath", "0:30")
    sink.wait(5)
    assert sink.text("cue-more") == "0:05 since the last step"
    sink.sent("0 begun", "0 ended")


def test_a_second_knock_at_once_does_not_begin_the_next_step(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.wait(1)
    sink.page.locator("#sink-go").dblclick()
    assert sink.text("go") == "Begin stop bath"
    sink.sent("0 begun", "0 ended")


def test_a_reload_in_the_middle_shows_the_right_time_left(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.wait(100)
    sink.sent("0 begun")
    sink.open()
    sink.shows("1:20", "Let it stand")
    assert sink.page.locator("#sink-light").is_hidden()
    assert sink.text("sound") == "Sound waits for a touch"
    sink.page.mouse.click(5, 5)
    sink.wait(20)
    sink.shows("1:00", "Turn the tank over – 5 s")


def test_a_device_clock_wrong_by_an_hour_changes_nothing(opened: Opening) -> None:
    sink = opened(ahead=timedelta(hours=-1))
    sink.begin()
    sink.wait(60)
    sink.shows("2:00", "Turn the tank over – 5 s")
    sink.sent("0 begun")
    assert sink.service.log[0]["at"] == (BEGAN + timedelta(seconds=3)).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    sink.open()
    sink.shows("2:00", "Turn the tank over – 5 s")


def test_after_sleep_in_which_the_steady_clock_stood_still_the_time_is_right(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.wait(10)
    sink.sent("0 begun")
    # Asleep for 100 s with the network gone: the device's own clock is believed, and the page says so.
    sink.context.set_offline(True)
    sink.service.later(100)
    sink.page.evaluate(SLEEP, 100_000)
    sink.page.clock.fast_forward(100_000)
    sink.wait(1)
    sink.shows("1:09", "Let it stand")
    expect(sink.page.locator("#sink-doubt")).to_contain_text("jumped by 1:40")
    assert sink.text("where") == "Step 1 of 5 – time not sure"
    sink.context.set_offline(False)
    sink.wait(6)
    expect(sink.page.locator("#sink-doubt")).to_be_hidden()
    sink.wait(3)
    sink.shows("1:00", "Turn the tank over – 5 s")


@pytest.mark.parametrize("moved", [-3600, 3600])
def test_a_device_clock_set_while_a_step_runs_is_put_right_by_the_service(opened: Opening, moved: int) -> None:
    sink = opened()
    sink.begin()
    sink.wait(59)
    sink.sent("0 begun")
    # Only Date jumps. Forward that looks like sleep until the service is heard; back it can't have been.
    sink.page.evaluate("(s) => { const real = Date.now.bind(Date); Date.now = () => real() + s * 1000; }", moved)
    sink.wait(1)
    sink.shows("2:00", "Turn the tank over – 5 s")
    expect(sink.page.locator("#sink-doubt")).to_be_hidden()


def test_entries_made_without_network_are_sent_later_in_order_and_once(opened: Opening) -> None:
    sink = opened()
    sink.press("The tank is closed – go on")
    sink.context.set_offline(True)
    sink.press("Begin developer")
    sink.wait(40)
    sink.shows("2:20", "Let it stand")
    sink.press("Note")
    sink.press("the lid leaked")
    sink.press("Poured out – next")
    sink.press("Begin stop bath")
    expect(sink.page.locator("#sink-unsent")).to_contain_text("4 entries are not sent yet")
    assert sink.service.log == []
    sink.service.lose_answers = 1  # the first arrives, but its answer does not: it is sent again
    sink.context.set_offline(False)
    for _ in range(10):
        sink.wait(6)
        if len(sink.service.log) == 4:
            break
        time.sleep(0.1)
    sink.sent("0 begun", "0 note", "0 ended", "1 begun")
    ats = [fact["at"] for fact in sink.service.log]
    assert ats == sorted(ats) and ats[0] == "2031-05-04T18:00:03.000Z" and ats[3] == "2031-05-04T18:00:47.000Z"
    keys = [fact["key"] for fact in sink.service.log]
    assert sink.service.got == [f"POST {key}" for key in (keys[0], *keys)]


def test_unsent_entries_survive_closing_the_page(opened: Opening) -> None:
    sink = opened()
    sink.press("The tank is closed – go on")
    sink.context.set_offline(True)
    sink.press("Begin developer")
    expect(sink.page.locator("#sink-unsent")).to_be_visible()
    assert sink.service.log == []
    sink.page.close()
    sink.context.set_offline(False)
    sink.page = sink.context.new_page()
    sink.wait(3)
    sink.open()
    sink.sent("0 begun")
    sink.shows("2:57", "Turn the tank over – 27 s")


def test_back_one_takes_back_what_it_names(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.press("Note")
    sink.press("a turn was missed")
    sink.press("Back one")
    assert "Developer: note “a turn was missed”" in sink.text("panel")
    sink.press("No, keep it")
    sink.sent("0 begun", "0 note")
    sink.press("Back one")
    sink.press("Yes, take it back")
    sink.sent("0 begun")
    sink.press("Back one")
    assert "The clock of this step stops" in sink.text("panel")
    sink.press("Yes, take it back")
    sink.sent()
    assert (sink.text("digits"), sink.text("go")) == ("3:00", "Begin developer")


def test_a_temperature_read_is_two_taps_and_in_the_persons_unit(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.press("Temperature now")
    for key in ("+0.5", "−0.1", "−0.1"):
        sink.page.get_by_role("button", name=key, exact=True).click()
    sink.press("Write down 20.3 °C")
    sink.sent("0 begun", "0 temperature")
    assert sink.service.log[1]["value"] == 20.3
    assert sink.text("wanted") == "Wanted 20.0 °C – read 20.3 °C"
    sink.service.unit = "F"
    sink.open()
    assert "read 68.5 °F" in sink.text("wanted")
    sink.press("Temperature now")
    sink.page.get_by_role("button", name="−0.5", exact=True).click()
    sink.press("Write down 68.0 °F")
    sink.sent("0 begun", "0 temperature", "0 temperature")
    assert sink.service.log[2]["value"] == 20.0


def test_a_step_is_left_out_with_a_reason_and_the_end_shows_what_was_done(opened: Opening) -> None:
    sink = opened()
    sink.begin()
    sink.wait(178)
    for name in ("Poured out – next", "Leave this step out", "not needed", "Begin fixer", "Poured out – next"):
        sink.press(name)
    assert "may be left out" in sink.text("where")
    for name in ("Leave this step out", "done before", "Begin wash", "Done – finished"):
        sink.press(name)
    assert "Developer took 2:59 (meant: 3:00)" in sink.text("summary")
    assert "Stop bath left out: not needed" in sink.text("summary")
    sink.sent("0 begun", "0 ended", "1 skipped", "2 begun", "2 ended", "3 skipped", "4 begun", "4 ended")
    sink.press("Back one")
    assert sink.text("go") == "Done – finished"


def test_an_entry_the_service_refuses_is_set_aside_with_its_sentence(opened: Opening) -> None:
    sink = opened()
    sink.service.refusing = "This session was closed at 17:00."
    sink.begin()
    expect(sink.page.locator("#sink-refused")).to_contain_text("Developer begun")
    expect(sink.page.locator("#sink-refused")).to_contain_text("This session was closed at 17:00.")
    sink.press("I have read it – strike it off")
    expect(sink.page.locator("#sink-refused")).to_be_hidden()


def test_a_browser_that_cannot_keep_the_screen_on_is_said_plainly(opened: Opening) -> None:
    sink = opened(lock=False)
    sink.begin()
    expect(sink.page.locator("#sink-lit")).to_have_text("This browser can't keep the screen on. Set your phone not to sleep.")


def test_sound_turned_off_stays_off(opened: Opening) -> None:
    sink = opened()
    sink.press("The tank is closed – go on")
    sink.press("Turn sound off")
    before = sink.page.evaluate("tones")
    sink.press("Begin developer")
    sink.wait(40)
    assert sink.page.evaluate("[tones, shakes.length]") == [before, 0]
    sink.open()
    assert sink.text("sound") == "Turn sound on"


SMALL = """() => [...document.querySelectorAll("button, a.button, summary")]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 72).map((one) => one.textContent)"""


@pytest.mark.parametrize(("width", "ground"), [(390, "light"), (390, "dark"), (1280, "dark")])
def test_every_state_is_clean_fits_the_screen_and_works_by_knuckle(opened: Opening, width: int, ground: str) -> None:
    moving = width == 1280
    sink = opened(width=width, ground=ground, moving=moving)
    page = sink.page

    def looks(state: str, clean: bool = True) -> None:
        assert page.evaluate("document.documentElement.scrollWidth") <= width, state
        assert page.evaluate(SMALL) == [], state
        if clean:
            page.clock.resume()  # axe waits for timers of its own
            found = Axe().run(page)
            # Both clocks are stopped again at the same next second.
            sink.service.now = datetime.fromtimestamp(int(page.evaluate("Date.now()")) // 1000 + 2, UTC)
            page.clock.pause_at(sink.service.now)
            assert found.violations_count == 0, f"{state}: {found.generate_report()}"

    def size() -> float:
        return float(page.evaluate("parseFloat(getComputedStyle(document.querySelector('#sink-digits')).fontSize)"))

    looks("before", clean=width == 390)
    sink.press("The tank is closed – go on")
    assert size() >= 96
    sink.press("Begin developer")
    place = page.locator("#sink-go").bounding_box()
    turning = page.evaluate("getComputedStyle(document.querySelector('#sink-cue .tank')).animationName")
    assert turning == ("turn-over" if moving else "none"), "the tank turns only for who wants motion"
    looks("agitate", clean=width == 390)
    sink.wait(35)
    assert page.locator("#sink-go").bounding_box() == place, "the button moved under the hand"
    looks("rest", clean=False)
    sink.press("Temperature now")
    looks("keypad", clean=width == 390)
    sink.press("Write nothing")
    sink.wait(170)
    assert sink.text("digits").startswith("+0:") and size() >= 96
    assert page.locator("#sink-go").bounding_box() == place, "the button moved under the hand"
    looks("over", clean=False)
    sink.settle()
    sink.context.set_offline(True)
    for name in ("Poured out – next", "Begin stop bath", "Poured out – next", "Begin fixer", "Poured out – next"):
        sink.press(name)
    for name in ("Begin hot rinse", "Done – next", "Begin wash"):
        sink.press(name)
    assert sink.text("digits") == "1:50:00" and size() >= 96
    page.get_by_text("All steps", exact=True).click()
    page.get_by_text("Cautions", exact=True).click()
    assert "Wear gloves" in page.inner_text(".foot")
    looks("an hour and more, unsent")


def test_without_javascript_the_steps_can_be_read(browser: Browser, served: tuple[str, SinkService]) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{served[0]}/sink")
    assert "Time the steps below with another clock" in page.inner_text("main")
    page.get_by_text("All steps", exact=True).click()
    assert "Developer 3:00; 20.0 °C; turn the tank over for the first 30 s" in page.inner_text("main")
    assert page.locator("button:visible", has_text="ound is").count() == 0
    context.close()
