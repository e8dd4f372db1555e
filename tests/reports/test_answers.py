"""Every figure of an answer has an entry, its checks are there, and the numbers put in give the number shown."""

import re
from functools import cache
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest

from tests.cli.test_lengths import METRIC
from tests.engine.figures.test_figures import as_shown, case_named, named_tests, size_of
from tests.reports.answers import MADE, WORDS, answered
from tests.thinning import sparing
from workbench.board.edits.changes import Lengths
from workbench.engine.figures.answered import ExplainedAnswer, answer_chain, explain_answer, figures_in, number_fields
from workbench.engine.figures.explaining import Explanation
from workbench.engine.figures.expression import is_closed, symbols_of, value_of
from workbench.errors import WorkbenchError
from workbench.quantity import lengths_shown
from workbench.reports.answers import ANSWER_ENTRIES
from workbench.reports.pages.budgets import budget_figures
from workbench.reports.pages.changes import GAINED_FIELDS, change_figures
from workbench.reports.pages.remedies import remedy_figures
from workbench.reports.pages.working import AnswerShown, appendix_of
from workbench.studies.entries.rows import DEVIATION, ROW_FIGURES
from workbench.studies.kinds.budget import BUDGET_FIELDS, BUDGET_HEADS
from workbench.studies.kinds.corners import CornersStudy
from workbench.studies.presentation import BarPicture, CurvePicture, MapPicture
from workbench.studies.registry import study_of
from workbench.studies.remedies.alterations import EntryAdded

KINDS = {(one.record, one.key): one for one in ANSWER_ENTRIES}
NAMES = {(kind.__name__, field) for kind, field in KINDS}
NO_FIGURES = {("DeviceSheet", "lanes")}
"""A channel's number with a lane's name."""
DERIVED = {("RemedyOffer", "power_w"), ("OverlayFigure", "apart"), ("TraceGain", "gained"),
           *(("GainBeside", f"{one}apart_db") for one in ("", "table_")),
           *(("SecondOpinion", f"{one}apart_{unit}") for one in ("", "counted_") for unit in ("v", "ui"))}  # fmt: skip
"""What is shown though a record does not keep it."""


def fields_of(whole: ExplainedAnswer) -> set[tuple[str, str]]:
    return {(kind.__name__, field) for kind, field in number_fields(type(whole.answer))} - NO_FIGURES


@pytest.mark.parametrize("name", sparing(MADE, "stretch", "remedy"))
def test_every_number_of_an_answers_json_has_an_entry(name: str) -> None:
    missing = fields_of(answered(name)) - NAMES
    assert missing == set()


def test_no_entry_is_left_over() -> None:
    used = set.union(*(fields_of(answered(name)) for name in MADE))
    assert NAMES - used == DERIVED


@pytest.mark.parametrize("entry", ANSWER_ENTRIES, ids=lambda one: f"{one.name} {one.symbol.name}")
def test_every_entry_is_whole_and_names_tests_that_exist(entry) -> None:
    assert entry.meaning.endswith(".")
    assert entry.off
    assert entry.holds
    assert entry.checks
    for check in entry.checks:
        path, test = check.test.split("::")
        assert test in named_tests(path), check.test
        assert check.source
        assert check.tolerance not in ("", "as the test says")
    assert entry.formula is None or is_closed(entry.formula) or entry.method, "a formula that names a method says which"


@cache
def explanations(name: str) -> tuple[Explanation, ...]:
    """Every figure of an answer explained; of several in a list the first."""
    whole, found = answered(name), []
    for path in figures_in(whole, KINDS):
        where = path
        first, _ = explain_answer(ANSWER_ENTRIES, whole, where)
        found.append(first)
        value = first.value
        while isinstance(value, tuple) and value:
            where, value = f"{where}[0]", value[0]
            one, _ = explain_answer(ANSWER_ENTRIES, whole, where)
            found.append(one)
    return tuple(found)


@pytest.mark.parametrize("name", MADE)
def test_the_numbers_put_in_give_the_number_shown(name: str) -> None:
    whole, seen = answered(name), 0
    for found in explanations(name):
        if found.value is None:
            continue
        seen += 1
        _, entry = explain_answer(ANSWER_ENTRIES, whole, found.path)
        known = {one.symbol: (one.value, one.unit) for one in found.inputs}
        assert found.inputs, found.path
        assert all(one.where for one in found.inputs), found.path
        if entry.formula is None:
            same = found.inputs[0].value == found.value
            assert same or found.inputs[0].value == pytest.approx(found.value, nan_ok=True), found.path
            continue
        assert {one.name for one in symbols_of(entry.formula)} <= set(known), found.path
        assert found.numbers
        ElementTree.fromstring(found.mathml)
        if not is_closed(entry.formula):
            continue
        assert value_of(entry.formula, known) == pytest.approx(found.value, rel=1e-9, abs=1e-12), found.path
        rounded = {symbol: (as_shown(value, unit), unit) for symbol, (value, unit) in known.items()}
        allowed = max(2e-3 * abs(found.value), 1e-3 * size_of(known, found.unit))
        assert value_of(entry.formula, rounded) == pytest.approx(found.value, abs=allowed), found.path
    assert seen >= 2


def test_the_answers_reach_every_entry() -> None:
    """Else a formula would be there that nothing has put numbers into."""
    reached = set()
    for name in MADE:
        for found in explanations(name):
            if found.value is not None:
                _, entry = explain_answer(ANSWER_ENTRIES, answered(name), found.path)
                reached.add(ANSWER_ENTRIES.index(entry))
    left = {ANSWER_ENTRIES[n].name for n in set(range(len(ANSWER_ENTRIES))) - reached}
    # Two fields have a second entry for boards that none of these is: no guards, more settings than are kept.
    assert left == {"RankedSettings.nearby_guards", "LaneFigures.margin_guards", "WaveformMeasures.ctle_dc_gain_db"}


@pytest.mark.parametrize("word", WORDS)
def test_what_the_window_shows_of_an_answer_is_the_figure_that_its_cell_names(word: str) -> None:
    whole = answered(word)
    shown = study_of(word).present(whole.answer)
    assert shown.rows
    cells = 0
    for row in shown.rows:
        assert len(row.figures) == len(row.cells), word
        for cell, path in zip(row.cells, row.figures, strict=True):
            if not path:
                assert not re.fullmatch(r"[-+−]?\d+\.\d+( \w+)?", cell), cell  # a number has a figure
                continue
            cells += 1
            found, _ = explain_answer(ANSWER_ENTRIES, whole, path)
            if found.value is not None:
                assert is_shown(found, cell), (path, cell, found.value)
    assert cells >= 2


PICTURES = ("settings", "position", "reach", "corners", "yield", "budget", "stretch", "window")
"""Answers that are drawn."""


@pytest.mark.parametrize("name", PICTURES)
def test_every_point_and_bar_of_a_picture_is_the_figure_that_it_names(name: str) -> None:
    whole = answered(name)
    study = study_of({"stretch": "reach", "window": "position"}.get(name, name))
    for shown in (study.present(whole.answer), study.present_growing(whole.answer)):
        drawn = list(drawn_in(shown.picture))
        assert drawn
        for path, value in drawn:
            found, _ = explain_answer(ANSWER_ENTRIES, whole, path)
            assert found.value == pytest.approx(value, abs=0.006 if isinstance(shown.picture, BarPicture) else 1e-12)


def drawn_in(picture):
    """The path and the value of every point and bar of a picture; a point without a figure is no point."""
    match picture:
        case MapPicture():
            points = [point for row in picture.points for point in row]
        case CurvePicture():
            points = [point for line in picture.lines for point in line.points]
        case BarPicture():
            points = []
            for bar in picture.bars:
                yield bar.figure, float(re.findall(r"[-+]\d+\.\d+(?= alone|$)", bar.words)[0])
    yield from ((one.figure, one.margin_guards) for one in points if one is not None)


def is_shown(found: Explanation, cell: str) -> bool:
    """Whether a cell has the figure's value in one of the units and roundings that tables have."""
    numbers = [float(one.replace("−", "-")) for one in re.findall(r"[-+−]?\d+\.?\d*(?:e[-+]?\d+)?", cell)]
    near = {1.0: 0.051, 1e3: 0.51, 1e6: 0.51, 1e9: 0.51}
    value = float(found.value)
    return any(abs(value * scale - one) <= max(near[scale], 6e-3 * abs(one)) for one in numbers for scale in near)


@pytest.mark.parametrize("word", WORDS)
def test_every_column_of_numbers_for_a_spreadsheet_has_an_entry(word: str) -> None:
    columns = {one.column: one for one in ROW_FIGURES}
    heads, *rows = study_of(word).rows(answered(word).answer)
    for at, head in enumerate(heads):
        tolerance = word == CornersStudy.word and heads.index("corner") < at < heads.index("lane")
        if any(isinstance(row[at], int | float) for row in rows):
            assert (DEVIATION if tolerance else head) in columns, head
    for one in ROW_FIGURES:
        assert one.checks or tuple(one.means.split(".")) in NAMES, one.column
        assert all(check.test.split("::")[1] in named_tests(check.test.split("::")[0]) for check in one.checks)


def test_a_margin_leads_down_to_the_profile_and_a_gain_to_both_its_ends() -> None:
    whole = answered("settings")
    found = {one.path: one for one in answer_chain(ANSWER_ENTRIES, whole, "groups[0].recommended.margin_guards")}
    assert "groups[0].recommended.lanes[0].height_v" in found
    margin = found["groups[0].recommended.lanes[0].margin_guards"]
    origins = {one.symbol: one.origin for one in margin.inputs}
    assert origins["h_min"] == "profile"
    below = {one.path for one in answer_chain(ANSWER_ENTRIES, answered("compare"), "lanes[0].gained_height_v")}
    assert {"lanes[0].first.height_v", "lanes[0].second.height_v"} <= below


def test_a_factors_effect_is_the_difference_of_two_means_by_hand() -> None:
    answer = answered("corners").answer
    for place, _ in enumerate(answer.factors):
        margins = {-1: [], 1: []}
        for corner in answer.corners[1:]:
            margins[int(np.sign(corner.deviations[place]))].append(corner.lanes[0].margin_guards)
        by_hand = np.mean(margins[1]) - np.mean(margins[-1])
        assert answer.lanes[0].effect_guards[place] == pytest.approx(by_hand, rel=1e-12)


def test_a_reports_appendix_tells_the_figures_of_its_own_budgets_remedies_and_changes() -> None:
    """Every column of the budget's table, the margins and the power of the remedies, what was gained by the changes."""
    budget, remedies, changes = (answered(name) for name in ("budget", "remedy", "compare"))
    shown = [
        AnswerShown(budget, budget_figures(budget.answer, "D0")),
        AnswerShown(remedies, remedy_figures(remedies.answer)), AnswerShown(changes, change_figures(changes.answer)),
    ]  # fmt: skip
    appendix = appendix_of(case_named("random"), shown)
    told = {re.sub(r"\[\d+\]", "[]", one.path.rsplit(": ", 1)[-1]).rsplit(".", 1)[-1] for one in appendix.figures}
    assert len(BUDGET_FIELDS) == len(BUDGET_HEADS) - 1
    assert {*BUDGET_FIELDS, *GAINED_FIELDS, "nearby_guards", "power_w", "into_first_guards"} <= told
    assert len(appendix.entries) == len(appendix.figures)
    assert all(one.meaning and one.off and one.checks for one in appendix.figures)


def test_a_budgets_spread_is_that_of_its_three_gains() -> None:
    for item in answered("budget").answer.lanes[0].items:
        three = sorted((item.alone_guards, item.forward_guards, item.reverse_guards))
        assert item.spread_guards == three[-1] - three[0]


def test_an_unknown_figure_is_one_sentence() -> None:
    for path, words in (("lanes[0].secnd.height_v", "no figure"), ("lanes", "no figure"), ("", "no figure"),
                        ("lanes[9].first.height_v", "no figure")):  # fmt: skip
        with pytest.raises(WorkbenchError) as refused:
            explain_answer(ANSWER_ENTRIES, answered("compare"), path)
        assert words in str(refused.value)


def test_a_sum_of_power_with_silent_parts_is_outside_its_range() -> None:
    whole = answered("sheet")
    assert explain_answer(ANSWER_ENTRIES, whole, "power_w")[0].inside
    silent = whole.answer._replace(devices=(whole.answer.devices[0]._replace(power_w=0.0), *whole.answer.devices[1:]))
    found, _ = explain_answer(ANSWER_ENTRIES, whole._replace(answer=silent), "power_w")
    assert not found.inside
    assert silent.devices[0].ref in found.doubts[0]


def test_explanations_go_into_json() -> None:
    for name in MADE:
        for found in explanations(name):
            assert msgspec.json.encode(found)


def words_in(value: object) -> list[str]:
    """Every text that stands in a presentation."""
    if isinstance(value, str):
        return [value]
    return [word for one in value for word in words_in(one)] if isinstance(value, tuple) else []


@pytest.mark.parametrize("name", [one for one in MADE if one in WORDS and one != "remedy"])
def test_a_studys_answer_tells_lengths_in_the_unit_that_is_wanted_also_once_it_is_there(name: str) -> None:
    """In the window's table and picture and in the command's text; a remedy's words are told as it is asked for."""
    whole, study = answered(name), study_of(name)
    for imperial in (False, True):
        with lengths_shown(imperial):
            shown = words_in(study.present(whole.answer))
            told = study.text(whole.answer, whole.board.guard)
        if imperial:
            assert [one for one in (*shown, *told.splitlines()) if METRIC.search(one)] == []
        elif name in ("position", "reach"):
            assert any(map(METRIC.search, shown))
            assert METRIC.search(told)


def test_what_a_change_sets_and_what_an_entry_states_is_told_by_its_own_facts() -> None:
    """A remedy's changes hold numbers of the board and of catalogue entries: no results, but they answer too."""
    board = answered("remedy").board
    line = board.catalogue.lines[0]
    whole = ExplainedAnswer("changes", Changed(changes=(Lengths("D0", ((0, 0.2),)), EntryAdded("lines", line, "x"))))
    length, _ = explain_answer(ANSWER_ENTRIES, whole, "changes[0].lengths_m[0][1]")
    assert (length.value, length.unit, length.inputs[0].origin) == (0.2, "m", "program")
    place, _ = explain_answer(ANSWER_ENTRIES, whole, "changes[0].lengths_m[0][0]")
    assert (place.value, place.unit) == (0.0, "")
    assert place.meaning.startswith("What is to be set: some runs of a lane given other lengths")
    stated, entry = explain_answer(ANSWER_ENTRIES, whole, "changes[1].entry.impedance_ohm")
    assert (stated.value, stated.unit, stated.inputs[0].where) == (
        line.impedance_ohm, "ohm", f"lines/{line.name}/impedance_ohm",
    )  # fmt: skip
    for check in (*entry.checks, *length.checks):
        path, test = check.test.split("::")
        assert test in named_tests(path)


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """Some changes."""

    changes: tuple[object, ...]
