"""Dilutions: what is written, what goes into the cylinder; worked amounts are arithmetic of the parts."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from catalogue.bench.rules.dilution import STOCK, AmbiguousRatio, Dilution, parse
from catalogue.errors import InvalidInput

few = settings(max_examples=30, deadline=None)
parts = st.floats(0.1, 200).map(lambda part: round(part, 1))
dilutions = st.builds(Dilution, st.lists(parts, min_size=1, max_size=4).map(tuple), st.one_of(st.just(0.0), parts))


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("1+9", "1+9"), ("1 + 9", "1+9"), (" 2+18 ", "1+9"), ("stock", "1+0"), ("Stock", "1+0"), ("1+0", "1+0"), ("5+0", "1+0"),
        ("1+1+8", "1+1+8"), ("2 + 2 + 16", "1+1+8"), ("1,5+8,5", "1.5+8.5"), ("3+7", "3+7"), ("1+1+1+7", "1+1+1+7"),
    ],
)  # fmt: skip
def test_dilutions_as_they_are_written(text: str, written: str) -> None:
    assert parse(text).text == written


def test_a_colon_is_asked_about_and_both_meanings_named() -> None:
    # Both readings are in use; common practice, no published source.
    with pytest.raises(AmbiguousRatio) as caught:
        parse("1:9")
    assert (caught.value.plus, caught.value.in_all) == (Dilution((1,), 9), Dilution((1,), 8))
    assert "1+9 (1 part concentrate + 9 parts water = 10 parts in all)" in str(caught.value)
    assert "1+8 (1 part concentrate + 8 parts water = 9 parts in all)" in str(caught.value)
    assert parse("1:9", "plus").text == "1+9" and parse("1:9", "in all").text == "1+8"
    assert parse("1 : 1", "in all") == STOCK and parse("1:1:8", "in all").text == "1+1+6"
    assert parse("1+9", "in all").text == "1+9", "a plus is never read as anything else"
    with pytest.raises(InvalidInput, match=r"can't be 9 in 1. Write 9\+1 or 1\+9"):
        parse("9:1")


@pytest.mark.parametrize(
    "text", ["", "1", "9", "+9", "1+", "1/9", "0+9", "1+9:1", "a+b", "1++9", "1+99999", "1+1+1+1+1+1", "1.2.3+4"]
)
def test_what_is_no_dilution_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match="Write for example"):
        parse(text)


@pytest.mark.parametrize(
    ("text", "volume", "concentrate", "water"),
    [
        ("1+9", 600, 60, 540), ("1+8", 600, 66.7, 533.3), ("1+1", 600, 300, 300), ("1+3", 600, 150, 450),
        ("1+25", 600, 23.1, 576.9), ("1+50", 600, 11.8, 588.2), ("1+0", 600, 600, 0),
    ],
)  # fmt: skip
def test_amounts_worked_by_hand(text: str, volume: float, concentrate: float, water: float) -> None:
    made = parse(text).amounts(volume)
    assert [round(made.concentrates[0], 1), round(made.water, 1)] == [concentrate, water]


@pytest.mark.parametrize(
    ("text", "volume", "words"),
    [
        ("1+9", 600, "60 ml concentrate + 540 ml water"),
        ("1+8", 600, "67 ml concentrate + 533 ml water"),
        ("1+25", 600, "23 ml concentrate + 577 ml water"),
        ("1+50", 600, "12 ml concentrate + 588 ml water"),
        ("1+100", 300, "3 ml concentrate + 297 ml water"),
        ("1+4", 1005, "200 ml concentrate + 805 ml water"),
        ("1+1+8", 500, "50 ml concentrate A + 50 ml concentrate B + 400 ml water"),
        ("1+0", 333.3, "333 ml concentrate"),
    ],
)
def test_what_a_cylinder_can_show(text: str, volume: float, words: str) -> None:
    assert parse(text).measured(volume).words() == words


@few
@given(dilutions, st.floats(20, 5000))
def test_amounts_keep_sum_and_shares(dilution: Dilution, volume: float) -> None:
    exact = dilution.amounts(volume)
    assert exact.total == pytest.approx(volume)
    assert exact.water * dilution.concentrates[0] == pytest.approx(exact.concentrates[0] * dilution.water)
    assume(min(exact.concentrates) >= 0.1)
    measured = dilution.measured(volume)
    assert measured.total == pytest.approx(volume) and measured.water >= 0
    for rounded, ml in zip(measured.concentrates, exact.concentrates, strict=True):
        assert abs(rounded - ml) <= max(0.0501, 0.026 * ml), "within half a graduation, 2.5 % from 2 ml on"


@few
@given(dilutions)
def test_the_canonical_text_is_read_again(dilution: Dilution) -> None:
    again = parse(dilution.text)
    assert again.parts_total / again.parts_concentrate == pytest.approx(dilution.parts_total / dilution.parts_concentrate)
    assert parse(again.text) == again


def test_impossible_mixes_are_refused() -> None:
    for made, said in (
        (lambda: Dilution((), 9), "not 0"),
        (lambda: Dilution((1, -1), 9), "not 1, -1"),
        (lambda: Dilution((1,), float("nan")), "not nan"),
        (lambda: parse("1+9").amounts(0), "not 0 ml"),
        (lambda: parse("1+9999").measured(300), r"0.03 ml of concentrate.*Mix at least 1000 ml"),
    ):
        with pytest.raises(InvalidInput, match=said):
            made()
