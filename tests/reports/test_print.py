"""A report printed from HTML, laid out page by page by an engine that is none of ours: WeasyPrint, CSS paged media."""

import datetime
import logging
import warnings
from itertools import pairwise

import pytest
from msgspec.structs import replace

from tests.demos.assessed import found, path_of
from workbench.board.reading import load_board
from workbench.engine.figures.explaining import case_of
from workbench.reports.pages.as_html import report_html
from workbench.reports.pages.handover import Extras, Handover, handover
from workbench.reports.pages.made import made_of
from workbench.reports.pages.pictures import LanePictures
from workbench.reports.pages.working import appendix_of
from workbench.studies.budget import budget_study
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort

MOST_PAGES = 35
SIZES = {"path": (800, 118), "budget": (560, 192)}
"""What pictures measure, px; the plots 560 x 320. What is drawn in them changes no page."""


def blank(kind: str) -> str:
    wide, high = SIZES.get(kind, (560, 320))
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}"></svg>'


@pytest.fixture(scope="module")
def report() -> Handover:
    loaded = load_board(path_of("correlator-shelf"))
    assessment = found("correlator-shelf")
    pictures = [LanePictures(lane.name, *map(blank, LanePictures._fields[1:])) for lane in loaded.board.lanes]
    missed = [lane.lane for lane in assessment.lanes if lane.margin.verdict != "pass"]
    (one,) = budget_study(
        Basis(board=loaded.board), lanes=("RX2",), settings=False, effort=Effort(workers=1)
    ).lanes  # the others have as many rows
    return handover(
        loaded.board, assessment, made=made_of("shelf.board.json", "ab" * 32, datetime.date(2026, 11, 25)),
        pictures=pictures, budgets=[replace(one, lane=lane) for lane in missed],
        bars=dict.fromkeys(missed, blank("budget")), extras=Extras(appendix=appendix_of(case_of(loaded.board, "RX15"))),
    )  # fmt: skip


@pytest.mark.campaign
def test_sixteen_lanes_are_printed_on_at_most_35_pages(report: Handover) -> None:
    try:
        with warnings.catch_warnings(action="ignore"):  # of libraries that it would rather have
            import weasyprint  # it needs libraries of the system, which not every computer has
    except OSError as error:
        pytest.skip(f"the layout engine lacks a library of the system: {error}")
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)  # it tells of each rule that is for screens
    pages = weasyprint.HTML(string=report_html(report)).render().pages
    assert len(report.lanes) == 16
    assert len(pages) <= MOST_PAGES
    assert all((round(page.width), round(page.height)) == (794, 1123) for page in pages)  # A4 at 96 to the inch
    where = {name: number for number, page in enumerate(pages) for name in page.anchors}
    lanes = [where[f"lane-{number}"] for number in range(1, 17)]
    assert [after - before for before, after in pairwise(lanes)] == [1] * 15  # a page a lane
