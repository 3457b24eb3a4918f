"""Long work in a thread: one of a name at a time, stopped when asked, its trouble told."""

import threading
import time
from collections.abc import Callable

from api.background import Background
from catalogue.errors import InvalidInput


def waits(begun: threading.Event) -> Callable[[Callable[[], bool]], None]:
    def work(stop: Callable[[], bool]) -> None:
        begun.set()
        while not stop():
            time.sleep(0.002)

    return work


def test_one_of_a_name_at_a_time() -> None:
    background, begun = Background(), threading.Event()
    assert background.start("a", waits(begun))
    assert begun.wait(5)
    assert background.running("a")
    assert not background.start("a", waits(begun))
    assert background.start("b", lambda stop: None)
    background.stop("a")
    background.wait("a")
    assert not background.running("a")
    assert background.start("a", lambda stop: None)


def test_trouble_is_told_and_nothing_hangs() -> None:
    background = Background()

    def fails(stop: Callable[[], bool]) -> None:
        raise InvalidInput("The folder is gone. Name another.")

    background.start("a", fails)
    background.wait("a")
    assert background.said("a") == "The folder is gone. Name another."
    assert background.said("nobody") == ""
    background.stop("nobody")
    background.wait("nobody")


def test_closing_waits_for_the_work() -> None:
    background, begun, ended = Background(), threading.Event(), threading.Event()

    def work(stop: Callable[[], bool]) -> None:
        begun.set()
        while not stop():
            time.sleep(0.002)
        time.sleep(0.05)
        ended.set()

    background.start("a", work)
    assert begun.wait(5)
    background.close()
    assert ended.is_set()
