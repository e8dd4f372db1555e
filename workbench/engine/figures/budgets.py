"""Entries of the height's budget: what the main cursor gives, what takes from it, and the remainder by name."""

from collections.abc import Callable

from workbench.engine.figures.entry import At, Check, ExplainedLane, FigureEntry, FigureInput, of_figure, on_the_way
from workbench.engine.figures.expression import Apply, Constant, Expression, Symbol, Total
from workbench.engine.figures.eyes import HEIGHT, MAIN, OTHERS
from workbench.engine.figures.pulses import NOISE
from workbench.engine.verdict.measures import quantile, worst_cursors_v

GIVEN, PATTERN, NOISY, BESIDE, REST = (Symbol("h", sub) for sub in ("main", "ISI", "noise", "beside", "rest"))
ALONE, TIMES = Symbol("h", "alone"), Symbol("Q")
PARTS = ("main_v", "intersymbol_v", "noise_v", "neighbours_v")


def budget_values(case: ExplainedLane) -> dict[str, float]:
    """The parts of the budget, V; their sum with the remainder is the height."""
    main_v, others_v = worst_cursors_v(case.observed)
    height_v, crosstalk = case.found.eye.height_v, case.found.crosstalk
    parts = {
        "main_v": 2.0 * main_v,
        "intersymbol_v": -2.0 * sum(abs(float(one)) for one in others_v),
        "noise_v": -2.0 * quantile(case.found.eye.ber) * case.observed.received.noise_v,
        "neighbours_v": 0.0 if crosstalk is None else height_v - crosstalk.height_v_without,
    }
    return {**parts, "remainder_v": height_v - sum(parts.values())}


def _main(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    main_v, _ = worst_cursors_v(case.observed)
    return [on_the_way(MAIN, "main cursor", main_v, "V", _PHASE)]


def _others(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    _, others_v = worst_cursors_v(case.observed)
    loudest = tuple(sorted((float(one) for one in others_v), key=abs, reverse=True))
    return [on_the_way(OTHERS, "all other cursors, feedback taken off, largest first", loudest, "V", _PHASE)]


def _noise(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [
        on_the_way(TIMES, "sigmas exceeded at the BER", quantile(case.found.eye.ber), "", "eye.ber"),
        on_the_way(NOISE, "noise where the receiver decides, rms", case.observed.received.noise_v, "V",
                   "the receiver's noise and the conditioners', through all that follows"),
    ]  # fmt: skip


def _beside(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    height = of_figure(case, HEIGHT, "height with all neighbours", "V", "eye.height_v")
    if case.found.crosstalk is None:
        return [height, on_the_way(ALONE, "no lane lies beside it", case.found.eye.height_v, "V", "eye.height_v")]
    return [height, of_figure(case, ALONE, "height without them", "V", "crosstalk.height_v_without")]


def _rest(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    names = zip(PARTS, (GIVEN, PATTERN, NOISY, BESIDE), strict=True)
    return [
        of_figure(case, HEIGHT, "height of the eye", "V", "eye.height_v"),
        *(of_figure(case, symbol, words, "V", f"height_budget.{part}")
          for (part, symbol), words in zip(names, _WORDS, strict=True)),
    ]  # fmt: skip


_WORDS = ("the main cursor's", "the worst pattern's", "the noise's", "the neighbours'")
_PHASE = "the pulse, at the phase whose worst case is best"
_ADDS = Check("tests/engine/figures/test_figures.py::test_a_height_budget_adds_up_with_the_remainder_named",
              "the sum of the parts by hand", "floating point")  # fmt: skip
_TWICE, _MINUS_TWICE = Constant(2.0), Constant(-2.0)


Inputs = Callable[[ExplainedLane, At], list[FigureInput]]


def _part(key: str, meaning: str, *, equals: tuple[Symbol, Expression], inputs: Inputs, off: str) -> FigureEntry:
    symbol, formula = equals
    return FigureEntry(
        key=f"height_budget.{key}", unit="V", symbol=symbol, meaning=meaning, formula=formula, inputs=inputs, off=off,
        checks=(_ADDS,),
    )  # fmt: skip


FIGURES = (
    _part("main_v", "What the main cursor would open, alone.", equals=(GIVEN, _TWICE * MAIN), inputs=_main,
          off="as the pulse"),
    _part("intersymbol_v", "What the worst pattern of all other symbols takes.", inputs=_others, off="as the pulse",
          equals=(PATTERN, _MINUS_TWICE * Total(Apply("abs", OTHERS)))),
    _part("noise_v", "What the noise takes at the BER.", equals=(NOISY, _MINUS_TWICE * TIMES * NOISE),
          inputs=_noise, off="as the noise that is stated"),
    _part("neighbours_v", "What the lanes beside it take.", equals=(BESIDE, HEIGHT - ALONE), inputs=_beside,
          off="as the height"),
    _part("remainder_v",
          "What is left over: the worst pattern is rarer than the BER (positive), jitter moves edges, and the "
          "sampling instant is not that of the best worst case (negative).",
          equals=(REST, HEIGHT - (GIVEN + PATTERN + NOISY + BESIDE)), inputs=_rest, off="as the height"),
)  # fmt: skip
