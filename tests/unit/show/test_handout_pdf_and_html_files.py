"""The handout: one page, real text, tagged, the same bytes again, and nothing cut short."""

import io
import re
from dataclasses import replace
from datetime import date
from itertools import pairwise

import pikepdf
import pypdfium2
import pytest
from lxml import html as lxml_html
from PIL import Image

from goodlength.errors import InputError, NoSpace, OutOfRange, PageFull
from goodlength.show.draw.court.floor_maps import BoxServes, FloorPoint, SpotMark
from goodlength.show.draw.proportion_protocols_and_wording import CountedShare
from goodlength.show.handout import handout_pdf_and_html_files
from goodlength.show.handout.handout_types import (
    HandoutCourt,
    HandoutData,
    HandoutFinding,
    HandoutServe,
    HandoutStill,
)

EVIL = '#evil[*x*] $1$ <b>&"'
DATA = HandoutData(
    player="Imogen Vale",
    opponent="Petra Lindqvist-Ode",
    club="Saltmarsh Racquets",
    event="Tideway Open, quarter-final",
    played=date(2026, 3, 14),
    made=date(2026, 3, 15),
    result="Lost 1–3: 11–8, 7–11, 9–11, 8–11",
    findings=(
        HandoutFinding(
            "clear", "More weak returns came on your lob.", "11 of 17 came back loose. Hard: 1 of 12."
        ),
        HandoutFinding("leaning", "You lobbed less and less.", "7 of 11 in game 1, 2 of 8 in game 4."),
        HandoutFinding("too-few", "The body serve is worth a try.", "3 of 4 troubled her."),
    ),
    serves=(
        HandoutServe("Lob", 17, CountedShare(11, 17, 0.41, 0.83)),
        HandoutServe("Body, bouncing at the feet", 2, CountedShare(2, 2, 0.34, 1.0)),
        HandoutServe("Other", 1, None),
    ),
    court=HandoutCourt(
        "Your serves, box by box", BoxServes(12, CountedShare(7, 12, 0.3, 0.8)), BoxServes(8, None)
    ),
    words="Take your time.\n\nTen body serves on Tuesday.",
    unknown=("Where the serves landed was not written down.",),
)
PARAGRAPH = "The lob from the right box went high and deep into the back corner and she had to wait for it. "


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return handout_pdf_and_html_files.make(DATA, tmp_path_factory.mktemp("handout"), "sheet")


def tags(pdf: pikepdf.Pdf) -> list[pikepdf.Dictionary]:
    """Every element of the structure tree, in order."""
    found, waiting = [], [pdf.Root.StructTreeRoot]
    while waiting:
        node = waiting.pop(0)
        if isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                found.append(node)
            kids = node.get("/K", [])
            waiting = (list(kids) if isinstance(kids, pikepdf.Array) else [kids]) + waiting
    return found


def words_of(path) -> str:
    with pypdfium2.PdfDocument(path) as document:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def test_pdf_is_one_tagged_page_with_language_title_and_standard(made):
    with pikepdf.open(made.pdf) as pdf:
        assert len(pdf.pages) == 1
        assert [round(float(v)) for v in pdf.pages[0].MediaBox[2:]] == [595, 842]
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang).startswith("en")
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        assert str(pdf.docinfo.Title) == "Handout for Imogen Vale: Tideway Open, quarter-final"
        with pdf.open_metadata() as meta:
            assert meta["pdfuaid:part"] == "1"


def test_headings_go_down_without_a_skip(made):
    with pikepdf.open(made.pdf) as pdf:
        levels = [int(str(t.S)[2]) for t in tags(pdf) if re.fullmatch(r"/H[1-6]", str(t.S))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert levels.count(3) == len(DATA.findings)
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_every_figure_has_words_and_the_table_its_headers(made):
    with pikepdf.open(made.pdf) as pdf:
        found = tags(pdf)
        figures = [str(t.get("/Alt", "")) for t in found if str(t.S) == "/Figure"]
        headers = [t for t in found if str(t.S) == "/TH"]
    assert len(figures) == 3  # two range bars and the court; marks of grade are decoration beside their word
    assert "Weak returns: 11 of 17, range 41% to 83%" in figures
    assert any("From the right box 12 served" in alt for alt in figures)
    assert len(headers) == 3


def test_pdf_holds_its_words_as_text(made):
    words = words_of(made.pdf)
    for part in (
        "For Imogen Vale",
        "v Petra Lindqvist-Ode",
        "Lost 1–3: 11–8, 7–11, 9–11, 8–11",
        "Saltmarsh Racquets",
        "Clear",
        "Possible",
        "Not enough data",
        "11 of 17",
        "not recorded",
        "Take your time.",
        "Where the serves landed",
        "Read with care.",
        "One match against one opponent.",
        "Created 15 March 2026",
    ):
        assert part in words


def test_fonts_are_ours_and_embedded(made):
    with pikepdf.open(made.pdf) as pdf:
        fonts = [
            o
            for o in pdf.objects
            if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"
        ]
        assert fonts
        assert all("AtkinsonHyperlegible" in str(f.FontName) and "/FontFile2" in f for f in fonts)


def test_same_data_same_bytes(made, tmp_path):
    again = handout_pdf_and_html_files.make(DATA, tmp_path, "sheet")
    assert again.pdf.read_bytes() == made.pdf.read_bytes()
    assert again.html.read_bytes() == made.html.read_bytes()


def test_another_day_other_bytes(made, tmp_path):
    later = handout_pdf_and_html_files.make(replace(DATA, made=date(2026, 3, 16)), tmp_path, "sheet")
    assert later.pdf.read_bytes() != made.pdf.read_bytes()


def test_html_stands_alone(made):
    page = made.html.read_text("utf-8")
    assert "http" not in page
    assert "<script" not in page
    assert "@import" not in page
    assert all(url.startswith("data:font/ttf;base64,") for url in re.findall(r"url\(([^)]{0,60})", page))
    root = lxml_html.fromstring(page)
    assert root.get("lang") == "en"
    assert not root.xpath("//@style | //@onload | //@src | //@href")
    assert root.findtext(".//title") == "Handout for Imogen Vale: Tideway Open, quarter-final"
    assert len(page) < 200_000


def test_html_says_what_the_pdf_says(made):
    text = " ".join(lxml_html.fromstring(made.html.read_text("utf-8")).find(".//main").text_content().split())
    for part in (
        "For Imogen Vale",
        "Lost 1–3: 11–8, 7–11",
        "came on your lob",
        "11 of 17",
        "not recorded",
        "Take your time.",
    ):
        assert part in text


def test_html_pictures_have_words_or_are_decoration(made):
    for svg in lxml_html.fromstring(made.html.read_text("utf-8")).iter("svg"):
        assert svg.get("aria-hidden") == "true" or svg.get("aria-label")


def test_names_never_become_markup(tmp_path):
    odd = replace(
        DATA,
        player=EVIL,
        opponent="<svg onload=alert(1)>",
        words="{{ 7 * 7 }} </style> <script>x</script> #panic() \\ @",
        serves=(HandoutServe("<i>Lob</i> *x* _y_", 1, None),),
        unknown=("= Heading\n+ list",),
    )
    files = handout_pdf_and_html_files.make(odd, tmp_path, "odd")
    words = words_of(files.pdf)
    page = lxml_html.fromstring(files.html.read_text("utf-8"))
    assert f"For {EVIL}" in words
    assert "v <svg onload=alert(1)>" in words
    assert "{{ 7 * 7 }} </style> <script>x</script> #panic()" in words
    assert page.findtext(".//h1") == f"For {EVIL}"
    assert not page.xpath("//script | //i | //*[@onload]")
    assert "{{ 7 * 7 }}" in page.text_content()


def test_long_words_and_names_stay_on_the_page(tmp_path):
    data = replace(DATA, player="A" * 80, words="x" * 300, opponent=None)
    files = handout_pdf_and_html_files.make(data, tmp_path, "long")
    with pikepdf.open(files.pdf) as pdf:
        assert len(pdf.pages) == 1
    assert words_of(files.pdf).replace("\u200b", "").count("A") >= 80  # none ran off the edge


def test_type_steps_down_to_fit_and_no_word_is_lost(tmp_path):
    data = replace(DATA, words="\n\n".join([PARAGRAPH * 5] * 3) + "\n\nThe very last words.")
    files = handout_pdf_and_html_files.make(data, tmp_path, "full")
    assert 9.0 <= files.type_pt < 11.0
    with pikepdf.open(files.pdf) as pdf:
        assert len(pdf.pages) == 1
    assert "The very last words." in words_of(files.pdf)


def test_too_much_is_refused_by_name_and_writes_nothing(tmp_path):
    with pytest.raises(
        InputError, match=r"9 pt.*mm too long\. Shorten your own words to the player \(\d+ letters"
    ):
        handout_pdf_and_html_files.make(replace(DATA, words=PARAGRAPH * 60), tmp_path, "sheet")
    assert not list(tmp_path.iterdir())


def test_too_many_kinds_are_named(tmp_path):
    many = tuple(HandoutServe(f"Kind number {n}", 3, None) for n in range(45))
    with pytest.raises(InputError, match=r"the table of serves \(45 kinds\)"):
        handout_pdf_and_html_files.make(replace(DATA, serves=many), tmp_path, "sheet")


def test_a_letter_without_a_shape_is_named_with_its_place(tmp_path):
    with pytest.raises(InputError, match="in the player's name: no font"):
        handout_pdf_and_html_files.make(replace(DATA, player="Imogen \U000f0000"), tmp_path, "sheet")


def test_other_scripts_are_set_where_a_font_has_them(tmp_path):
    files = handout_pdf_and_html_files.make(replace(DATA, player="Имогена Ωμέγα"), tmp_path, "sheet")
    assert "Имогена Ωμέγα" in words_of(files.pdf)


def test_the_barest_page_says_what_is_missing(tmp_path):
    files = handout_pdf_and_html_files.make(
        HandoutData(player="Zoë", made=date(2026, 1, 1)), tmp_path / "new" / "folder", "bare"
    )
    words = words_of(files.pdf)
    assert "Nothing in this match stands out clearly" in words
    assert "No serve of yours is logged." in words
    assert " v " not in words


def test_an_opponent_who_may_not_be_named_is_not(tmp_path):
    files = handout_pdf_and_html_files.make(replace(DATA, opponent=None), tmp_path, "sheet")
    assert "Petra" not in words_of(files.pdf) + files.html.read_text("utf-8")


def test_landings_are_drawn_where_recorded(tmp_path):
    court = HandoutCourt(
        "Where your 2 lobs landed",
        BoxServes(2, None),
        None,
        (FloorPoint(0.4, 9.2, SpotMark.WEAK), FloorPoint(1, 8, SpotMark.GOOD)),
        "lobs",
    )
    files = handout_pdf_and_html_files.make(replace(DATA, court=court), tmp_path, "sheet")
    page = files.html.read_text("utf-8")
    assert "2 lobs landed where marked" in page
    assert "returned well" in words_of(files.pdf)


@pytest.mark.parametrize(
    ("change", "fault", "says"),
    [
        ({"player": "  "}, InputError, "without the player's name"),
        ({"findings": DATA.findings * 2}, OutOfRange, "at most 3"),
        ({"findings": (HandoutFinding("sure", "x", "y"),)}, OutOfRange, "'sure'"),
        ({"serves": (HandoutServe("Lob", 3, CountedShare(4, 3, 0, 1)),)}, OutOfRange, "4 of 3"),
        ({"serves": (HandoutServe("Lob", 2, CountedShare(1, 3, 0, 1)),)}, OutOfRange, "for 2 serves"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, change, fault, says):
    with pytest.raises(fault, match=says):
        handout_pdf_and_html_files.make(replace(DATA, **change), tmp_path, "sheet")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("stem", ["", "..", "a/b", "a:b", ".hidden", "x\n", "end."])
def test_a_stem_that_is_no_file_name_is_refused(tmp_path, stem):
    with pytest.raises(InputError, match="Cannot call the files"):
        handout_pdf_and_html_files.make(DATA, tmp_path, stem)


def test_a_folder_that_cannot_be_written_leaves_the_old_page(tmp_path, monkeypatch):
    files = handout_pdf_and_html_files.make(DATA, tmp_path, "sheet")
    before = files.pdf.read_bytes()

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("goodlength.files.atomic_write.os.fsync", full)
    with pytest.raises(NoSpace, match="the disk is full"):
        handout_pdf_and_html_files.make(replace(DATA, player="Other"), tmp_path, "sheet")
    assert files.pdf.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["sheet.html", "sheet.pdf"]


def test_nothing_is_set_under_nine_points(tmp_path):
    tight = handout_pdf_and_html_files.make(
        replace(DATA, words="\n\n".join([PARAGRAPH * 5] * 3)), tmp_path, "tight"
    )
    with pikepdf.open(tight.pdf) as pdf:
        stream = pikepdf.parse_content_stream(pdf.pages[0], "Tf")
        sizes = {float(operands[1]) for operands, operator in stream if str(operator) == "Tf"}
    assert tight.type_pt < 11
    assert min(sizes) >= 9.0


def photograph(shade: int) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (640, 360), (shade, 30, 90)).save(held, "JPEG", quality=95)
    return held.getvalue()


def stills(count: int) -> tuple[HandoutStill, ...]:
    return tuple(
        HandoutStill(photograph(80 * n + 40), 640, 360, f"Game {n + 1}, 2–1. {EVIL}") for n in range(count)
    )


def test_stills_stand_on_the_page_with_their_words_in_both_files(tmp_path):
    made = handout_pdf_and_html_files.make(replace(DATA, stills=stills(2)), tmp_path, "sheet")
    assert made.stills == 2
    with pikepdf.open(made.pdf) as pdf:
        assert len(pdf.pages) == 1
        alts = [str(t.get("/Alt", "")) for t in tags(pdf) if str(t.S) == "/Figure"]
    assert sum(alt.startswith("Still: Game") for alt in alts) == 2
    with pypdfium2.PdfDocument(made.pdf) as document:
        seen = document[0].render(scale=1.0).to_pil().convert("RGB")
    colours = {seen.getpixel((x, y)) for x in range(0, seen.width, 4) for y in range(0, seen.height, 4)}
    for shade in (40, 120):  # both photographs are really there
        assert any(abs(r - shade) < 6 and abs(g - 30) < 6 and abs(b - 90) < 6 for r, g, b in colours)
    page = lxml_html.fromstring(made.html.read_bytes())
    captions = [item.text_content() for item in page.iter("figcaption")]
    assert captions == [f"Game {n}, 2–1. {EVIL}" for n in (1, 2)]
    assert made.html.read_text(encoding="utf-8").count("data:image/jpeg;base64,") == 2


def test_more_stills_than_have_room_are_refused(tmp_path):
    with pytest.raises(OutOfRange, match="3 stills"):
        handout_pdf_and_html_files.make(replace(DATA, stills=stills(3)), tmp_path, "sheet")


def test_a_full_page_says_so_by_a_name_of_its_own(tmp_path):
    with pytest.raises(PageFull, match="too long"):
        handout_pdf_and_html_files.make(
            replace(DATA, words=PARAGRAPH * 60, stills=stills(2)), tmp_path, "sheet"
        )


def test_what_to_practise_stands_in_both_files(tmp_path):
    week = (("Lobs to the taped box, 3 times 15", f"2.18 m above the service line. {EVIL}"),)
    made = handout_pdf_and_html_files.make(replace(DATA, week=week), tmp_path, "sheet")
    told = " ".join(words_of(made.pdf).split())
    assert "To practise" in told
    assert "Lobs to the taped box, 3 times 15" in told
    page = lxml_html.fromstring(made.html.read_bytes()).text_content()
    assert f"2.18 m above the service line. {EVIL}" in page


def test_stills_take_the_column_under_the_serves_rather_than_be_refused(tmp_path):
    full = replace(DATA, words=PARAGRAPH * 14, stills=stills(2))
    made = handout_pdf_and_html_files.make(full, tmp_path, "sheet")
    assert made.stills == 2
    with pypdfium2.PdfDocument(made.pdf) as document:
        seen = document[0].render(scale=1.0).to_pil().convert("RGB")
    left, lowest = seen.width * 0.59, {}
    for x in range(0, seen.width, 2):
        for y in range(0, seen.height, 2):
            r, g, b = seen.getpixel((x, y))
            for shade in (40, 120):
                if abs(r - shade) < 6 and abs(g - 30) < 6 and abs(b - 90) < 6:
                    lowest.setdefault(shade, []).append(x)
    assert all(max(lowest[shade]) < left for shade in (40, 120))  # both beside the court
    page = lxml_html.fromstring(made.html.read_bytes())
    assert page.xpath('//div[@class="l"]/section[@class="stills"]')
