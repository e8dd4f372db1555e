"""A lane's figure explained: its entry with this lane's numbers put in, and the figures that it rests on."""

import re
from collections.abc import Iterator

import msgspec

from workbench.board.model import Board
from workbench.engine.assess import assess_board
from workbench.engine.figures import budgets, eyes, losses, pulses, shown, skews, verdicts
from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureFacts,
    FigureInput,
    figure_at,
    path_of,
)
from workbench.engine.figures.expression import Known, Value, as_mathml, as_text
from workbench.engine.lane.lane import observe, trained
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.verdict.shares import element_losses_db
from workbench.errors import WorkbenchError
from workbench.wording import instead

FIGURES: tuple[FigureEntry, ...] = (
    *losses.FIGURES, *pulses.FIGURES, *eyes.FIGURES, *verdicts.FIGURES, *skews.FIGURES, *shown.FIGURES,
    *budgets.FIGURES,
)
"""Every figure of a lane; where a key stands twice, the first that applies to the lane counts."""


class Explanation(msgspec.Struct, frozen=True, kw_only=True):
    """How one figure came about.

    Attributes:
        subject, path: the lane, or the answer, and where the figure stands in its JSON.
        meaning: one sentence.
        value: in `unit`; None where there is no such figure.
        formula, numbers: the equation with symbols and with its own numbers; "" where the figure is stated.
        mathml: the equation as MathML.
        method: how it is found, where the formula names a numerical method.
        inputs: where each input comes from.
        holds: the range in which it holds.
        inside: whether it is inside.
        doubts: the findings, or other reasons, that put it outside.
        checks: the tests that hold the figure against something else.
        off: how far it can be off.
    """

    subject: str
    path: str
    meaning: str
    value: Value | None
    unit: str
    symbol: str
    formula: str
    numbers: str
    mathml: str
    method: str
    inputs: tuple[FigureInput, ...]
    holds: str
    inside: bool
    doubts: tuple[str, ...]
    checks: tuple[Check, ...]
    off: str


def case_of(
    board: Board,
    lane: str,
    *,
    probe: str = RECEIVER,
    ber: float | None = None,
    symbols: Symbols = Symbols.CODED,
    memo: Memo | None = None,
) -> ExplainedLane:
    """A lane of a checked board, assessed and ready to be explained.

    Args:
        board: the board.
        lane: the lane's name.
        probe: the probe point to measure at.
        ber: the error ratio to measure at; None: the profile's own.
        symbols: which symbols count.
        memo: a store of earlier results to use and fill.

    Raises:
        WorkbenchError: there is no such lane or probe point.
    """
    memo = memo if memo is not None else Memo()
    found = assess_board(board, sha256="", lanes=(lane,), probe=probe, ber=ber, symbols=symbols, memo=memo).lanes[0]
    own = next(one for one in board.lanes if one.name == lane)
    plan, _ = trained(memo, plan_of(board, own))
    observed = observe(memo, plan, resolve_probe(plan, probe), found.eye.ber, symbols=symbols)
    values = msgspec.to_builtins(found)
    values["path"] = [{"loss_db": loss_db} for loss_db in element_losses_db(memo, plan)]
    case = ExplainedLane(board, own, plan, memo, found, observed, values)
    values |= shown.shown_values(case) | {"height_budget": budgets.budget_values(case)}
    return case


def entry_for(case: ExplainedLane, key: str, at: At) -> FigureEntry:
    """The entry of a key that applies to a lane; raises KeyError where there is none."""
    for figure in FIGURES:
        if figure.key == key and figure.applies(case, at):
            return figure
    raise KeyError(key)


def entry_named(case: ExplainedLane, name: str) -> FigureEntry:
    """The entry that explains a figure of a lane; raises WorkbenchError where there is no such figure."""
    key, at = _named(name)
    if _value(case, path_of(key, at)) is None:
        return next(one for one in FIGURES if one.key == key)
    return entry_for(case, key, at)


def explain(case: ExplainedLane, name: str) -> Explanation:
    """Explain a figure of a lane.

    Args:
        case: the lane.
        name: the figure's path in the JSON, such as ``spans[0].loss_db``, or its word, such as ``height``.

    Raises:
        WorkbenchError: there is no such figure, or the lane has not as many.
    """
    key, at = _named(name)
    path = path_of(key, at)
    value = _value(case, path)
    if value is None and at:
        _require_place(case, path)
    entry = entry_named(case, name)
    return told(
        entry, subject=case.found.lane, path=path, value=value,
        inputs=() if value is None else tuple(entry.inputs(case, at)),
        doubts=tuple(one.text for one in case.found.findings if one.rule in entry.outside),
        unit=entry.unit if entry.unit_at is None else entry.unit_at(case, at),
    )  # fmt: skip


def told(
    entry: FigureFacts, *, subject: str, path: str, value: Value | None, inputs: tuple[FigureInput, ...],
    doubts: tuple[str, ...], unit: str,
) -> Explanation:  # fmt: skip
    """An entry with numbers put in.

    Args:
        entry: the entry.
        subject: the lane, or the answer.
        path: where the figure stands in the subject's JSON.
        value: the figure, in `unit`; None where there is none.
        inputs: its inputs; none without a value.
        doubts: what puts it outside its range, in sentences.
        unit: SI unit.
    """
    known: Known = {one.symbol: (one.value, one.unit) for one in inputs}
    with_formula = entry.formula is not None and value is not None
    return Explanation(
        subject=subject, path=path, meaning=entry.meaning, value=value, symbol=entry.symbol.name, unit=unit,
        formula="" if entry.formula is None else f"{entry.symbol.name} = {as_text(entry.formula)}",
        numbers=f"{entry.symbol.name} = {as_text(entry.formula, known)}" if with_formula and entry.formula else "",
        mathml=as_mathml(entry.symbol, entry.formula), method=entry.method, inputs=inputs, holds=entry.holds,
        inside=not doubts, doubts=doubts, checks=entry.checks, off=entry.off,
    )  # fmt: skip


def chain(case: ExplainedLane, name: str) -> Iterator[Explanation]:
    """A figure and all that it rests on, each once, the figure first."""
    pending, seen = [name], set()
    while pending:
        found = explain(case, pending.pop(0))
        if found.path in seen:
            continue
        seen.add(found.path)
        yield found
        pending = [*followed(found), *pending]


def followed(found: Explanation) -> list[str]:
    """The paths of the figures that a figure's inputs are."""
    return [path for one in found.inputs if one.origin == "figure" for path in one.where.split(", ") if path]


def names() -> tuple[str, ...]:
    """Every name that a figure answers to: keys and words."""
    return tuple(dict.fromkeys(name for one in FIGURES for name in (one.key, one.word) if name))


def _named(name: str) -> tuple[str, At]:
    """The key and the numbers of a figure's name."""
    at = tuple(int(number) for number in re.findall(r"\[(\d{1,6})\]", name))
    bare = re.sub(r"\[\d+\]", "[]", name)
    word = bare.removesuffix("[]")
    for figure in FIGURES:
        key = figure.key
        if bare == key or (figure.word and word == figure.word) or (key.endswith("[]") and bare == key[:-2]):
            return _with_numbers(key, at)
    remedy = instead(bare, names(), f"write one of {', '.join(names())}")
    raise WorkbenchError(f"there is no figure {name!r}; {remedy}")


def _with_numbers(key: str, at: At) -> tuple[str, At]:
    wanted = key.count("[]")
    if len(at) == wanted:
        return key, at
    if key.endswith("[]") and len(at) == wanted - 1:
        return key, at
    example = path_of(key, (0,) * wanted)
    raise WorkbenchError(f"there are several of {key}; say which, counted from 0, such as {example}")


def _value(case: ExplainedLane, path: str) -> Value | None:
    try:
        return figure_at(case, path)
    except KeyError:
        return None


def _require_place(case: ExplainedLane, path: str) -> None:
    """Refuse a number that the lane does not have."""
    try:
        figure_at(case, path)
    except KeyError as error:
        raise WorkbenchError(f"lane {case.found.lane} has no {path}; its JSON has what there is") from error
