"""How the figures of a measurement beside its lane came about."""

from workbench.engine.figures.answered import AnswerEntry, Spot, beside, input_from, known
from workbench.engine.figures.entry import Check, FigureInput, on_the_way
from workbench.engine.figures.expression import Sought, Symbol
from workbench.measured.overlay.alignment import Alignment, CurveDifference
from workbench.measured.overlay.figures import Overlay, OverlayFigure

_TESTS = "tests/measured/test_measured_beside.py::"
_POINTS, _SEEN, _MODEL = Symbol("n"), Symbol("y", "meas"), Symbol("y", "model")
_DELAY, _GAIN, _OFFSET = Symbol("τ"), Symbol("g"), Symbol("o")
_ALIGNED = (
    Check(_TESTS + "test_a_delay_below_the_sample_interval_and_a_level_are_found", "a curve shifted by hand",
          "0.02 ps, 0.1 % of the level"),
    Check(_TESTS + "test_noise_moves_the_delay_no_more_than_theory_says", "the bound of Cramér and Rao",
          "3.5 times the bound"),
)  # fmt: skip
_DIFFERENCE = (
    Check(_TESTS + "test_the_difference_says_how_much_and_where", "curves that differ by a known amount", "1e-12"),
    Check(_TESTS + "test_a_stretch_beside_another_library_s_line", "another library's line", "2 %"),
)  # fmt: skip
_EYE = (
    Check(_TESTS + "test_eye_figures_stand_beside_the_model_s_at_the_same_error_ratio", "the assessment", "exact"),
    Check("tests/measured/test_fold.py::test_the_symbols_and_the_opening_of_a_clean_trapezoid",
          "a trapezoid's closed form", "1e-3 UI, 1 uV of 1 V"),
    Check("tests/measured/test_fold.py::test_random_jitter_and_noise_come_out_at_their_size", "what was put in",
          "4 % of jitter, 20 % of noise"),
)  # fmt: skip
_NOISE = "by the curve's noise"


def _curves(spot: Spot) -> list[FigureInput]:
    overlay = spot.above(Overlay)[1]
    aligned, count = overlay.alignment, overlay.x.size
    seen, model = (float(y[0]) if count else 0.0 for y in (overlay.y_measured, overlay.y_model))
    first = "its first point" if count else "no curve was measured"
    return [
        on_the_way(_POINTS, "points of the common axis", float(count), "", "x"),
        on_the_way(_SEEN, f"measured, as aligned, {first}", seen, overlay.y_unit, "y_measured"),
        on_the_way(_MODEL, f"modelled, {first}", model, overlay.y_unit, "y_model"),
        on_the_way(_DELAY, "delay that was taken out", aligned.delay_s, "s", "alignment.delay_s"),
    ]  # fmt: skip


def _of_curve(spot: Spot) -> str:
    overlay = spot.above(Overlay)[1]
    return str(overlay.x_unit if spot.field == "worst_at" else overlay.y_unit)


def _of_level(spot: Spot) -> str:
    return str(spot.above(Overlay)[1].y_unit) if spot.field == "offset" else ""


def _of_axis(spot: Spot) -> str:
    return str(spot.record.x_unit if spot.field == "x" else spot.record.y_unit)


def _curve(spot: Spot) -> list[FigureInput]:
    overlay, value, unit = spot.record, known(spot), _of_axis(spot)
    if spot.field == "x":
        return [on_the_way(Symbol("x"), overlay.x_label, value, unit, "both curves")]
    if spot.field == "y_measured":
        where = f"measurements/{overlay.name} of the board"
        return [input_from(Symbol("y"), overlay.y_label, value, unit, origin="board", where=where)]
    return [input_from(Symbol("y"), overlay.y_label, value, unit, origin="lane", where="the lane, same places")]


def _of_figure(spot: Spot) -> str:
    return str(spot.record.unit)


def _measured(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    where = f"measurements/{spot.above(Overlay)[1].name} of the board"
    return [input_from(_SEEN, spot.record.label, spot.value, spot.record.unit, origin="board", where=where)]


def _modelled(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    return [input_from(_MODEL, spot.record.label, spot.value, spot.record.unit, origin="lane",
                       where="the lane at the same probe point")]  # fmt: skip


def _apart(spot: Spot) -> list[FigureInput]:
    unit = spot.record.unit
    return [beside(spot, _SEEN, "measured", unit, "measured"), beside(spot, _MODEL, "modelled", unit, "model")]


_SENT = (_POINTS, _SEEN, _MODEL)

OVERLAY_ENTRIES: tuple[AnswerEntry, ...] = (
    *(
        AnswerEntry(record=Overlay, key=key, unit="", unit_at=_of_axis, symbol=Symbol(letter), inputs=_curve,
                    checks=_DIFFERENCE, meaning=meaning, off=off)
        for key, letter, meaning, off in (
            ("x", "x", "Where both curves are compared: what both have, at the coarser one's points.", "exact"),
            ("y_measured", "y", "The measured curve, as aligned.", _NOISE),
            ("y_model", "y", "The lane's own curve at the same places.", "as the lane's loss and pulse"),
        )
    ),
    AnswerEntry(
        record=Alignment, key="delay_s", unit="s", symbol=_DELAY, inputs=_curves, checks=_ALIGNED, off=_NOISE,
        meaning="By how much the measured curve comes later than the model's.",
        formula=Sought("delay of the least squared difference", _SENT),
        method="The peak of the cross-correlation, refined by Gauss-Newton: G. C. Carter, Proc. IEEE 75(2), 1987.",
        holds="curves that overlap by four fifths of the shorter one",
    ),
    *(
        AnswerEntry(
            record=Alignment, key=key, unit="", unit_at=_of_level, symbol=symbol, inputs=_curves, checks=_ALIGNED,
            meaning=meaning, formula=Sought("level of the least squared difference", _SENT), off=_NOISE,
            method="Found together with the delay; 1 and 0 where the level was left alone.",
        )
        for key, symbol, meaning in (("gain", _GAIN, "By how much the measured level is larger."),
                                     ("offset", _OFFSET, "By how much the measured level is shifted."))
    ),
    *(
        AnswerEntry(
            record=CurveDifference, key=key, unit="", unit_at=_of_curve, symbol=Symbol("d", sub), inputs=_curves,
            meaning=meaning, formula=Sought(how, _SENT), checks=_DIFFERENCE, off="as the measurement",
            method="Of the measured curve as aligned less the model's, at every point of the common axis.",
        )
        for key, sub, how, meaning in (
            ("rms", "rms", "root mean square of measured − model", "Root mean square of the difference."),
            ("mean", "mean", "mean of measured − model", "Mean of the difference."),
            ("worst", "worst", "largest of measured − model by size", "The largest difference, with its sign."),
            ("worst_at", "x", "where it is largest", "Where on the axis the difference is largest."),
        )
    ),
    AnswerEntry(record=OverlayFigure, key="measured", unit="", unit_at=_of_figure, symbol=_SEEN, inputs=_measured,
                meaning="The figure as it was measured.", checks=_EYE, off="as the measurement"),
    AnswerEntry(record=OverlayFigure, key="model", unit="", unit_at=_of_figure, symbol=_MODEL, inputs=_modelled,
                meaning="The same figure of the lane.", checks=_EYE, off="as the lane's own figure"),
    AnswerEntry(record=OverlayFigure, key="apart", unit="", unit_at=_of_figure, symbol=Symbol("d"), inputs=_apart,
                meaning="What was measured less the model's.", formula=_SEEN - _MODEL, checks=_EYE,
                off="as the measurement"),
)  # fmt: skip
