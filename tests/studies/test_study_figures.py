"""Every number in a study's rows has an entry, every entry's checks are there, and sums hold within the rows."""

import ast
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.studies.boards import limited_profile, with_few_settings
from workbench.board.model import Stage
from workbench.engine.figures.explaining import FIGURES
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.registry import STUDIES
from workbench.studies.study_figures import DEVIATION, STUDY_FIGURES, study_figure

QUICK = {
    "position": {"positions": 2, "settings": "current"}, "reach": {"longest_m": 0.4}, "yield": {"draws": 2},
}  # fmt: skip
"""What keeps each study to a few assessments."""
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def answers():
    """Every study's rows, of one lane of two runs and a conditioner."""
    path = (trace(0.3, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy"))
    own = limited_profile()
    strict = replace(own.limits, height_v=replace(own.limits.height_v, value=0.9))
    own = replace(own, limits=strict)
    board = with_few_settings(lane_board(path, profile=own, equalization="1", receiver={"noise_v": 2e-3}))
    basis, found = Basis(board=board), {}
    for study in STUDIES:
        subject = study.subjects(board, "D0")[0]
        typed = study.typed.first if study.typed is not None else ""
        if study.word == "remedy":
            typed = "layout"
        elif typed:
            typed = "impedance=±5%"
        values = {**study.values(subject, typed), **QUICK.get(study.word, {})}
        found[study.word] = list(study.rows(study.answer(basis, values, effort=Effort(workers=1))))
    return found


def test_every_column_of_numbers_has_an_entry_and_no_entry_is_left_over(answers) -> None:
    used = set()
    for word, (heads, *rows) in answers.items():
        for at, head in enumerate(heads):
            numbers = [row[at] for row in rows if isinstance(row[at], int | float)]
            typed = head in ("length_m", "reach_m", "nearby_guards") or numbers
            tolerance = word == "corners" and heads.index("corner") < at < heads.index("lane")
            if typed:
                used.add((word, study_figure(word, DEVIATION if tolerance else head).key))
    reached = {key for _, key in used}
    assert {one.key for one in STUDY_FIGURES} <= reached


def test_every_entry_is_whole_and_names_what_exists() -> None:
    keys = {one.key for one in FIGURES}
    for one in STUDY_FIGURES:
        assert one.meaning.endswith(".")
        assert one.off
        assert not one.rests_on or one.rests_on in keys
        for check in one.checks:
            path, name = check.test.split("::")
            tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
            assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, check.test


def test_a_budgets_steps_add_up_in_the_rows(answers) -> None:
    heads, *rows = answers["budget"]
    column = {head: [row[at] for row in rows] for at, head in enumerate(heads)}
    whole = column["ideal_guards"][0] - column["now_guards"][0]
    assert sum(column["forward_guards"]) == pytest.approx(whole, abs=1e-9)
    assert sum(column["reverse_guards"]) == pytest.approx(whole, abs=1e-9)
