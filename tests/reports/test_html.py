"""The HTML report: everything of the assessment is in it, nothing is fetched, nothing from a board is obeyed."""

import datetime
import re
from html import unescape
from html.parser import HTMLParser

import msgspec
import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, sourced, trace
from tests.measured.networks import channel, measured
from tests.measured.test_export_commands import board_through
from tests.thinning import some
from workbench import __version__
from workbench.board.edits.answers import keep_answer
from workbench.board.entry_source import source_of
from workbench.board.kept_answer import KeptAnswer
from workbench.board.model import Board, Stage
from workbench.board.profile import ReceiverLimits
from workbench.board.reading import load_board
from workbench.board.writing import dump_board
from workbench.cli import main
from workbench.engine.assess import assess_board
from workbench.engine.assessment import Assessment
from workbench.engine.figures.explaining import case_of
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.quantity import show
from workbench.reports.colours import DARK, LIGHT
from workbench.reports.pages.as_html import changes_html, inline_svg, report_html, sheet_html
from workbench.reports.pages.changes import changes_page
from workbench.reports.pages.handover import SECTIONS, Extras, Handover, handover
from workbench.reports.pages.made import made_of
from workbench.reports.pages.pictures import LanePictures
from workbench.reports.pages.remedies import remedy_page
from workbench.reports.pages.settings_sheet import settings_sheet
from workbench.reports.pages.working import appendix_of
from workbench.reports.wording import CAUTION
from workbench.resources import project
from workbench.studies.budget import budget_study
from workbench.studies.comparison.comparing import compare_boards
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.remedies.search import remedy_study

MADE = made_of("shelf.board.json", "ab" * 32, datetime.date(2026, 11, 25))
PICTURE = (
    '<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg" width="560" height="320" viewBox="0 0 560 320">'
    f'<rect fill="{LIGHT.sheet}"/><text fill="{LIGHT.quiet}">1</text></svg>'
)
EVIL = '</td><script>alert("x")</script><img src="http://example.invalid/x">'


def content(board: Board, **options: object) -> Handover:
    found = Assessment(board=board.title, board_sha256=MADE.sha256, program=__version__, lanes=(assessed(board),))
    pictures = [LanePictures(lane.name, *[PICTURE] * (len(LanePictures._fields) - 1)) for lane in board.lanes]
    budgets = budget_study(Basis(board=board), settings=False, effort=Effort(workers=1)).lanes
    return handover(board, found, made=MADE, pictures=pictures, budgets=budgets, **options)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def board() -> Board:
    return lane_board((trace(0.2),))


class Seen(HTMLParser):
    """Collects tags, attributes and text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href", "srcset")]

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_figures_are_those_of_the_assessment(board: Board) -> None:
    lane, seen = assessed(board), Seen(report_html(content(board)))
    for figure in (
        f"{lane.eye.height_v * 1e3:.1f}", f"{lane.eye.width_ui:.3f}", f"{lane.loss_db:.1f}", lane.margin.verdict,
    ):  # fmt: skip
        assert figure in seen.text
    for said in (CAUTION, MADE.file, MADE.sha256, MADE.program, "2026-11-25"):
        assert said in seen.text


def test_nothing_is_fetched_and_nothing_runs(board: Board) -> None:
    html = report_html(content(board))
    seen = Seen(html)
    assert "script" not in seen.tags
    assert "link" not in seen.tags
    assert all(link.startswith(("data:", "#")) for link in seen.links)
    assert not re.search(r"url\(|@import", html)


def test_words_of_a_board_are_shown_and_not_obeyed(board: Board) -> None:
    hostile = msgspec.structs.replace(board, title=EVIL, notes=EVIL)
    for html in (report_html(content(hostile)), sheet_html(settings_sheet(hostile), MADE)):
        seen = Seen(html)
        assert not {"script", "img"} & set(seen.tags)
        assert EVIL in seen.text


@pytest.mark.parametrize("section", some(SECTIONS, 4))
def test_a_section_can_be_left_out_and_the_caution_cannot(board: Board, section: str) -> None:
    kept = KeptAnswer(name="Reach: trace", study="Reach", sentence="D0 reaches 0.4 m.", heads=("lane",),
                      rows=(("D0",),))  # fmt: skip
    board = keep_answer(board, kept)
    extras = Extras(appendix=appendix_of(case_of(board, board.lanes[0].name))) if section == "working" else Extras()
    whole = report_html(content(board, extras=extras))
    without = report_html(content(board, extras=extras, without=(section,)))
    heads = {"lanes": "Lanes", "pictures": "<figure", "budget": "Margin budget", "findings": "<h2>Findings",
             "studies": "<h2>Studies", "settings": "Settings of the devices",
             "catalogue": "Catalogue entries", "sources": "Assumptions",
             "working": "How the figures were computed"}  # fmt: skip
    assert heads[section] in whole
    assert heads[section] not in without.replace("Lanes do not couple", "").replace("<th>lane</th>", "")
    assert CAUTION in Seen(without).text


def test_what_jitter_costs_is_told_as_the_lane_without_it_would_be(board: Board) -> None:
    """The same lane between ends without random jitter, assessed on its own, gains what the report says."""
    sections = {
        section: tuple(msgspec.structs.replace(end, random_jitter_s=0.0) for end in getattr(board.catalogue, section))
        for section in ("transmitters", "receivers")
    }
    calm = msgspec.structs.replace(board, catalogue=msgspec.structs.replace(board.catalogue, **sections))
    gained_v = assessed(calm).eye.height_v - assessed(board).eye.height_v
    gained_ui = assessed(calm).eye.width_ui - assessed(board).eye.width_ui
    (page,) = content(board).budgets
    row = next(row for row in page.rows if row[0] == "random jitter")
    assert row[-2:] == (f"{gained_v * 1e3:+.1f}", f"{gained_ui:+.3f}")
    text = Seen(report_html(content(board))).text
    assert all(cell in text for row in page.rows for cell in row)
    assert page.said in text


def test_every_limit_stands_with_its_source(board: Board) -> None:
    report, seen = content(board), Seen(report_html(content(board)))
    assert report.limits
    for limit in report.limits:
        assert limit.source in seen.text
        assert limit.status in seen.text


def test_entries_in_use_are_listed_with_what_they_stand_on(board: Board) -> None:
    names = {entry.name for entry in content(board).entries}
    lane = board.lanes[0]
    assert {lane.transmitter, lane.receiver, "trace"} <= names


def test_where_entries_of_a_library_come_from_stands_in_the_catalogue_table(board: Board) -> None:
    trace = board.catalogue.lines[0]
    source = source_of("lines", trace, "laminate maker's table 4", "published")
    board = replace(board, sources=(source,))
    html = report_html(content(board))
    assert Seen(html).text.count("Source: laminate maker's table 4 (published).") == 1
    other = replace(board, catalogue=replace(board.catalogue, lines=(replace(trace, permittivity=4.4),)))
    assert "edited since it was taken: permittivity was " in Seen(report_html(content(other))).text


def test_a_picture_takes_the_pages_colours_or_keeps_its_own() -> None:
    themed = inline_svg(PICTURE)
    assert themed.startswith("<svg")
    assert "var(--sheet)" in themed
    assert "var(--quiet)" in themed
    assert 'width="560"' not in themed
    assert LIGHT.sheet in inline_svg(PICTURE, themed=False)


def test_both_themes_are_there_and_paper_is_light(board: Board) -> None:
    html = report_html(content(board))
    printed = html[html.index("@media print") :]
    assert f"--sheet: {DARK.sheet};" in html
    assert f"--sheet: {LIGHT.sheet};" in printed
    assert f"--sheet: {DARK.sheet};" not in printed


def test_what_symbols_count_as_stands_with_each_lane(board: Board) -> None:
    plain = assessed(board)
    lane = content(board).lanes[0]
    assert ("Symbols", "independent bits") in lane.facts
    eye = msgspec.structs.replace(plain.eye, statistics="coded")
    found = Assessment(board="", board_sha256="", program="", lanes=(msgspec.structs.replace(plain, eye=eye),))
    told = dict(handover(board, found, made=MADE).lanes[0].facts)["Symbols"]
    assert told == "as the line code sends them"


@pytest.mark.campaign
def test_a_networks_packed_numbers_are_no_text_of_the_report():
    found = measured(channel(), reference=100.0)
    board = board_through(network_of(found, "jumper", guessed_ports(found)))
    page = report_html(content(board))
    assert "jumper" in page
    assert "b&#39;" not in page
    assert max(len(word) for word in re.sub(r"<svg.*?</svg>|<[^>]*>|data:[^ ]*", " ", page, flags=re.S).split()) < 200


def test_an_extract_says_so_and_shows_only_what_belongs_to_its_lanes() -> None:
    board = load_board(project("correlator-shelf.board.json")).board
    found = assess_board(board, sha256="", lanes=("RX0",))
    whole = handover(board, found, made=MADE)
    assert whole.extract == f"An extract: 1 of {len(board.lanes)} lanes, and what belongs to these."
    assert whole.extract in report_html(whole)
    mine = {element.device for element in board.lanes[0].path if isinstance(element, Stage)}
    assert {device.ref for device in whole.settings.devices} == mine
    assert len(settings_sheet(board).devices) == len(board.devices) > len(mine)


def test_contents_and_links_lead_to_what_is_there(board: Board) -> None:
    report = content(board)
    html = report_html(report)
    ids = set(re.findall(r'id="([^"]+)"', html))
    targets = re.findall(r'href="#([^"]+)"', html)
    assert {anchor for anchor, _ in report.contents()} <= ids
    assert set(targets) <= ids
    assert {"lane-1", "budget-1"} <= set(targets)  # from the table to the lane, from there to its budget, and back
    assert targets.count("lane-1") >= 3


def test_tables_and_pictures_can_be_heard(board: Board) -> None:
    html = report_html(content(board))
    assert html.count("<caption>") == html.count("<table")
    assert re.findall(r"<th>", html) == []
    figures = re.findall(r"<figure[^>]*>", html)
    assert figures
    assert all('role="img"' in one and "aria-label=" in one for one in figures)
    assert html.count("<figcaption>") == len(figures)  # a legend with each


def test_who_prepared_it_for_whom_stands_where_the_board_says_so(board: Board) -> None:
    told = content(replace(board, prepared_by="A. Designer", revision="C"))
    assert told.prepared == (("Prepared by", "A. Designer"), ("Revision", "C"))
    assert "A. Designer" in report_html(told)
    assert b"prepared_by" not in dump_board(board)  # a file without it stays word for word


def test_the_appendix_tells_how_the_figures_were_computed(board: Board) -> None:
    case = case_of(board, board.lanes[0].name)
    appendix = appendix_of(case)
    html = report_html(content(board, extras=Extras(appendix=appendix)))
    paths = {one.path for one in appendix.figures}
    assert {"eye.height_v", "pulse.cursors_v", "spans[0].loss_db", "path[0].loss_db", "normalized_margin"} <= paths
    assert html.count("<math ") == sum(bool(one.mathml) for one in appendix.figures) > 10
    loss = next(one for one in appendix.figures if one.path == "loss_db")
    assert loss.value == show(case.found.loss_db, "dB")
    assert loss.value in html
    assert len(appendix.entries) == len(appendix.figures)


@pytest.mark.campaign
def test_remedies_and_changes_stand_where_they_are_asked_for(board: Board) -> None:
    limits = ReceiverLimits(at="pins", height_v=sourced(0.1))
    basis = Basis(board=lane_board((trace(0.9, "lossy"),), profile=invented_profile(limits=limits)))
    found = remedy_study(basis, allow=("layout",), effort=Effort(workers=1))
    pages = tuple(map(remedy_page, found.lanes))
    words = "of 99 changes of parts 99 were sketched and 16 assessed, the most promising"
    pages = (remedy_page(replace(found.lanes[0], left_out=(words,))), *pages[1:])
    other = Basis(board=board)
    changes = changes_page(compare_boards(basis, other, effort=Effort(workers=1)), board.guard)
    html = report_html(content(board, extras=Extras(remedies=pages, changes=changes)))
    assert f"Cut short: {words}." in html
    assert "Recommendations" in html
    assert pages[0].rows
    assert unescape(html).count(pages[0].rows[0][0]) == 1
    assert "What changed" in html
    assert changes.changes
    assert changes.changes[0][1] in unescape(html)
    alone = changes_html(changes)
    assert changes.title in unescape(alone)
    assert "Recommendations" not in report_html(content(board))


@pytest.mark.parametrize(("words", "unit", "length", "said"), [
    ([], "mm", "279.4", "SI units"), (["--lengths", "in"], "in", "11.00", "inches and mils"),
])  # fmt: skip
def test_a_report_says_in_which_unit_its_lengths_are(
    tmp_path, words: list[str], unit: str, length: str, said: str
) -> None:
    """11 in are 279.4 mm by the definition of the inch."""
    file, out = tmp_path / "one.board.json", tmp_path / "one.html"
    file.write_bytes(dump_board(lane_board((trace(0.2794),))))
    assert main(["report", str(file), "-o", str(out), "--without", "pictures", "budget", *words]) in (0, 1)
    text = out.read_text(encoding="utf-8")
    assert f"<dt>Lengths</dt><dd>{said}</dd>" in text
    assert f"length<small>{unit}</small>" in text
    assert f"<td>{length}</td>" in text
    assert show(0.2794, "m") == "279.4 mm"  # for what comes after
