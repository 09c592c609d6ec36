"""A document says the same as PDF and as HTML, whole and in order, whatever signs its words hold."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser

import pypdf
import pytest

from linewright.handover.document.blocks import (
    Caution,
    Document,
    Drawn,
    Facts,
    Grid,
    GridColumn,
    Heading,
    Kept,
    Part,
    Points,
    SignHere,
    Tag,
    Words,
    grid,
)
from linewright.handover.document.html import html_of
from linewright.handover.document.pdf import FONTS, pdf_of

NASTY = 'a "name" with #let x = 1, $y$, \\n, <b>&amp;, *stars*, _lines_, `ticks`, @at, [brackets] and µ ± ² → ≥'
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100" viewBox="0 0 200 100">'
    '<text x="10" y="50" font-family="sans-serif">drawnword</text></svg>'
)


def document(units: str = "mm", *more: Part) -> Document:
    parts = (
        Part(
            (
                Heading("First chapter"),
                Words("A sentence that nobody misses.", strong=True),
                Words(NASTY),
                Facts((("rate", "1\u00a0600 per hour"), ("takt", "2.268 s"))),
                Points(("one point", "another point")),
                Heading("A part", 2),
                grid(
                    ["=verdict", "what", ">value"], [[Tag("fails"), "row one", "1.5"], [Tag("holds"), "row two", "7"]]
                ),
                Caution("Carriers pinch."),
                SignHere(("builder", "customer")),
            )
        ),
        Part((Drawn(SVG, "what is drawn"),), "wide"),
        *more,
    )
    return Document("Dossier", "The line", ("made of input 1234", "an aid"), parts, units)  # type: ignore[arg-type]


def pdf_text(data: bytes) -> str:
    return " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)


class Seen(HTMLParser):
    """The words that a reader of the page sees."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in ("style", "title")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in ("style", "title")

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def html_text(page: str) -> str:
    seen = Seen()
    seen.feed(page)
    return " ".join(seen.words)


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


EXPECTED = [
    *("First chapter", "A sentence that nobody misses.", NASTY, "rate", "1 600 per hour", "takt", "2.268 s"),
    *("one point", "another point", "A part", "verdict", "what", "value", "FAILS", "row one", "1.5", "holds"),
    *("row two", "CAUTION. Carriers pinch.", "builder: name", "customer: name", "drawnword", "what is drawn"),
]


@pytest.mark.parametrize(
    "written", [lambda d: pdf_text(pdf_of(d)), lambda d: html_text(html_of(d))], ids=["pdf", "html"]
)
def test_every_word_is_there_and_in_order(written: object) -> None:
    text = squeezed(written(document()))  # type: ignore[operator]
    at = 0
    for words in EXPECTED:
        found = text.find(squeezed(words), at)
        assert found >= 0, f"{words!r} is missing after {text[max(0, at - 60) : at]!r}"
        at = found + len(squeezed(words))
    assert "madeofinput1234" in text
    assert "anaid" in text


def test_the_same_document_gives_the_same_bytes_and_another_one_others() -> None:
    one = pdf_of(document())
    assert one == pdf_of(document())
    assert one != pdf_of(document("mm", Part((Words("more"),))))
    assert html_of(document()) == html_of(document())


def test_pages_have_the_sizes_of_their_country() -> None:
    for units, tall, wide in (("mm", (210.0, 297.0), (420.0, 297.0)), ("inch", (215.9, 279.4), (431.8, 279.4))):
        pages = pypdf.PdfReader(io.BytesIO(pdf_of(document(units)))).pages
        sizes = [(float(page.mediabox.width) / 72 * 25.4, float(page.mediabox.height) / 72 * 25.4) for page in pages]
        assert sizes[0] == pytest.approx(tall, abs=0.1)
        assert sizes[1] == pytest.approx(wide, abs=0.1)


def test_every_page_bears_line_title_foot_and_its_number() -> None:
    long = Part((grid(["n", ">x"], [[f"row {i}", str(i)] for i in range(150)]),))
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf_of(document("mm", long)))).pages]
    assert len(pages) >= 5
    for number, text in enumerate(pages, start=1):
        for words in ("The line", "Dossier", "made of input 1234", "an aid", f"{number} of {len(pages)}"):
            assert words in text, (number, words)
    assert all(f"row {i}" in " ".join(pages) for i in range(150))
    assert "n x" in pages[-1].replace("\n", " "), "the heading of a long grid stands on each of its pages"


def test_no_row_is_torn_between_two_pages() -> None:
    words = "alpha beta gamma " * 25
    rows = [[f"first{i}", f"{words} last{i}"] for i in range(40)]
    long = Part((grid(["=n", "words"], rows),))
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf_of(document("mm", long)))).pages]
    for i in range(40):
        at = [n for n, text in enumerate(pages) if re.search(rf"first{i}\b", text)]
        assert at == [n for n, text in enumerate(pages) if re.search(rf"last{i}\b", text)]


def test_a_narrow_grid_takes_its_share_of_the_page() -> None:
    page = html_of(document("mm", Part((grid(["a", "b"], [["1", "2"]], width=0.5),))))
    assert "width:50%" in page.replace(" ", "")
    for width in (0.0, 1.5):
        with pytest.raises(ValueError, match="width"):
            grid(["a"], [["1"]], width=width)


def test_only_the_fonts_beside_the_program_are_used() -> None:
    reader = pypdf.PdfReader(io.BytesIO(pdf_of(document())))
    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[-1]
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index]
    }
    assert fonts <= {"LiberationSans", "LiberationSans-Bold", "LiberationSans-Italic"}
    assert (FONTS / "LICENSE.txt").read_text(encoding="utf-8").count("SIL OPEN FONT LICENSE") == 1


def test_the_page_asks_nothing_of_any_server_and_runs_nothing() -> None:
    page = html_of(document())
    assert "<script" not in page
    asked = re.findall(r'(?:src|href)="([^"]*)"', page)
    assert all(link.startswith("#") or link == "data:," for link in asked)
    assert "url(http" not in page
    assert "&lt;b&gt;&amp;amp;" in page, "what a file says is no markup"


def test_the_contents_lead_to_every_chapter_by_its_words() -> None:
    more = (Part((Heading("Power"), Words("a"), Kept((Heading("Bus & wire"), Words("b"))))), Part((Heading("Power"),)))
    page = html_of(document("mm", *more))
    links = re.findall(r'<a href="#([^"]*)">([^<]*)</a>', page.split("</nav>")[0])
    assert [text for _, text in links] == ["First chapter", "Power", "Bus &amp; wire", "Power"]
    assert re.findall(r'<h1 id="([^"]*)">([^<]*)</h1>', page) == links
    assert [anchor for anchor, _ in links] == [
        *("chapter-first-chapter", "chapter-power", "chapter-bus-wire", "chapter-power-2")
    ]


def test_a_row_of_a_form_is_as_high_as_asked_and_higher_where_its_words_need_it() -> None:
    words = " ".join(["word"] * 120)
    form = Part((grid(["=test", "how", "measured"], [["aaa", "x", ""], ["bbb", words, ""], ["ccc", "z", ""]], 20.0),))
    torn = Part((grid(["first", "then"], [["alpha " * 30, ""], ["ddd", ""]], 20.0),))
    lines: set[float] = set()
    pypdf.PdfReader(io.BytesIO(pdf_of(document("mm", torn)))).pages[-1].extract_text(
        visitor_text=lambda text, cm, tm, *_: lines.add(round(cm[5] + cm[3] * tm[5], 1)) if "alpha" in text else None
    )
    assert max(lines) - min(lines) < 5 * 9.0, "the lines of a first cell stand together"
    page = pypdf.PdfReader(io.BytesIO(pdf_of(document("mm", form)))).pages[-1]
    at_mm: dict[str, float] = {}
    lowest: list[float] = []

    def seen(text: str, page_matrix: list[float], text_matrix: list[float], *_: object) -> None:
        up_mm = (page_matrix[5] + page_matrix[3] * text_matrix[5]) / 72 * 25.4
        if text.strip() in ("aaa", "bbb", "ccc"):
            at_mm[text.strip()] = up_mm
        elif text.strip().startswith("word"):
            lowest.append(up_mm)

    page.extract_text(visitor_text=seen)
    assert at_mm["aaa"] - at_mm["bbb"] == pytest.approx(20.0, abs=3.0)
    assert min(lowest) > at_mm["ccc"], "the words end above the next row"
    assert at_mm["bbb"] - at_mm["ccc"] > 20.0


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="a row of 1 cells under 2 columns"):
        Grid((GridColumn("a"), GridColumn("b")), (("x",),))


def test_signs_that_steer_a_terminal_or_the_typesetter_are_harmless() -> None:
    strange = pdf_text(pdf_of(document("mm", Part((Words("a \u6f22\u5b57 b"),)))))
    assert "a ?? b" in strange, "what the fonts do not have is told, not left as an empty box"
    nasty = Part((Words("bell \x07 esc \x1b[31m null \x00 end"),))
    text = pdf_text(pdf_of(document("mm", nasty)))
    assert "bell ? esc ?[31m null ? end" in text
