"""The example archive: complete, findable, and the same every time. It is its own source."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from catalogue.bench.bottles.shelf import list_bottles
from catalogue.bench.roll_costs import cost_of_roll
from catalogue.errors import AlreadyExists
from catalogue.rolls.change import get_roll, list_rolls
from catalogue.rolls.file import list_binders
from catalogue.rolls.find import find
from catalogue.rolls.number import gaps
from catalogue.rolls.page import page_view
from example_archive import build as builder
from example_archive import scenario
from example_archive.bench_data import WAITING
from example_archive.pictures import jpeg, negative, picture
from example_archive.subjects import SUBJECTS


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Iterator[builder.BuildReport]:
    report = builder.build(tmp_path_factory.mktemp("example") / "archive")
    yield report
    report.archive.close()


def test_it_is_as_large_as_promised(example: builder.BuildReport) -> None:
    with example.archive.session() as session:
        rolls = [get_roll(session, r.number) for r in list_rolls(session)]
        assert len(rolls) == example.rolls >= 24
        assert len({roll.format.key for roll in rolls}) >= 6
        assert len(list_binders(session)) == example.binders == 3
        assert sum(bool(f.scans) for roll in rolls for f in roll.frames) == example.pictures >= 160
    size = sum(p.stat().st_size for p in (example.archive.folder / "scans").rglob("*.jpg"))
    assert size < 5_000_000


def test_no_film_is_lost(example: builder.BuildReport) -> None:
    with example.archive.session() as session:
        for summary in list_rolls(session):
            roll = get_roll(session, summary.number)
            assert [f.label for f in roll.frames if f.address is None] == []
            assert sum(len(strip.labels) for strip in roll.strips) >= len(roll.frames)


def test_no_slot_is_filled_beyond_its_length(example: builder.BuildReport) -> None:
    with example.archive.session() as session:
        for binder in list_binders(session):
            for summary in binder.pages:
                page = page_view(session, summary.id)
                taken = [s.slot for s in page.strips]
                assert taken
                assert len(taken) == len(set(taken))


@pytest.mark.parametrize(
    ("words", "roll"),
    [
        ("abricots", "2028-002"),
        ("eloise", "2028-002"),
        ("λιμάνι", "2029-002"),
        ("霧", "2029-004"),
        ("опушки", "2030-001"),
        ("chợ", "2030-003"),
        ("cho som", "2030-003"),
        ("الدرج", "2031-015"),
        ("2030-007", "2030-008"),
    ],
)
def test_captions_are_found_in_their_script(example: builder.BuildReport, words: str, roll: str) -> None:
    with example.archive.session() as session:
        assert roll in {hit.roll for hit in find(session, words).hits}


def test_a_reference_goes_to_the_frame(example: builder.BuildReport) -> None:
    with example.archive.session() as session:
        first = find(session, "2031-014 23A").hits[0]
    assert (first.roll, first.frame) == ("2031-014", "23A")


def test_the_oddities_are_there(example: builder.BuildReport) -> None:
    with example.archive.session() as session:
        assert len(get_roll(session, "2029-003").page_ids) == 2
        shared = get_roll(session, "2028-003").page_ids
        assert shared == get_roll(session, "2028-004").page_ids
        slipped = get_roll(session, "2030-006")
        six, seven = (next(f for f in slipped.frames if f.label == label) for label in ("6", "7"))
        assert six.start_mm is not None
        assert seven.start_mm is not None
        assert seven.start_mm < six.start_mm + 36
        assert any({"6", "7"} <= set(strip.labels) for strip in slipped.strips)
        labels = [f.label for f in get_roll(session, "2031-014").frames]
        assert labels[:2] == ["00", "0"]
        assert {"23A", "36A"} <= set(labels)
        states = {f.state for r in list_rolls(session) for f in get_roll(session, r.number).frames}
        assert {"blank", "double", "overlapped", "partial"} <= states
        assert any(strip.out and strip.out_reason for strip in get_roll(session, "2031-014").strips)
        assert any(strip.upside_down for strip in get_roll(session, "2029-002").strips)
        assert get_roll(session, "2030-008").former_numbers == ("2030-007",)
        assert gaps(session) == scenario.GAPS


def test_two_bottles_of_a_kit_have_done_four_rolls(example: builder.BuildReport) -> None:
    with example.archive.session(reading=True) as session:
        developer, fixer = (b for b in list_bottles(session) if b.name.startswith("Brown quart"))
        assert developer.bath is not None and fixer.bath is not None
        assert (developer.bath.left, fixer.bath.left) == (12, 1)
        assert any(not entry.counts for entry in developer.entries)
        cost = cost_of_roll(session, developer.bath.passes[0].roll.roll)
        assert cost.missing == () and cost.cost is not None and cost.cost.total.rounded(4) >= 9


def test_every_label_and_contact_sheet_is_written(example: builder.BuildReport, tmp_path: Path) -> None:
    files = builder.write_prints(example.archive, tmp_path / "prints")
    waiting = len(WAITING)  # rolls that lie on no page yet
    assert len(files) == len(set(files)) == example.pages + example.rolls - waiting
    assert all(file.read_bytes().startswith(b"%PDF-") for file in files)
    assert {"label-binder-1-page-03.pdf", "contact-2031-014.pdf"} <= {file.name for file in files}


@pytest.mark.parametrize("subject", sorted(SUBJECTS))
def test_a_picture_is_the_same_every_time_and_has_tones(subject: str) -> None:
    once, again = (picture(subject, "one", 36, 24, colour=True) for _ in range(2))
    assert jpeg(once) == jpeg(again)
    assert jpeg(once) != jpeg(picture(subject, "two", 36, 24, colour=True))
    assert once.std() > 0.05


def test_a_negative_is_dark_where_the_scene_is_light() -> None:
    positive = picture("lighthouse", "one", 36, 24, colour=False)
    film = negative(positive, colour=False)
    assert film[positive > 0.8].mean() < film[positive < 0.2].mean()
    orange = negative(positive, colour=True)
    assert orange[..., 0].mean() > orange[..., 2].mean()


def test_a_failure_halfway_leaves_nothing_that_blocks_a_second_try(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scenario, "ROLLS", scenario.ROLLS[3:4])
    target = tmp_path / "archive"
    with monkeypatch.context() as broken:
        broken.setattr(builder, "_add_pictures", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
        broken.setattr(builder, "get_roll", lambda *_: type("Gone", (), {"page_ids": (None,)})())
        with pytest.raises(OSError, match="disk full"):
            builder.build(target)
    assert list(tmp_path.iterdir()) == []


def test_an_archive_that_is_there_is_left_alone(example: builder.BuildReport) -> None:
    before = (example.archive.folder / "stripleaf.db").read_bytes()
    with pytest.raises(AlreadyExists, match="already"):
        builder.build(example.archive.folder)
    assert (example.archive.folder / "stripleaf.db").read_bytes() == before


def test_a_drawn_picture_is_a_readable_jpeg_of_the_frame_shape(example: builder.BuildReport) -> None:
    with Image.open(example.archive.folder / "scans" / "2030-003" / "2030-003_1.jpg") as upright:
        assert upright.height > upright.width
