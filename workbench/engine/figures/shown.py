"""Entries of what the window, the studies and the report show beside a lane's JSON, worked out from the same lane."""

from typing import Any

import numpy as np

from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureInput,
    of_figure,
    on_the_way,
)
from workbench.engine.figures.expression import Binary, Constant, Least, Sought, Symbol, Total
from workbench.engine.figures.eyes import HEIGHT, WIDTH_UI
from workbench.engine.figures.losses import ELEMENT, ELEMENTS, NYQUIST, SPAN_LOSSES, UI
from workbench.engine.figures.verdicts import LEAST_HEIGHT, LEAST_WIDTH
from workbench.engine.lane.reflection import impedance_profile
from workbench.engine.verdict.margin import PLAIN_GUARD, least_of, margin_guards
from workbench.engine.views import frequency_response

NORMALIZED, HEIGHT_GUARD, WIDTH_GUARD = Symbol("M"), Symbol("g", "h"), Symbol("g", "w")
GAIN_THERE, IMPEDANCE, SHARE = Symbol("G", "N"), Symbol("Z", indexed=True), Symbol("s")
_ZERO = Constant(0.0)


def shown_values(case: ExplainedLane) -> dict[str, Any]:
    """What is shown of a lane beside its JSON, under the keys of the entries below."""
    found, eye = case.found, case.found.eye
    least_v, least_ui = found.limits.height_v or 0.0, found.limits.width_ui or 0.0
    response = frequency_response(case.memo, case.plan, case.observed.probe)
    profile_ohm = impedance_profile(case.memo, case.plan).impedance_ohm
    whole_db = sum(loss for loss in (one["loss_db"] for one in case.values["path"]) if loss is not None)
    for one in case.values["path"]:
        loss_db = one["loss_db"]
        one["share"] = None if loss_db is None or whole_db <= 0.0 else loss_db / whole_db
    return {
        "normalized_margin": margin_guards(
            height_v=eye.height_v, over_height_v=least_of(eye.height_v - least_v, found.margin.mask_v),
            over_width_ui=eye.width_ui - least_ui, guard=case.board.guard,
        ),
        "nyquist_gain_db": float(np.interp(found.nyquist_hz, response.f_hz, response.gain_db)),
        "impedance_ohm": (float(profile_ohm.min()), float(profile_ohm.max())),
    }  # fmt: skip


def _has_guards(case: ExplainedLane, at: At) -> bool:
    del at
    return case.board.guard.height_v > 0.0 and case.board.guard.width_ui > 0.0


def _margin(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    guard, limits = case.board.guard, case.found.limits
    height_v, width_ui = guard.height_v or PLAIN_GUARD.height_v, guard.width_ui or PLAIN_GUARD.width_ui
    height, mask_v = case.found.eye.height_v, case.found.margin.mask_v
    if mask_v is not None and mask_v < height - (limits.height_v or 0.0):
        least = on_the_way(LEAST_HEIGHT, "height less mask margin", height - mask_v, "V", "margin.mask_v")
    elif limits.height_v is not None:
        least = of_figure(case, LEAST_HEIGHT, "limit of the profile", "V", "limits.height_v")
    else:
        least = on_the_way(LEAST_HEIGHT, "no limit is known", 0.0, "V", "the profile")
    return [
        of_figure(case, HEIGHT, "height of the eye", "V", "eye.height_v"),
        least,
        on_the_way(HEIGHT_GUARD, "height guard", height_v, "V", "guard/height_v of the board"),
        of_figure(case, WIDTH_UI, "width of the eye", "UI", "eye.width_ui"),
        of_figure(case, LEAST_WIDTH, "limit of the profile", "UI", "limits.width_ui") if limits.width_ui is not None
        else on_the_way(LEAST_WIDTH, "no limit is known", 0.0, "UI", "the profile"),
        on_the_way(WIDTH_GUARD, "width guard", width_ui, "UI", "guard/width_ui of the board"),
    ]  # fmt: skip


def _gain(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    spans = [f"spans[{n}].loss_db" for n in range(case.observed.probe.span + 1)]
    return [
        of_figure(case, NYQUIST, "Nyquist frequency", "Hz", "nyquist_hz"),
        of_figure(case, SPAN_LOSSES, "of each span up to the probe point", "dB", *spans),
    ]


def _elements(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    paths = [f"path[{n}].loss_db" for n, one in enumerate(case.values["path"]) if one["loss_db"] is not None]
    return [
        of_figure(case, UI, "unit interval", "s", "pulse.ui_s"),
        of_figure(case, ELEMENTS, "loss of each element, whose fields say its impedance", "dB", *paths),
    ]


def _share(case: ExplainedLane, at: At) -> list[FigureInput]:
    paths = [f"path[{n}].loss_db" for n, one in enumerate(case.values["path"]) if one["loss_db"] is not None]
    return [
        of_figure(case, ELEMENT, "the element's own loss", "dB", f"path[{at[0]}].loss_db"),
        of_figure(case, ELEMENTS, "loss of each element alone", "dB", *paths),
    ]


def _per(one: Any, limit: Symbol, guard: Symbol) -> Binary:  # noqa: ANN401 - an expression of either eye measure
    return Binary("/", Binary("-", one, limit), guard)


MARGIN = (
    Least((_per(HEIGHT, LEAST_HEIGHT, HEIGHT_GUARD), _per(WIDTH_UI, LEAST_WIDTH, WIDTH_GUARD)))
    + Least((HEIGHT, _ZERO)) / HEIGHT_GUARD
)
"""The normalized margin, wherever it stands."""
_GUARDS = "tests/studies/test_figures.py::"
_BANDS = (
    Check(_GUARDS + "test_it_is_the_smaller_of_both_margins_in_guard_bands", "limits and guard bands by hand", "exact"),
    Check("tests/engine/figures/test_figures.py::test_a_normalized_margin_is_that_of_limits_and_guards_by_hand",
          "limits and guard bands by hand", "exact"),
)  # fmt: skip
_MEANT = "The smaller of height and width margin, each in guard bands: below 0 the lane fails, from 1 on it passes."

FIGURES = (
    FigureEntry(
        key="normalized_margin", word="margin", unit="", symbol=NORMALIZED, inputs=_margin, applies=_has_guards,
        meaning=_MEANT + " A closed eye's height counts once more, so that the less closed of two is the larger.",
        formula=MARGIN,
        holds="at the receiver, where the profile's limits hold", off="as height and width", checks=_BANDS,
    ),
    FigureEntry(
        key="normalized_margin", word="margin", unit="", symbol=NORMALIZED, inputs=_margin,
        meaning=_MEANT + " The board has a guard band of 0, so the one of a new board is the unit.",
        formula=Sought("margins in bands of a new board, one more where the limit is kept",
                       (HEIGHT, LEAST_HEIGHT, HEIGHT_GUARD, WIDTH_UI, LEAST_WIDTH, WIDTH_GUARD)),
        method="Where a guard is 0 nothing is between fail and pass: what meets its limit counts one band higher.",
        holds="at the receiver, where the profile's limits hold", off="as height and width", checks=_BANDS,
    ),
    FigureEntry(
        key="nyquist_gain_db", unit="dB", symbol=GAIN_THERE, inputs=_gain,
        meaning="Gain at Nyquist from the transmitter's matched level to the probe point, true terminations and linear "
                "conditioners included; it starts anew after a limiting one.",
        formula=Sought("gain of all spans and linear stages in a row", (NYQUIST, SPAN_LOSSES)),
        method="The transfer of each span with its true ends, times each linear stage's own, read at Nyquist.",
        off="0.15 dB between the points of its grid", outside=("model-range",),
        holds="inside the ranges of the parts' models",
        checks=(Check("tests/engine/test_views.py::test_the_gain_between_matched_ends_is_the_loss_of_the_span",
                      "the loss that the line states", "1e-6 dB"),),
    ),
    FigureEntry(
        key="impedance_ohm[]", word="impedance", unit="ohm", symbol=IMPEDANCE, inputs=_elements,
        meaning="Lowest and highest impedance along the path, as a reflected step shows it.",
        formula=Sought("100 Ω (1 + ρ) / (1 − ρ) of the step's echo ρ", (UI, ELEMENTS)),
        method="A smooth edge of 0.2 UI is sent into each span from its driving end; the echo's running sum is ρ.",
        off="multiple echoes count as impedance; what is shorter than the edge is smoothed", outside=("model-range",),
        holds="inside the ranges of the parts' models",
        checks=(Check("tests/engine/test_views.py::test_a_matched_line_shows_its_impedance_and_a_mismatched_one_its_own",
                      "the lines' own impedances", "0.2 ohm, 2 ohm behind a step"),),
    ),
    FigureEntry(
        key="path[].share", unit="", symbol=SHARE, inputs=_share, formula=ELEMENT / Total(ELEMENTS),
        meaning="What part of the sum of all elements' losses one has.", off="as the losses that it is a ratio of",
        checks=(Check("tests/engine/figures/test_figures.py::test_a_loss_budget_adds_up_with_the_remainder_named",
                      "the sum by hand", "exact"),),
    ),
)  # fmt: skip
