"""Sidecars, read back with libraries that know nothing of this catalogue: exiv2 (pyexiv2) and Pillow."""

import io
import os
import stat
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pyexiv2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from catalogue.errors import ArchiveProblem, InvalidInput, NotFound
from catalogue.film.dates import parse_date
from catalogue.scans.write import sidecars
from catalogue.scans.write.frame_facts import FrameFacts, certain_date
from catalogue.scans.write.sidecars import merge_sidecar, merged_xmp, sidecars_of, write_sidecar

FULL = FrameFacts(
    roll="2031-014",
    frame="7A",
    exposed="2031-05-14",
    scanned="2033-01-02",
    caption="Ferry at the pier",
    place="Lower Harbour",
    keywords=("ferry", "harbour"),
    camera="Parallax Two",
    lens="Merrow 50 mm",
    stock="Lantern Pan",
    film_kind="negative",
    film_speed=400,
    photographer="Ida Quill",
    rights="© 2031 Ida Quill",
    binder="Binder 1",
    page=12,
    slot=3,
    place_in_slot=4,
    address="Binder 1, page 12, third strip from the top, fourth frame from the ring side",
    former_numbers=("A-77", "31/14"),
    shutter_s=Fraction(1, 250),
    aperture=5.6,
    focal_length_mm=50,
    exposure_index=320,
    latitude=-48.2083333333,
    longitude=16.5,
)
BARE = FrameFacts(roll="1", frame="0")


def quoted(text: str) -> str:
    """Text as an attribute holds it."""
    for sign, name in (("&", "amp"), ("<", "lt"), ('"', "quot"), ("\n", "#10"), ("\t", "#9"), ("\r", "#13")):
        text = text.replace(sign, f"&{name};")
    return text


BLOB = "ab+/=9\nline two\ttab\r\n<&>\"'" + "x" * 500
# Another program's file: an own prefix for Dublin Core, values as attributes and as elements, two blocks,
# a comment, settings as text with line ends in an attribute, a structure, and an XML declaration.
FOREIGN = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="Invented 1.0">'
    '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><!-- left by hand -->'
    '<rdf:Description rdf:about="uuid:1-2-3" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:dev="http://develop.example/1/"'
    ' xmp:Rating="4" xmp:Label="Grün" dev:Exposure="+0.35" dev:Blob="'
    + quoted(BLOB)
    + '"><dev:Masks><rdf:Seq><rdf:li rdf:parseType="Resource"><dev:Gain>2</dev:Gain></rdf:li></rdf:Seq></dev:Masks>'
    "<dev:Note><![CDATA[a < b & c]]></dev:Note></rdf:Description>"
    '<rdf:Description rdf:about="uuid:1-2-3" xmlns:d="http://purl.org/dc/elements/1.1/">'
    '<d:subject><rdf:Bag><rdf:li>boat</rdf:li><rdf:li>ferry</rdf:li></rdf:Bag></d:subject>'
    '<d:description><rdf:Alt><rdf:li xml:lang="de">Fähre</rdf:li></rdf:Alt></d:description></rdf:Description>'
    "</rdf:RDF></x:xmpmeta>"
).encode()  # fmt: skip


def exiv2_reads(data: bytes, folder: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """XMP as exiv2 reads it, and the Exif values exiv2 makes of it."""
    path = folder / "read.xmp"
    path.write_bytes(data)
    with pyexiv2.Image(str(path)) as image:
        return image.read_xmp(), image.read_exif()


def pillow_reads(data: bytes) -> dict[str, Any]:
    """The packet as Pillow reads it, without prefixes."""
    image = Image.new("L", (1, 1))
    image.info["xmp"] = data
    read: dict[str, Any] = image.getxmp()
    return read


def test_standard_properties_read_back(tmp_path: Path) -> None:
    xmp, exif = exiv2_reads(merged_xmp(None, FULL), tmp_path)
    assert xmp["Xmp.dc.description"] == {'lang="x-default"': "Ferry at the pier"}
    assert xmp["Xmp.dc.rights"] == {'lang="x-default"': "© 2031 Ida Quill"}
    assert xmp["Xmp.dc.creator"] == ["Ida Quill"]
    assert xmp["Xmp.dc.subject"] == ["ferry", "harbour"]
    assert xmp["Xmp.photoshop.DateCreated"] == "2031-05-14"
    assert xmp["Xmp.xmp.CreateDate"] == "2033-01-02"
    assert xmp["Xmp.iptc.Location"] == "Lower Harbour"
    # IPTC NewsCodes, digital source type, "Digitised from a negative on film" (from memory).
    assert xmp["Xmp.iptcExt.DigitalSourceType"] == "http://cv.iptc.org/newscodes/digitalsourcetype/negativeFilm"
    assert xmp["Xmp.aux.Lens"] == xmp["Xmp.exifEX.LensModel"] == "Merrow 50 mm"
    assert not {key for key in xmp if key.startswith("Xmp.tiff")}, "make and model are the scanner's"
    # exiv2 turns XMP into Exif by its own rules: 48° 12' 30" south, 16° 30' east.
    assert exif["Exif.Photo.ExposureTime"] == "1/250"
    assert exif["Exif.Photo.FNumber"] == "28/5"
    assert exif["Exif.Photo.FocalLength"] == "50/1"
    assert exif["Exif.Photo.ISOSpeedRatings"] == "320"
    assert exif["Exif.GPSInfo.GPSLatitudeRef"] == "S" and exif["Exif.GPSInfo.GPSLongitudeRef"] == "E"
    angle = [Fraction(part) for part in exif["Exif.GPSInfo.GPSLatitude"].split()]
    assert float(angle[0] + angle[1] / 60 + angle[2] / 3600) == pytest.approx(48.2083333333, abs=1e-8)
    assert exif["Exif.GPSInfo.GPSLongitude"].startswith("16/1 30/1 0/")
    assert "Xmp.exif.DateTimeOriginal" not in xmp, "Exif can't hold a day without a time"


def test_private_properties_read_back(tmp_path: Path) -> None:
    data = merged_xmp(None, replace(FULL, exposed="2031-05~"))
    xmp, _ = exiv2_reads(data, tmp_path)
    private = {key.removeprefix("Xmp.stripleaf."): value for key, value in xmp.items() if key.startswith("Xmp.stripleaf.")}
    private.pop("wrote")
    assert private == {
        "roll": "2031-014",
        "frame": "7A",
        "exposed": "2031-05~",
        "scanned": "2033-01-02",
        "camera": "Parallax Two",
        "stock": "Lantern Pan",
        "filmSpeed": "400",
        "exposureIndex": "320",
        "binder": "Binder 1",
        "page": "12",
        "slot": "3",
        "placeInSlot": "4",
        "address": FULL.address,
        "formerNumbers": ["A-77", "31/14"],
    }
    assert "Xmp.photoshop.DateCreated" not in xmp, "nothing of “about May” is certain"
    assert b'"https://stripleaf.invalid/ns/1/"' in data


def test_pillow_reads_the_same_packet() -> None:
    read = pillow_reads(merged_xmp(None, FULL))["xmpmeta"]["RDF"]["Description"]
    assert read["description"]["Alt"]["li"]["text"] == "Ferry at the pier"
    assert read["subject"]["Bag"]["li"] == ["ferry", "harbour"]
    assert read["roll"] == "2031-014"


def test_a_moment_is_also_an_exif_date(tmp_path: Path) -> None:
    xmp, exif = exiv2_reads(merged_xmp(None, replace(BARE, exposed="2031-05-14T10:11:12")), tmp_path)
    assert xmp["Xmp.photoshop.DateCreated"] == xmp["Xmp.exif.DateTimeOriginal"] == "2031-05-14T10:11:12"
    assert exif["Exif.Photo.DateTimeOriginal"] == "2031:05:14 10:11:12"


# EDTF texts as the examples of ISO 8601-2:2019 levels 0 and 1 give them (as two public test suites quote them);
# XMP dates are the partial dates of the XMP specification, part 1 (from memory).
CERTAIN = [
    ("1985", "1985"),
    ("1985-04", "1985-04"),
    ("1985-04-12", "1985-04-12"),
    ("1985-04-12T23:20:30", "1985-04-12T23:20:30"),
    ("1985-04-12T23:20:30Z", "1985-04-12T23:20:30Z"),
    ("1985-04-12T23:20:30-04", "1985-04-12T23:20:30-04:00"),
    ("1985-04-12T23:20:30+04:30", "1985-04-12T23:20:30+04:30"),
    ("1984?", ""),
    ("2004-06~", ""),
    ("2004-06-11%", ""),
    ("201X", ""),
    ("20XX", ""),
    ("2004-XX", "2004"),
    ("1985-04-XX", "1985-04"),
    ("1985-XX-XX", "1985"),
    ("2001-21", "2001"),
    ("2001-22", "2001"),
    ("2001-23", "2001"),
    ("2001-24", ""),
    ("1964/2008", ""),
    ("2004-02-01/2005-02", ""),
    ("2004-02-01/2004-02-08", "2004-02"),
    ("2004-06/2004-08", "2004"),
    ("2004-06-11/2004-06-11", "2004-06-11"),
    ("2004-21/2004-22", "2004"),
    ("1984-06?/1984-08", ""),
    ("1984-06/1984-08~", ""),
    ("1985-04-12/..", ""),
    ("../1985-04", ""),
    ("/1985", ""),
    ("1985/", ""),
    ("-1985", ""),
    ("0000", ""),
    ("Y170000002", ""),
    ("", ""),
]


@pytest.mark.parametrize(("edtf", "xmp"), CERTAIN)
def test_only_what_is_certain_becomes_a_date(edtf: str, xmp: str, tmp_path: Path) -> None:
    if edtf:
        parse_date(edtf)
    assert certain_date(edtf) == xmp
    read, _ = exiv2_reads(merged_xmp(None, replace(BARE, exposed=edtf)), tmp_path)
    assert read.get("Xmp.photoshop.DateCreated", "") == xmp
    assert read.get("Xmp.stripleaf.exposed", "") == edtf


SCRIPTS = [
    "Ελληνικά",
    "日本語のネガ",
    "🎞️👩‍🔬",
    "a < b & c > d \"q\" 'p' ]]>",
    "line\nbreak\r\nand\ttab",
    "עברית",
    "e\u0301",
    "\U0002000b",
]


@pytest.mark.parametrize("text", SCRIPTS)
def test_any_script_survives(text: str, tmp_path: Path) -> None:
    facts = replace(BARE, caption=text, place=text, keywords=(text, "x"), stock=text)
    xmp, _ = exiv2_reads(merged_xmp(None, facts), tmp_path)
    assert xmp["Xmp.dc.description"] == {'lang="x-default"': text}
    assert xmp["Xmp.iptc.Location"] == xmp["Xmp.stripleaf.stock"] == text
    assert xmp["Xmp.dc.subject"] == [text, "x"]


XML_TEXT = st.text(
    st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff") | st.sampled_from("\n\t\r<&>\"'"),
    max_size=40,
).filter(lambda text: bool(text.strip()))


@settings(max_examples=150, deadline=None)
@given(text=XML_TEXT, words=st.lists(XML_TEXT, max_size=4, unique=True))
def test_text_round_trip_and_merging_twice(text: str, words: list[str], tmp_path_factory: pytest.TempPathFactory) -> None:
    facts = replace(BARE, caption=text, keywords=tuple(words), address=text)
    data = merged_xmp(None, facts)
    assert merged_xmp(data, facts) == data
    read = pillow_reads(data)["xmpmeta"]["RDF"]["Description"]
    assert read["description"]["Alt"]["li"]["text"] == text
    assert read["address"] == text
    found = read["subject"]["Bag"]["li"] if words else []
    assert (found if isinstance(found, list) else [found]) == words


def test_foreign_content_survives(tmp_path: Path) -> None:
    before, _ = exiv2_reads(FOREIGN, tmp_path)
    assert len(before) > 8
    merged = merge_sidecar(FOREIGN, FULL)
    after, _ = exiv2_reads(merged.data, tmp_path)
    assert after["Xmp.xmp.Rating"] == "4" and after["Xmp.xmp.Label"] == "Grün"
    assert after["Xmp.dev.Blob"] == before["Xmp.dev.Blob"] == BLOB
    assert after["Xmp.dev.Note"] == "a < b & c"
    ours = {"Xmp.dc.subject", "Xmp.dc.description"}
    assert {key: after[key] for key in before if key not in ours} == {key: before[key] for key in before if key not in ours}
    assert after["Xmp.dc.subject"] == ["boat", "ferry", "harbour"]
    assert after["Xmp.dc.description"] == {'lang="x-default"': "Ferry at the pier", 'lang="de"': "Fähre"}
    assert b"<!-- left by hand -->" in merged.data
    assert b'x:xmptk="Invented 1.0"' in merged.data
    assert merged.kept == ()


def test_merging_twice_changes_nothing() -> None:
    for existing in (None, FOREIGN):
        once = merged_xmp(existing, FULL)
        assert merged_xmp(once, FULL) == once
    later = replace(FULL, caption="Ferry leaving", keywords=("boat", "rain"))
    there = merged_xmp(merged_xmp(FOREIGN, FULL), later)
    assert merged_xmp(there, later) == there


def test_own_values_follow_the_catalogue_and_go_when_withdrawn(tmp_path: Path) -> None:
    first = merged_xmp(FOREIGN, FULL)
    second = merged_xmp(first, replace(FULL, caption="Ferry leaving", keywords=("rain", "boat"), latitude=1.5, stock="Other"))
    xmp, _ = exiv2_reads(second, tmp_path)
    assert xmp["Xmp.dc.description"]['lang="x-default"'] == "Ferry leaving"
    assert xmp["Xmp.dc.subject"] == ["boat", "ferry", "rain"], "harbour was ours and goes; boat and ferry were there before"
    assert xmp["Xmp.exif.GPSLatitude"] == "1,30.000000N"
    assert xmp["Xmp.stripleaf.stock"] == "Other"
    xmp, exif = exiv2_reads(merged_xmp(second, BARE), tmp_path)
    assert xmp["Xmp.dc.subject"] == ["boat", "ferry"]
    assert xmp["Xmp.dc.description"] == {'lang="de"': "Fähre"}
    assert not {key for key in [*xmp, *exif] if "GPS" in key or "ISO" in key or "Lens" in key or "address" in key}
    assert xmp["Xmp.xmp.Rating"] == "4"


def changed_by_exiv2(data: bytes, folder: Path, changes: dict[str, Any]) -> bytes:
    """The file after another program has written to it."""
    path = folder / "other.xmp"
    path.write_bytes(data)
    with pyexiv2.Image(str(path)) as image:
        image.modify_xmp(changes)
    return path.read_bytes()


def test_values_changed_elsewhere_are_kept(tmp_path: Path) -> None:
    changes = {"Xmp.dc.description": {'lang="x-default"': "Typed elsewhere"}, "Xmp.xmp.Rating": "5"}
    touched = changed_by_exiv2(merged_xmp(None, FULL), tmp_path, changes)
    # exiv2 writes every block and some numbers anew; that alone makes no value foreign.
    assert b"48,12.5000000S" in touched
    assert merge_sidecar(touched, replace(FULL, caption="Typed elsewhere")).kept == ()
    touched = touched.replace(b"48,12.5000000S", b"2,0N")
    merged = merge_sidecar(touched, replace(FULL, place="Upper Harbour", longitude=20.0, caption="New"))
    xmp, _ = exiv2_reads(merged.data, tmp_path)
    assert xmp["Xmp.dc.description"] == {'lang="x-default"': "Typed elsewhere"}
    assert xmp["Xmp.exif.GPSLatitude"] == "2,0N"
    assert xmp["Xmp.exif.GPSLongitude"].startswith("16,30.0"), "half a foreign position with half of ours would be a third place"
    assert xmp["Xmp.iptc.Location"] == "Upper Harbour", "ours, though another program has written the file anew"
    assert xmp["Xmp.xmp.Rating"] == "5"
    assert merged.kept == ("dc:description", "exif:GPSLatitude", "exif:GPSLongitude")
    assert merged_xmp(merged.data, replace(FULL, place="Upper Harbour", longitude=20.0, caption="New")) == merged.data


def test_a_foreign_value_that_agrees_is_kept_when_the_catalogue_changes(tmp_path: Path) -> None:
    there = changed_by_exiv2(merged_xmp(None, BARE), tmp_path, {"Xmp.iptc.Location": "Pier"})
    assert merge_sidecar(there, replace(BARE, place="Pier")).kept == ()
    merged = merge_sidecar(merged_xmp(there, replace(BARE, place="Pier")), replace(BARE, place="Quay"))
    assert exiv2_reads(merged.data, tmp_path)[0]["Xmp.iptc.Location"] == "Pier"
    assert merged.kept == ("Iptc4xmpCore:Location",)


def in_rdf(inside: str, attributes: str = "") -> bytes:
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about=""'
        f' xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:p="http://ns.adobe.com/photoshop/1.0/"{attributes}>{inside}'
        "</rdf:Description></rdf:RDF></x:xmpmeta>"
    ).encode()


@pytest.mark.parametrize(
    ("existing", "kept", "still"),
    [
        (in_rdf("", ' p:DateCreated="1999"'), "photoshop:DateCreated", b'p:DateCreated="1999"'),
        (in_rdf('<dc:rights rdf:resource="http://r.example/"/>'), "dc:rights", b'<dc:rights rdf:resource="http://r.example/"/>'),
        (in_rdf("<dc:subject>loose</dc:subject>"), "dc:subject", b"<dc:subject>loose</dc:subject>"),
        (in_rdf("<dc:rights>a</dc:rights><dc:rights>b</dc:rights>"), "dc:rights", b"<dc:rights>a</dc:rights><dc:rights>b"),
        (
            in_rdf('<dc:creator><rdf:Seq><rdf:li rdf:parseType="Resource"><p:A>1</p:A></rdf:li></rdf:Seq></dc:creator>'),
            "dc:creator",
            b'<rdf:li rdf:parseType="Resource"><p:A>1</p:A></rdf:li>',
        ),
    ],
)  # fmt: skip
def test_values_in_other_shapes_are_kept(existing: bytes, kept: str, still: bytes) -> None:
    merged = merge_sidecar(existing, FULL)
    assert kept in merged.kept
    assert still in merged.data
    assert merged_xmp(merged.data, FULL) == merged.data


def test_rdf_without_a_frame_around_it() -> None:
    bare = in_rdf("<dc:title>t</dc:title>").replace(b'<x:xmpmeta xmlns:x="adobe:ns:meta/">', b"").replace(b"</x:xmpmeta>", b"")
    first, second = pillow_reads(merged_xmp(bare, BARE))["RDF"]["Description"]
    assert (first["title"], second["roll"]) == ("t", "1")


def test_prefixes_that_mean_something_else() -> None:
    own = in_rdf('<dc:rights xmlns:dc="http://d.example/">theirs</dc:rights>').replace(b"rdf:", b"r:").replace(b":rdf=", b":r=")
    own = own.replace(b"xmlns:r=", b'xmlns:rdf="http://e.example/" xmlns:stripleaf="http://f.example/" xmlns:r=')
    merged = merged_xmp(own, replace(BARE, rights="ours"))
    assert merged_xmp(merged, replace(BARE, rights="ours")) == merged
    spaces = {element.tag for element in ElementTree.fromstring(merged).iter()}
    assert {"{http://d.example/}rights", "{http://purl.org/dc/elements/1.1/}rights"} <= spaces
    assert {"{https://stripleaf.invalid/ns/1/}roll", "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li"} <= spaces
    assert not {tag for tag in spaces if "e.example" in tag or "f.example" in tag}


def test_empty_values_are_filled(tmp_path: Path) -> None:
    existing = in_rdf("<dc:rights/><dc:subject><rdf:Bag/></dc:subject>", ' p:DateCreated=""')
    xmp, _ = exiv2_reads(merged_xmp(existing, FULL), tmp_path)
    assert xmp["Xmp.photoshop.DateCreated"] == "2031-05-14"
    assert xmp["Xmp.dc.subject"] == ["ferry", "harbour"]
    assert xmp["Xmp.dc.rights"] == {'lang="x-default"': "© 2031 Ida Quill"}


def test_other_encodings_become_utf_8(tmp_path: Path) -> None:
    text = '<?xml version="1.0" encoding="UTF-16"?>' + in_rdf("<dc:title>Ω</dc:title>").decode()
    merged = merged_xmp(text.encode("utf-16"), BARE)
    assert exiv2_reads(merged, tmp_path)[0]["Xmp.dc.title"] == {'lang="x-default"': "Ω"}
    assert merged.startswith(b'<?xml version="1.0" encoding="UTF-8"?>')


BOMB = b'<!DOCTYPE a [<!ENTITY b "bbbb"><!ENTITY c "&b;&b;&b;">]>' + in_rdf("<dc:title>&c;</dc:title>")
OUTSIDE = b'<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]>' + in_rdf("<dc:title>&b;</dc:title>")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not well-formed"),
        (b"not xml", "not well-formed"),
        (FOREIGN[:-20], "not well-formed"),
        (b"\xff\xfe\x00", "not well-formed"),
        (b'<?xml version="1.0" encoding="no-such"?><a/>', "not well-formed"),
        (in_rdf("<unbound:x/>"), "not well-formed"),
        (b"<a/>", "holds no XMP"),
        (BOMB, "entities"),
        (OUTSIDE, "entities"),
        (in_rdf("<dc:x>" * 200 + "</dc:x>" * 200), "nested more than 100"),
        (b" " * 16_000_001, "16000001 bytes"),
    ],
)
def test_broken_sidecars_are_refused_and_left(data: bytes, said: str, tmp_path: Path) -> None:
    scan, sidecar = tmp_path / "a.tif", tmp_path / "a.tif.xmp"
    scan.write_bytes(b"picture")
    sidecar.write_bytes(data)
    with pytest.raises(InvalidInput, match=said) as told:
        write_sidecar(scan, FULL)
    assert "a.tif.xmp" in str(told.value) and "left as it is" in str(told.value)
    assert sidecar.read_bytes() == data
    assert {p.name for p in tmp_path.iterdir()} == {"a.tif", "a.tif.xmp"}


def test_writing_leaves_the_scan_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = tmp_path / "2031-014_7A.tif"
    scan.write_bytes(b"never a picture")
    before = scan.stat()
    opened: list[str] = []
    really_open = io.open

    def watched(file: Any, *args: Any, **kwargs: Any) -> Any:
        opened.append(Path(file).name)
        return really_open(file, *args, **kwargs)

    with monkeypatch.context() as patch:
        patch.setattr(io, "open", watched)  # what every way of opening a path comes down to
        report = write_sidecar(scan, FULL)
        assert report.path == tmp_path / "2031-014_7A.tif.xmp" and report.changed and report.left_alone == ()
        assert not write_sidecar(scan, FULL).changed
    assert report.path.name in opened and scan.name not in opened
    after = scan.stat()
    assert (after.st_mtime_ns, after.st_ctime_ns, after.st_ino) == (before.st_mtime_ns, before.st_ctime_ns, before.st_ino)
    assert {p.name for p in tmp_path.iterdir()} == {scan.name, report.path.name}


def test_the_mode_of_a_sidecar_stays(tmp_path: Path) -> None:
    (tmp_path / "a.tif").touch()
    (tmp_path / "a.tif.xmp").write_bytes(FOREIGN)
    (tmp_path / "a.tif.xmp").chmod(0o640)
    write_sidecar(tmp_path / "a.tif", FULL)
    assert stat.S_IMODE((tmp_path / "a.tif.xmp").stat().st_mode) == 0o640


@pytest.mark.parametrize(
    ("files", "written", "others"),
    [
        (["a.tif"], "a.tif.xmp", []),
        (["a.tif", "a.tif.xmp"], "a.tif.xmp", []),
        (["a.tif", "a.xmp"], "a.xmp", []),
        (["a.tif", "a.XMP"], "a.XMP", []),
        (["a.tif", "a.tif.xmp", "a.xmp"], "a.tif.xmp", ["a.xmp"]),
        (["a.tif", "a.jpg", "a.xmp"], "a.tif.xmp", ["a.xmp"]),
        (["a.tif", "A.JPG", "a.xmp"], "a.tif.xmp", ["a.xmp"]),
        (["a.tif", "a", "a.xmp"], "a.tif.xmp", ["a.xmp"]),
        (["a.tif", "b.jpg", "b.xmp"], "a.tif.xmp", []),
        (["a.tif", "a.jpg.xmp"], "a.tif.xmp", []),
    ],
)
def test_both_ways_of_naming(files: list[str], written: str, others: list[str], tmp_path: Path) -> None:
    for name in files:
        (tmp_path / name).write_bytes(FOREIGN if name.casefold().endswith(".xmp") else b"x")
    before = {name: (tmp_path / name).read_bytes() for name in files}
    assert sidecars_of(tmp_path / "a.tif") == (tmp_path / written, tuple(tmp_path / name for name in others))
    report = write_sidecar(tmp_path / "a.tif", FULL)
    assert report.path.name == written
    assert [path.name for path in report.left_alone] == others
    assert {p.name for p in tmp_path.iterdir()} == {*files, written}
    assert {name: (tmp_path / name).read_bytes() for name in files if name != written} == {
        name: data for name, data in before.items() if name != written
    }


def test_a_short_name_that_is_the_long_name_of_another_file(tmp_path: Path) -> None:
    for name in ("x.tif", "x.tif.jpg", "x.tif.xmp"):
        (tmp_path / name).write_bytes(FOREIGN)
    assert sidecars_of(tmp_path / "x.tif.jpg")[0].name == "x.tif.jpg.xmp"


def test_beside_a_copy_or_in_a_folder(tmp_path: Path) -> None:
    scan, copy, folder = tmp_path / "a.tif", tmp_path / "small" / "copy.jpg", tmp_path / "small"
    folder.mkdir()
    scan.touch()
    copy.touch()
    assert write_sidecar(scan, FULL, beside=copy).path == folder / "copy.jpg.xmp"
    assert write_sidecar(scan, FULL, beside=folder).path == folder / "a.tif.xmp"
    assert not (tmp_path / "a.tif.xmp").exists()


def test_what_has_no_sidecar(tmp_path: Path) -> None:
    (tmp_path / "a.tif").touch()
    (tmp_path / "bare").touch()
    with pytest.raises(NotFound, match=r"no\.tif"):
        write_sidecar(tmp_path / "no.tif", FULL)
    with pytest.raises(NotFound, match=r"no\.jpg"):
        write_sidecar(tmp_path / "a.tif", FULL, beside=tmp_path / "no.jpg")
    for name in ("a.tif.xmp", "bare"):
        (tmp_path / name).touch()
        with pytest.raises(InvalidInput, match="ending"):
            write_sidecar(tmp_path / name, FULL)
    (tmp_path / "a.tif.xmp").unlink()
    (tmp_path / "a.tif.xmp").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InvalidInput, match="is a link"):
        write_sidecar(tmp_path / "a.tif", FULL)


def test_a_failing_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.tif").touch()
    (tmp_path / "a.tif.xmp").write_bytes(FOREIGN)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ArchiveProblem, match="No space left"):
        write_sidecar(tmp_path / "a.tif", FULL)
    assert (tmp_path / "a.tif.xmp").read_bytes() == FOREIGN
    assert {p.name for p in tmp_path.iterdir()} == {"a.tif", "a.tif.xmp"}


def test_a_sidecar_changed_meanwhile_is_not_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.tif").touch()
    sidecar = tmp_path / "a.tif.xmp"
    sidecar.write_bytes(FOREIGN)
    merge = sidecars.merge_sidecar

    def meanwhile(existing: bytes | None, facts: FrameFacts) -> sidecars.Merged:
        sidecar.write_bytes(FOREIGN + b"\n")
        return merge(existing, facts)

    monkeypatch.setattr(sidecars, "merge_sidecar", meanwhile)
    with pytest.raises(ArchiveProblem, match="changed by another program"):
        write_sidecar(tmp_path / "a.tif", FULL)
    assert sidecar.read_bytes() == FOREIGN + b"\n"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"roll": " "}, "roll and the frame"),
        ({"caption": "a\x00b"}, r"U\+0000"),
        ({"keywords": ("a\ud800",)}, r"U\+D800"),
        ({"place": "\uffff"}, r"U\+FFFF"),
        ({"caption": "x" * 20_001}, "20001 characters"),
        ({"exposed": "last summer"}, "not a date"),
        ({"latitude": 91.0}, "91° lies outside ±90°"),
        ({"longitude": float("nan")}, "outside ±180°"),
        ({"latitude": None}, "go together"),
        ({"shutter_s": Fraction(0)}, "shutter_s is 0"),
        ({"aperture": float("inf")}, "aperture is inf"),
        ({"page": -1}, "page is -1"),
        ({"film_kind": "slide"}, "no kind of film"),
    ],
)
def test_impossible_facts_are_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        replace(FULL, **change)


def test_sensitivities_that_exif_cannot_hold_stay_private(tmp_path: Path) -> None:
    for index in (1.6, 65536, 0.8):
        xmp, exif = exiv2_reads(merged_xmp(None, replace(BARE, exposure_index=index)), tmp_path)
        assert xmp["Xmp.stripleaf.exposureIndex"] == f"{index:g}"
        assert not {key for key in [*xmp, *exif] if "ISO" in key or "Sensitivity" in key}


@pytest.mark.parametrize(
    ("degrees", "text"),
    [(0.0, "0,0.000000N"), (-0.5, "0,30.000000S"), (89.99999999999, "90,0.000000N"), (12.345678, "12,20.740680N")],
)
def test_angles(degrees: float, text: str, tmp_path: Path) -> None:
    # 0.345678 × 60 = 20.74068; a rounding up to 60 minutes is carried.
    xmp, _ = exiv2_reads(merged_xmp(None, replace(BARE, latitude=degrees, longitude=0.0)), tmp_path)
    assert xmp["Xmp.exif.GPSLatitude"] == text
