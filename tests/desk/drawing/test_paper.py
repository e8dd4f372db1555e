"""Pictures without a window, and PDF: drawn by the window's own panes, as vectors, complete."""

import base64
import datetime
import re
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QSizeF
from PySide6.QtGui import QTextDocument

from tests.lanes import lane_board, trace
from tests.thinning import sparing
from workbench.board.model import Board, Component
from workbench.board.reading import load_board
from workbench.cli import main
from workbench.desk.drawing.outline import headings, keep_together
from workbench.desk.drawing.paper import report_pdf, sheet_pdf
from workbench.desk.drawing.plates import budget_svg, formula_svg, lane_pictures
from workbench.engine.assess import assess_board
from workbench.engine.figures.explaining import case_of
from workbench.errors import ReportError
from workbench.reports.pages.as_html import report_html
from workbench.reports.pages.handover import Extras, handover
from workbench.reports.pages.made import made_of
from workbench.reports.pages.pictures import LanePictures
from workbench.reports.pages.settings_sheet import settings_sheet
from workbench.reports.pages.working import appendix_of
from workbench.resources import project
from workbench.studies.budget import LaneBudget, budget_study
from workbench.studies.pool.jobs import Basis

DEMO = project("correlator-shelf.board.json")
MADE = made_of(DEMO.name, "ab" * 32, datetime.date(2026, 11, 25))


@pytest.fixture(scope="module")
def board() -> Board:
    return load_board(DEMO).board


@pytest.fixture(scope="module")
def pictures(qapp, board: Board) -> list[LanePictures]:
    return lane_pictures(board, [board.lanes[0].name])


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def drawing(pdf: bytes) -> bytes:
    """The page contents' operators."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    out = b""
    for stream in streams:
        try:
            out += zlib.decompress(stream)
        except zlib.error:
            continue
    return out


@pytest.mark.campaign
def test_a_lanes_pictures_are_those_of_the_panes(board: Board, pictures: list[LanePictures]) -> None:
    one = pictures[0]
    assert one.lane == board.lanes[0].name
    for kind in ("frequency", "pulse", "eye", "bathtub", "impedance"):
        svg = getattr(one, kind)
        assert svg.count("<polyline") > 3, kind
        assert f"{one.lane} · receiver" in svg, kind
    for element in {getattr(one, "line", getattr(one, "part", "")) for one in board.lanes[0].path}:
        assert element.split()[0] in pictures[0].path


def test_the_eye_is_drawn_for_light_and_for_dark_pages(pictures: list[LanePictures]) -> None:
    assert pictures[0].eye != pictures[0].dark_eye


@pytest.fixture(scope="module")
def simple() -> Board:
    """One lane of several elements that is assessed in no time."""
    path = (trace(0.2, "lossy"), Component(part="via"), trace(0.1, "step"), Component(part="edge"), trace(0.1))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


@pytest.fixture(scope="module")
def budget(simple: Board) -> LaneBudget:
    return budget_study(Basis(board=simple, sha256=MADE.sha256), lanes=("D0",), settings=False).lanes[0]


@pytest.mark.campaign
def test_bars_of_a_budget_reach_from_the_one_order_to_the_other(qapp, budget: LaneBudget) -> None:
    svg = budget_svg(budget)
    boxes = [tuple(map(float, box)) for box in re.findall(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)]
    assert len(boxes) == len(budget.items)
    largest_first = sorted(budget.items, key=lambda item: -abs(item.alone_guards))
    ends = np.array([sorted((item.forward_guards, item.reverse_guards)) for item in largest_first])
    seen = np.array([(left, left + width) for left, width in boxes])
    wide = ends[:, 1] - ends[:, 0] > 0.1 * np.ptp(ends)
    assert wide.any()
    # One scale and one zero for all bars; a narrow one is drawn at least as wide as can be seen.
    scale, zero = np.polyfit(ends[:, 0], seen[:, 0], 1)
    assert seen[wide, 1] == pytest.approx(zero + scale * ends[wide, 1], abs=0.1)
    for item in budget.items:
        assert f">{item.name}<" in svg
        assert f"{item.alone_guards:+.2f} alone" in svg


@pytest.mark.campaign
def test_a_budget_stands_in_the_report_as_bars_and_as_figures(
    simple: Board, budget: LaneBudget, tmp_path: Path
) -> None:
    found = assess_board(simple, sha256=MADE.sha256)
    bars = {"D0": budget_svg(budget)}
    plain, drawn = (
        handover(simple, found, made=MADE, budgets=[budget], bars=some, without=("settings", "catalogue", "sources"))
        for some in ({}, bars)
    )
    assert report_html(drawn).count("<svg") == report_html(plain).count("<svg") + 1
    assert all(item.name in report_html(plain) for item in budget.items)
    boxes = []
    for one in (plain, drawn):
        report_pdf(one, tmp_path / "one.pdf")
        boxes.append(len(re.findall(rb"\bre\b", drawing((tmp_path / "one.pdf").read_bytes()))))
    assert boxes[1] >= boxes[0] + len(budget.items)


@pytest.mark.campaign
def test_a_report_as_pdf_has_a_page_a_lane_and_draws_vectors(
    board: Board, pictures: list[LanePictures], tmp_path: Path
) -> None:
    found = assess_board(board, sha256=MADE.sha256, lanes=(pictures[0].lane,))
    with_pictures = handover(board, found, made=MADE, pictures=pictures)
    without = handover(board, found, made=MADE, pictures=pictures, without=("pictures",))
    report_pdf(with_pictures, tmp_path / "whole.pdf")
    report_pdf(without, tmp_path / "short.pdf")
    whole, short = (tmp_path / "whole.pdf").read_bytes(), (tmp_path / "short.pdf").read_bytes()
    assert whole.startswith(b"%PDF-")
    assert pages(whole) == pages(short) + 1
    lines = [len(re.findall(rb"\bl\b", drawing(pdf))) for pdf in (whole, short)]
    assert lines[0] > lines[1] + 500  # a pulse alone is some five hundred strokes


def test_a_sheet_as_pdf_is_one_page(qapp, board: Board, tmp_path: Path) -> None:
    sheet_pdf(settings_sheet(board), MADE, tmp_path / "straps.pdf")
    assert pages((tmp_path / "straps.pdf").read_bytes()) == 1


def test_a_place_that_cannot_be_written_is_told(qapp, board: Board, tmp_path: Path) -> None:
    with pytest.raises(ReportError, match=r"can't be written .*; choose another place"):
        sheet_pdf(settings_sheet(board), MADE, tmp_path / "none" / "straps.pdf")


@pytest.mark.parametrize("ending", sparing(["html", "pdf"], "html"))
def test_the_command_writes_what_its_name_ends_with(
    qapp, tmp_path: Path, capsys: pytest.CaptureFixture[str], ending: str
) -> None:
    target = tmp_path / f"out.{ending}"
    assert main(["report", str(DEMO), "-o", str(target), "--lane", "RX0", "--without", "catalogue"]) == 0
    assert target.read_bytes().startswith(b"%PDF-" if ending == "pdf" else b"<!DOCTYPE html>")
    assert "1 lane: 1 pass" in capsys.readouterr().out


@pytest.mark.campaign
def test_a_report_judges_as_assess_does(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the line code is known both take what it sends; RX15's margin is twice as far off with other symbols."""
    assert main(["assess", str(DEMO), "--lane", "RX15"]) == 1
    judged = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("1 lane: "))
    assert main(["report", str(DEMO), "-o", str(tmp_path / "one.html"), "--lane", "RX15",
                 "--without", "pictures", "budget"]) == 1  # fmt: skip
    assert judged in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["report", str(DEMO), "-o", "out.doc"], "let the name end with"),
        (["report", str(DEMO), "-o", "out.html", "--lane", "RX99"], "there is no lane"),
        (["sheet", str(DEMO), "-o", "out.xls"], "let the name end with"),
    ],
)
def test_what_cannot_be_reported_is_one_sentence(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert said in told.err


@pytest.mark.parametrize("ending", ["html", "pdf", "csv", "txt", "json"])
def test_the_sheet_is_written_in_every_form(qapp, tmp_path: Path, ending: str) -> None:
    target = tmp_path / f"straps.{ending}"
    assert main(["sheet", str(DEMO), "-o", str(target)]) == 0
    assert target.stat().st_size > 400


@pytest.mark.campaign
def test_a_pdf_has_an_outline_of_its_parts(board: Board, pictures: list[LanePictures], tmp_path: Path) -> None:
    found = assess_board(board, sha256=MADE.sha256, lanes=(pictures[0].lane,))
    whole = handover(board, found, made=MADE, pictures=pictures)
    report_pdf(whole, tmp_path / "whole.pdf")
    pdf = (tmp_path / "whole.pdf").read_bytes()
    words = [bytes.fromhex(one.decode()).decode("utf-16-be") for one in re.findall(rb"/Title <FEFF([0-9A-F]+)>", pdf)]
    assert words == [one for _, one in whole.contents()]
    targets = [int(one) for one in re.findall(rb"/Dest \[(\d+) 0 R", pdf)]
    numbers = [int(one) for one in re.findall(rb"\n(\d+) 0 obj\s*<<\s*/Type /Page\b", pdf)]
    assert [numbers.index(one) for one in targets] == sorted(numbers.index(one) for one in targets)
    at = int(re.findall(rb"startxref\s*(\d+)", pdf)[-1])
    for start, place in re.findall(rb"(\d+) 1\n(\d{10}) 00000 n", pdf[at:]):
        assert pdf[int(place) :].startswith(start + b" 0 obj")


def said_in(pdf: bytes, before: bytes, after: bytes) -> set[str]:
    """Names of places, which the toolkit writes as UTF-16."""
    return {one.decode("utf-16-be") for one in re.findall(before + rb"\(\xfe\xff((?:\x00[ -~])+)\)" + after, pdf)}


def test_links_lead_from_contents_to_parts_from_lanes_to_budgets_and_back(
    simple: Board, budget: LaneBudget, pictures: list[LanePictures], tmp_path: Path
) -> None:
    found = assess_board(simple, sha256=MADE.sha256)
    drawn = [pictures[0]._replace(lane="D0")]
    whole = handover(simple, found, made=MADE, pictures=drawn, budgets=[budget], bars={"D0": budget_svg(budget)})
    report_pdf(whole, tmp_path / "whole.pdf")
    pdf = (tmp_path / "whole.pdf").read_bytes()
    places = said_in(pdf, rb"\n", rb" \d+ 0 R")
    assert places == {"lane-1", "budget-1", *(anchor for anchor, _ in whole.contents())}  # each heading was drawn
    assert said_in(pdf, rb"/Dest ", rb"") == places
    catalog = re.findall(rb"/Type /Catalog(.*?)endobj", pdf, re.DOTALL)[-1]
    assert b"/Names" in catalog  # the outline, added after, leaves them in their place


@pytest.mark.parametrize(("words", "leads"), [
    ("<b>Head</b>", True), ("<b>Head</b><br>said", True), ("<b>note</b> said at once", False), ("said", False),
])  # fmt: skip
def test_a_bold_line_leads_the_next_paragraph_and_a_bold_word_does_not(qapp, words: str, leads: bool) -> None:
    document = QTextDocument()
    document.setDocumentMargin(0.0)
    document.setHtml(f"<p>{'line<br>' * 9}line</p><p>{words}</p><p>after</p>")
    document.setTextWidth(400.0)
    layout, block = document.documentLayout(), document.findBlockByNumber(1)
    room = layout.blockBoundingRect(block).bottom() + 2.0  # there the page ends
    document.setPageSize(QSizeF(400.0, room))
    assert layout.blockBoundingRect(block).bottom() < room
    keep_together(document, room)
    assert (layout.blockBoundingRect(document.findBlockByNumber(1)).top() >= room) is leads


def test_a_heading_stands_on_the_page_of_what_it_heads(qapp) -> None:
    document = QTextDocument()
    document.setHtml("".join(f"<p>{'line<br>' * 4}</p><h2>Head {n}</h2><p>text {n}</p>" for n in range(40)))
    document.setPageSize(QSizeF(400.0, 300.0))
    keep_together(document, 300.0)
    text = document.toPlainText()
    for number in range(40):
        tops = []
        for words in (f"Head {number}\n", f"text {number}"):
            block = document.findBlock(text.index(words))
            tops.append(document.documentLayout().blockBoundingRect(block).top() // 300.0)
        assert tops[0] == tops[1]
    assert len(headings(document, 300.0)) == 40


def test_pictures_name_a_generic_family_and_the_density_is_fit_for_print(pictures: list[LanePictures]) -> None:
    for one in pictures[0][1:]:
        families = re.findall(r'font-family="([^"]+)"', one)
        assert families
        assert all(name.endswith("sans-serif") for name in families)
    png = base64.b64decode(re.search(r"data:image/png;base64,([^\"]+)", pictures[0].eye)[1])
    wide, high = struct.unpack(">II", png[16:24])
    assert wide >= 480  # 85 mm at 145 to the inch
    assert high >= 480


@pytest.mark.campaign
def test_formulas_are_drawn_as_vectors_in_the_pdf(qapp, board: Board, tmp_path: Path) -> None:
    found = assess_board(board, sha256=MADE.sha256, lanes=("RX0",))
    appendix = appendix_of(case_of(board, "RX0"))
    drawn = tuple(formula_svg(one.symbol, one.formula) if one.formula else "" for one in appendix.entries)
    sizes = []
    for formulas in (drawn, ("",) * len(drawn)):
        extras = Extras(appendix=appendix, formulas=formulas)
        report_pdf(handover(board, found, made=MADE, extras=extras), tmp_path / "one.pdf")
        pdf = (tmp_path / "one.pdf").read_bytes()
        assert b"/Subtype /Image" not in pdf
        sizes.append(len(drawing(pdf)))
    assert sizes[0] > sizes[1]


def test_a_comparison_is_written_as_a_page(qapp, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for ending, start in ((".html", b"<!DOCTYPE html>"), (".pdf", b"%PDF-")):
        out = tmp_path / f"changes{ending}"
        assert main(["compare", str(DEMO), str(DEMO), "--lane", "RX0", "-o", str(out), "--workers", "1"]) == 0
        assert out.read_bytes().lstrip().startswith(start)
        assert capsys.readouterr().out.startswith("wrote ")
