"""The example archive as data. Every person, place, camera, lens and film stock is invented."""

from dataclasses import dataclass, field
from typing import Any

ARCHIVE_NAME = "Negatives of the Ostrelund house"
BINDERS = (
    ("Binder 1", "Small format, 2028 to 2030"),
    ("Binder 2", "Small and medium format, 2030 to 2031"),
    ("Binder 3", "Large format, panoramas and slides"),
)
BLACK_AND_WHITE = {
    "process": "black and white", "developer": "Halmra fine grain", "dilution": "1+9", "temperature_c": 20.0,
    "time_s": 570, "done_by": "Ines Marovel",
}  # fmt: skip
COLOUR_NEGATIVE = {
    "process": "C-41", "developer": "two-bath kit", "temperature_c": 37.8, "time_s": 195, "done_by": "Ines Marovel",
}  # fmt: skip
COLOUR_SLIDE = {
    "process": "E-6", "developer": "three-bath kit", "temperature_c": 38.0, "time_s": 375, "done_by": "Laboratory Quillmere",
}  # fmt: skip
SMALL = {"camera": "Tellaro R2", "lens": "Orvane 50/2"}
HALF = {"camera": "Pimbel Half", "lens": "fixed 28/2.8"}
WIDE = {"camera": "Wendel Panoramic", "lens": "Orvane 45/4"}
SQUARE = {"camera": "Kastorel Twin", "lens": "Vellisar 80/3.5"}
MEDIUM = {"camera": "Brannoch 67", "lens": "Vellisar 90/3.5"}
FOLDING = {"camera": "Ludovex Folding", "lens": "fixed 105/4.5"}
LARGE = {"camera": "Harrowin field camera", "lens": "Septime 150/5.6"}
GREY, SILVER = {"stock": "Mirelle Pan 125"}, {"stock": "Corvane 400"}
WARM, SLIDE = {"stock": "Saffrane 200"}, {"stock": "Lumiette Chrome 100"}


@dataclass(frozen=True)
class ExampleRoll:
    """One roll: what is registered, and how many of its frames have which pictures."""

    facts: dict[str, Any]
    subjects: tuple[str, ...] = ()
    pictures: int = 0
    colour: bool = False
    negatives: bool = False
    on_page_of: str = ""
    former: str = ""
    details: dict[str, str] = field(default_factory=dict)


def _roll(
    number: str, binder: int, format: str, frames: str | int, subject: str, place: str, *kits: dict[str, Any],
    exposed: str, shows: str = "", pictures: int = 0, negatives: bool = False, page_of: str = "", former: str = "",
    details: dict[str, str] | None = None, **more: Any,
) -> ExampleRoll:  # fmt: skip
    facts: dict[str, Any] = {
        "number": number,
        "format": format,
        "frames": frames,
        "subject": subject,
        "place": place,
        "exposed": exposed,
    }
    if not page_of:
        facts["binder"] = f"Binder {binder}"
    for kit in kits:
        facts |= kit
    stock = facts.get("stock", "")
    process = {WARM["stock"]: COLOUR_NEGATIVE, SLIDE["stock"]: COLOUR_SLIDE}.get(stock, BLACK_AND_WHITE)
    facts.setdefault("process", process)
    facts |= more
    return ExampleRoll(
        facts,
        tuple(shows.split()),
        pictures,
        process is not BLACK_AND_WHITE,
        negatives,
        page_of,
        former,
        details or {},
    )


_PUSHED = BLACK_AND_WHITE | {
    "developer": "Halmra speed",
    "dilution": "stock",
    "time_s": 690,
    "push_stops": 1.0,
    "notes": "Stirred every half minute.",
}

ROLLS: tuple[ExampleRoll, ...] = (
    _roll("2028-001", 1, "135-24x36", 36, "Harbour at low tide", "Skarvholm", SMALL, GREY, exposed="2028-04",
          shows="harbour lighthouse dog", pictures=18, captions={"1": "Boats drying on the slip", "2": "The light from the mole",
          "3": "Tamsin's dog waits for the ferry", "7": "Ebb, from the quay steps"}),
    _roll("2028-002", 1, "135-24x36", "1-36, 36A", "Île de Verrande, l'été", "Port-Verrande", SMALL, WARM, exposed="2028-22",
          shows="market harbour bicycle", pictures=8, layout="135-7x6",
          captions={"1": "Marché du samedi, les abricots", "4": "La bicyclette d'Éloïse contre le mur", "36A": "Dernière vue, déjà la nuit"}),
    _roll("2028-003", 1, "135-24x36", 24, "Trees in the fog", "Ostrelund", SMALL, SILVER, exposed="2028-11~",
          shows="mist_trees hills", pictures=8, layout="135-7x6", captions={"1": "Beeches behind the mill", "2": "Morning above the valley"}),
    _roll("2028-004", 1, "135-24x36", 12, "Short roll, trying the old lens", "Ostrelund", SMALL, GREY, exposed="2028-12?",
          shows="still_life", pictures=4, page_of="2028-003", captions={"1": "Bottles on the kitchen table"}),
    _roll("2029-001", 1, "135-24x36", "0-36", "Night trams", "Veldmoor", SMALL, SILVER, exposed="2029-01-14", process=_PUSHED,
          shows="tram street night_sky", pictures=9, captions={"0": "First frame, half fogged", "1": "Line 4 under the wires", "2": "Lamps in Cooper's Row"},
          frame_states={"0": "partial"}),
    _roll("2029-002", 1, "135-24x36", 36, "Νησί Καλλιράνη", "Καλλιράνη", SMALL, WARM, exposed="2029-05/2029-06",
          shows="harbour stairs lighthouse", pictures=9, captions={"1": "Ψαρόβαρκες στο λιμάνι", "2": "Η σκάλα προς το παλιό σχολείο", "3": "Ο φάρος το απόγευμα"}),
    _roll("2029-003", 1, "135-18x24", 72, "Half-frame diary", "Veldmoor", HALF, GREY, exposed="2029-22",
          shows="street dog bicycle", pictures=12, captions={"1": "Out of the front door", "40": "Rain, then none"},
          notes="72 half frames; goes over two pages."),
    _roll("2029-004", 1, "135-24x36", 36, "霧の朝", "白瀬里町", SMALL, SILVER, exposed="2029-10-03", shows="mist_trees bridge stairs", pictures=9,
          captions={"1": "霧の中の木々", "2": "石橋と川", "3": "神社へ上がる階段"}),
    _roll("2029-006", 1, "135-24x65", 21, "Wide views of the estuary", "Skarvholm", WIDE, GREY, exposed="2029-11", shows="harbour hills bridge",
          pictures=6, captions={"1": "The whole waterfront", "2": "Hills beyond the flats"}),
    _roll("2030-001", 2, "120-6x6", 12, "Зима в Белоречье", "Белоречье", SQUARE, GREY, exposed="2030-01~", shows="snow portrait stairs", pictures=12,
          captions={"1": "Первый снег у опушки", "2": "Бабушка Аглая у окна", "3": "Лестница к реке"}),
    _roll("2030-002", 2, "120-6x6", 12, "Portraits at the table", "Ostrelund", SQUARE, SILVER, exposed="2030-06~", shows="portrait still_life",
          pictures=12, negatives=True, captions={"1": "Ines, window light", "5": "Two exposures on one frame: Ines and the street"}, frame_states={"5": "double"}),
    _roll("2030-003", 2, "120-6x4.5", 16, "Chợ nổi buổi sáng", "Bến Lụa Vàng", FOLDING, WARM, exposed="2030-03", shows="market portrait harbour", pictures=8,
          captions={"1": "Chợ sớm, trái cây đầy thuyền", "2": "Bà Thảo bán hoa", "3": "Bến thuyền lúc bình minh"}),
    _roll("2030-004", 2, "120-6x7", 10, "Bridges of the Arle", "Arlemouth", MEDIUM, GREY, exposed="2030-08-12/2030-08-15", shows="bridge hills", pictures=10,
          captions={"1": "Three-arch bridge, upstream side", "2": "Above the weir"}),
    _roll("2030-005", 2, "120-6x9", 8, "Allotments", "Veldmoor", FOLDING, WARM, exposed="2030-09", shows="bicycle market hills", pictures=6,
          captions={"1": "Mr Padgrave's bicycle"}),
    _roll("2030-006", 2, "135-24x36", 36, "Film advance slipping", "Veldmoor", SMALL, GREY, exposed="2030-10", shows="tram stairs", pictures=8,
          captions={"6": "Runs into frame 7", "7": "Begins on frame 6"}, frame_states={"6": "overlapped", "7": "overlapped"},
          frame_starts_mm=[1 + 38 * n - (6 if n > 5 else 0) for n in range(36)], notes="Frames 6 and 7 overlap by 4 mm; never cut between them."),
    _roll("2030-008", 2, "135-24x36", 24, "Found in a drawer", "perhaps Skarvholm", GREY, exposed="203X", captions={"1": "Unknown pier"},
          former="2030-007", notes="Numbered a second time when the drawer was sorted."),
    _roll("2031-001", 2, "135-24x24", 36, "Squares on small film", "Arlemouth", HALF, SILVER, exposed="2031-01", shows="stairs street dog", pictures=6),
    _roll("2031-002", 2, "120-6x6", 12, "Winter garden", "Ostrelund", SQUARE, WARM, exposed="2031-02", shows="still_life snow", pictures=6,
          frame_states={"12": "blank"}),
    _roll("2031-005", 2, "120-6x7", 10, "Market, second visit", "Port-Verrande", MEDIUM, WARM, exposed="2031-04-05", shows="market portrait", pictures=6,
          captions={"1": "Étal d'Éloïse Tarvin, poires et prunes"}),
    _roll("2031-014", 2, "135-24x36", ["00", *map(str, range(24)), "23A", *map(str, range(24, 37)), "36A"], "Walking to the lighthouse", "Skarvholm", SMALL, WARM,
          exposed="2031-05-17", shows="lighthouse harbour dog bicycle hills", pictures=40, negatives=True, layout="135-7x6",
          captions={"00": "Winding on", "1": "The light, from the lane", "23A": "Lighthouse between two showers", "36A": "One more, on the way home"},
          details={"23A": "gulls rain lighthouse keepers"}, processed="2031-05-20", sleeved="2031-05-21",
          notes="Counted from 00; an extra exposure after 23 is numbered 23A."),
    _roll("2031-015", 2, "120-6x9", 8, "قرية عين الزيتون", "عين الزيتون", FOLDING, GREY, exposed="2031-06", shows="stairs hills", pictures=4,
          captions={"1": "الدرج القديم", "2": "التلال عند الغروب"}),
    _roll("2029-005", 3, "sheet-4x5", 4, "Still lifes for Corin", "Ostrelund", LARGE, GREY, exposed="2029-03", shows="still_life", pictures=4,
          captions={"1": "Jug, bottle, two pears"}),
    _roll("2030-010", 3, "sheet-4x5", 4, "Beeches, four seasons", "Ostrelund", LARGE, SILVER, exposed="2028/2029", shows="mist_trees snow", pictures=4,
          captions={"1": "Spring mist, long exposure"}),
    _roll("2030-011", 3, "slide-50x50", 20, "Slides for the village evening", "Skarvholm", SMALL, SLIDE, exposed="2030-21", shows="harbour hills market night_sky",
          pictures=12, captions={"1": "Opening slide: the harbour", "4": "The sky over the mole"}),
    _roll("2031-010", 3, "slide-50x50", 16, "Diapositives du retour", "Port-Verrande", SMALL, SLIDE, exposed="2031-04?", shows="bridge tram", pictures=4,
          captions={"1": "Le vieux pont, au petit jour"}),
    _roll("2031-011", 3, "120-6x12", 6, "Long shore", "Skarvholm", {"camera": "Wendel Panoramic 120", "lens": "Septime 90/8"}, GREY, exposed="2031-03/..",
          shows="lighthouse hills", pictures=4, captions={"1": "From the mole to the point"}),
    _roll("2031-012", 3, "135-24x36", 36, "Untouched since the flood", "Arlemouth", SMALL, GREY, exposed="2028~", captions={"1": "Water line on the wall"}),
)  # fmt: skip

GAPS = (
    ("2031-003", "Counted twice; this number was never used."),
    ("2031-004", "Blank roll, the film never left the cassette."),
)
STRIP_OUT = ("2031-014", 3, "with the printer in Quillmere for two enlargements", "2031-09-01")
STRIP_UPSIDE_DOWN = ("2029-002", 2, "Filed head to foot when the page was last sorted.")
