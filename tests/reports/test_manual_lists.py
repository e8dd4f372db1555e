"""The manual's lists are the program's own: commands, records, thresholds."""

import html
import re

import msgspec
import pytest

from workbench.board.model import Board, Lane
from workbench.board.sourced import Sourced
from workbench.cli import COMMANDS
from workbench.cli.arguments import parser
from workbench.cli.reference import command_pages
from workbench.engine.assessment import Assessment, LaneAssessment
from workbench.engine.verdict import findings, margin
from workbench.engine.verdict.thresholds import thresholds
from workbench.reports.pages.manual import manual_html
from workbench.reports.pages.reference import record_id, record_tables, result_tables
from workbench.resources import resource

OWN = ("format", "version")
"""Keys that say what the file is; nobody writes them by hand."""


@pytest.fixture(scope="module")
def manual() -> str:
    return html.unescape(manual_html(commands=command_pages()))


def test_every_command_and_every_study_has_its_arguments(manual: str) -> None:
    names = [page.name for page in command_pages()]
    assert set(COMMANDS) <= set(names)
    assert {"study reach", "study yield", "model trust"} <= set(names)
    assert all(f"<h4>{name}</h4>" in manual for name in names)


def test_an_argument_is_told_as_the_help_tells_it(capsys: pytest.CaptureFixture[str]) -> None:
    page = next(page for page in command_pages() if page.name == "assess")
    with pytest.raises(SystemExit):
        parser("assess").parse_args(["assess", "--help"])
    shown = " ".join(capsys.readouterr().out.split())
    assert len(page.arguments) >= 5
    for written, meaning in page.arguments:
        assert written in shown
        assert " ".join(meaning.split()) in shown


def test_every_record_of_the_board_file_is_there_with_every_key(manual: str) -> None:
    tables = {table.id: table for table in record_tables(Board)}
    assert {record_id(kind) for kind in (Board, Lane, Sourced)} <= set(tables)
    assert [row.key for row in tables[record_id(Lane)].fields] == [field.name for field in msgspec.structs.fields(Lane)]
    assert all(row.label and row.help for table in tables.values() for row in table.fields if row.key not in OWN)
    assert all(f'id="{one}"' in manual for one in tables)


def test_every_key_of_an_assessment_is_there(manual: str) -> None:
    tables = {table.name: table for table in result_tables(Assessment)}
    keys = [row.key for row in tables["LaneAssessment"].keys]
    assert keys == [field.encode_name for field in msgspec.structs.fields(LaneAssessment)]
    assert all(table.about for table in tables.values())
    assert '<span class="code">worst_case_height_v</span>: number' in manual
    assert '<span class="code">verdict</span>: "pass" or "not judged" or "marginal" or "fail"' in manual


def test_thresholds_are_the_rules_own(manual: str) -> None:
    text = resource("help", "findings.html").read_text(encoding="utf-8")
    assert set(re.findall(r"limits\.(\w+)", text)) <= set(thresholds())
    assert f"Up\nto {margin.SPREAD_UI:g} unit intervals rms" in manual
    assert f"loses more than {findings.COMPRESSION_DB:g} dB to saturation" in manual


def test_no_path_of_the_source_tree_is_named_outside_the_checks(manual: str) -> None:
    text = re.sub(r"<li>Checked against .*?</li>", "", manual, flags=re.DOTALL)
    assert not re.findall(r"\b(?:projects|resources|workbench|tests)/[\w./-]+", text)
