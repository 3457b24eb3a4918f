"""The contact squares of a cassette against the published table of speeds, lengths and tolerances."""

import pytest

from catalogue.errors import InvalidInput
from catalogue.film.camera_contacts import CameraContacts
from catalogue.film.cassette_code import CassetteCode

# Row 1 (ground, S1 to S5), 1 = bare metal: table of a public encoder, agreeing with an encyclopaedia's description.
SPEEDS = {
    25: "100010", 32: "100001", 40: "100011", 50: "110010", 64: "110001", 80: "110011", 100: "101010", 125: "101001",
    160: "101011", 200: "111010", 250: "111001", 320: "111011", 400: "100110", 500: "100101", 640: "100111", 800: "110110",
    1000: "110101", 1250: "110111", 1600: "101110", 2000: "101101", 2500: "101111", 3200: "111110", 4000: "111101",
    5000: "111111",
}  # fmt: skip
OWN = ["100000", "110000", "101000", "111000", "100100", "110100", "101100", "111100"]
LENGTHS = {"000": None, "100": 12, "010": 20, "110": 24, "001": 36, "101": 48, "011": 60, "111": 72}


@pytest.mark.parametrize(("speed", "row"), SPEEDS.items())
def test_every_speed_of_the_table(speed: int, row: str) -> None:
    assert CameraContacts(row, "111011").speed == speed


def test_the_makers_own_codes_are_said_to_be_so() -> None:
    assert [CameraContacts(row, "100000").speed for row in OWN] == [None] * 8
    assert "maker's own" in CameraContacts(OWN[0], "100000").words
    assert len({*SPEEDS.values(), *OWN}) == 32  # every pattern of five squares has its meaning


def test_lengths_and_tolerances() -> None:
    for code, exposures in LENGTHS.items():
        assert CameraContacts("101010", f"1{code}00").exposures == exposures
    assert CameraContacts("101010", "100001").tolerance == "+2 to −1 stops"


def test_the_worked_example() -> None:
    """ISO 125, 24 exposures, +3/-1, on a cassette with the code 017563: a published picture of one."""
    read = CameraContacts.parse("101001:111011")
    assert (read.speed, read.exposures, read.tolerance) == (125, 24, "+3 to −1 stops")
    assert CassetteCode.parse("017563").exposures == read.exposures
    assert read.words == "ISO 125/22°, 24 exposures, exposure may lie +3 to −1 stops off."


@pytest.mark.parametrize("text", ["", "10100", "101001 11101", "001001 111011", "101001 011011", "101002 111011"])
def test_what_can_not_be_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        CameraContacts.parse(text)
