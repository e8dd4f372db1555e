"""How the figures of a lane were computed, ready to be set as a report's appendix."""

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from workbench.board.model import Board
from workbench.engine.figures.answered import ExplainedAnswer, answer_chain, explain_answer
from workbench.engine.figures.entry import ExplainedLane, FigureEntry, FigureFacts
from workbench.engine.figures.explaining import Explanation, chain, entry_named
from workbench.engine.figures.expression import as_mathml
from workbench.reports.answers import ANSWER_ENTRIES
from workbench.reports.explained import place_text, value_text
from workbench.reports.pages.settings_sheet import settings_sheet

FROM = ("normalized_margin", "eye.height_v", "eye.width_ui", "eye.worst_case_height_v", "height_budget.remainder_v",
        "loss_db", "delay_s", "spans[0].return_loss_db", "baseline_wander_v", "nyquist_gain_db",
        "impedance_ohm")  # fmt: skip
"""The figures of a lane's page; the appendix has these and all that they rest on, one of a kind."""
_LONGEST_NUMBERS = 400


class WorkedFigure(NamedTuple):
    """A figure as the appendix tells it.

    Attributes:
        path, value: where it stands in the lane's JSON, or an answer's after the answer's name, and what it is.
        meaning, numbers, method, holds, off: as the entry has them; "" for none.
        mathml: its formula.
        inputs: (symbol, value, meaning, where from).
        checks: (test, source, tolerance).
    """

    path: str
    value: str
    meaning: str
    mathml: str
    numbers: str
    method: str
    holds: str
    inside: bool
    off: str
    inputs: tuple[tuple[str, str, str, str], ...]
    checks: tuple[tuple[str, str, str], ...]


class Appendix(NamedTuple):
    """How one lane's figures were computed; `entries` are theirs, for who draws the formulas."""

    lane: str
    figures: tuple[WorkedFigure, ...]
    entries: tuple[FigureFacts, ...]


class AnswerShown(NamedTuple):
    """An answer that a report shows, and the figures of it, as paths in its JSON."""

    whole: ExplainedAnswer
    paths: tuple[str, ...]


def appendix_of(case: ExplainedLane, answers: Sequence[AnswerShown] = ()) -> Appendix:
    """A lane's figures and what they rest on, each kind once, then the answers' and the settings sheet's.

    Args:
        case: the lane.
        answers: what the report shows besides: budgets, remedies, changes.
    """
    found = [*_of_a_kind(case), *_of_answers([*answers, *_sheet(case.board)])]
    return Appendix(case.found.lane, tuple(_worked(*one) for one in found), tuple(entry for _, entry in found))


def _of_a_kind(case: ExplainedLane) -> Iterator[tuple[Explanation, FigureFacts]]:
    seen: set[int] = set()
    for name in FROM:
        for one in chain(case, name):
            entry = entry_named(case, one.path)
            if one.value is not None and id(entry) not in seen:
                seen.add(id(entry))
                yield one, entry


def _of_answers(answers: Iterable[AnswerShown]) -> Iterator[tuple[Explanation, FigureFacts]]:
    """The answers' figures and what they rest on, each kind once in all of them."""
    seen: set[int] = set()
    for whole, paths in answers:
        for path in paths:
            for one in answer_chain(ANSWER_ENTRIES, whole, path):
                _, entry = explain_answer(ANSWER_ENTRIES, whole, one.path)
                if one.value is not None and id(entry) not in seen:
                    seen.add(id(entry))
                    yield one, entry


def _sheet(board: Board) -> Iterator[AnswerShown]:
    """The settings sheet's sum of power; nothing where no device is fitted."""
    if board.devices:
        yield AnswerShown(ExplainedAnswer("Settings sheet", settings_sheet(board), board), ("power_w",))


def _worked(one: Explanation, entry: FigureFacts) -> WorkedFigure:
    short = one.numbers if len(one.numbers) <= _LONGEST_NUMBERS else f"{one.numbers[:_LONGEST_NUMBERS]} …"
    return WorkedFigure(
        path=one.path if isinstance(entry, FigureEntry) else f"{one.subject}: {one.path}",
        value=value_text(one.value, one.unit), meaning=one.meaning,
        mathml=as_mathml(entry.symbol, entry.formula) if entry.formula is not None else "", numbers=short,
        method=one.method, holds=one.holds, inside=one.inside, off=one.off,
        inputs=tuple(
            (each.symbol, value_text(each.value, each.unit), each.meaning, place_text(each)) for each in one.inputs
        ),
        checks=tuple((each.test, each.source, each.tolerance) for each in one.checks),
    )  # fmt: skip
