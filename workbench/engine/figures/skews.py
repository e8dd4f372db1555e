"""Entries of what a pair's legs differ by and of what turns into the common mode."""

from workbench.board.model import Run, Stage
from workbench.engine.figures.entry import At, Check, ExplainedLane, FigureEntry, FigureInput, of_figure
from workbench.engine.figures.expression import Sought, Symbol
from workbench.engine.figures.losses import NYQUIST, places_of_span

SKEWS, LONGER = Symbol("τ", indexed=True), Symbol("m", indexed=True)
SKEW, TAKEN, CONVERSION = Symbol("τ"), Symbol("L", "c"), Symbol("C")

_SKEW = "tests/engine/test_skew.py::"
_LEGS = Check(_SKEW + "test_legs_that_do_not_couple_are_two_circuits", "each leg a circuit of its own", "1e-10")
_COUPLED = Check(_SKEW + "test_a_coupled_pair_is_both_its_conductors", "chain matrices of both conductors", "1e-9")
_SINE = Check(_SKEW + "test_ten_picoseconds_lose_and_convert_what_cosine_and_sine_say", "cosine and sine by hand",
              "0.06 dB")  # fmt: skip
_MODES = (
    "Both modes of each element as waves, put in a row; a skew turns one into the other. Legs whose common mode is not "
    "known count as two lines that don't couple."
)
_HOLDS = "where the legs' common mode is known, or they couple loosely"


def _stated(case: ExplainedLane, at: At) -> list[FigureInput]:
    """Nyquist, and the skew and mismatch of each element of the span, as the board states them."""
    told = case.found.skew[at[0]]
    number = next(n for n, span in enumerate(case.plan.spans) if (span.from_, span.to) == (told.from_, told.to))
    places = places_of_span(case, number)
    elements = [case.lane.path[place] for place in places]
    where = ", ".join(f"lanes/{case.lane.name}/element {place + 1}" for place in places)
    skews = tuple(one.skew_s for one in elements if not isinstance(one, Stage))
    longer = tuple(one.mismatch_m if isinstance(one, Run) else 0.0 for one in elements)
    return [
        of_figure(case, NYQUIST, "Nyquist frequency", "Hz", "nyquist_hz"),
        FigureInput(symbol=SKEWS.name, meaning="stated skew of each element", value=skews, unit="s", origin="board",
                    where=where),
        FigureInput(symbol=LONGER.name, meaning="how much longer each positive leg is", value=longer, unit="m",
                    origin="board", where=where),
    ]  # fmt: skip


_FROM = (SKEWS, LONGER, NYQUIST)

FIGURES = (
    FigureEntry(
        key="skew[].skew_s", unit="s", symbol=SKEW, inputs=_stated, holds=_HOLDS,
        meaning="By how much the positive leg of a span's pair is later than the negative one, measured networks too.",
        formula=Sought("slope of the phase between the legs", _FROM), method=_MODES,
        off="in tightly coupled legs a leg driven alone has no delay of its own",
        checks=(_LEGS, Check(_SKEW + "test_the_skew_told_is_the_one_stated", "the skew that was stated", "0.2 %")),
    ),
    FigureEntry(
        key="skew[].loss_db", unit="dB", symbol=TAKEN, inputs=_stated, holds=_HOLDS, method=_MODES,
        meaning="What of the signal at Nyquist has gone into the common mode by the span's end.",
        formula=Sought("10 log10(1 + |SCD21|² / |SDD21|²)", _FROM), off="as the skew", checks=(_SINE, _COUPLED),
    ),
    FigureEntry(
        key="skew[].conversion_loss_db", unit="dB", symbol=CONVERSION, inputs=_stated, holds=_HOLDS, method=_MODES,
        meaning="The least conversion loss of a span up to Nyquist: how far below a differential wave the common mode "
                "lies that it leaves at the other end.",
        formula=Sought("−20 log10 |SCD21|", _FROM), off="as the skew", checks=(_SINE, _LEGS),
    ),
    FigureEntry(
        key="skew[].at_hz", unit="Hz", symbol=Symbol("f", "C"), inputs=_stated, holds=_HOLDS, method=_MODES,
        meaning="Where that is.", formula=Sought("where |SCD21| is largest", _FROM),
        off="1/128 of Nyquist", checks=(_SINE,),
    ),
)  # fmt: skip
