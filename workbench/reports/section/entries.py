"""How the figures of a cross-section came about."""

from itertools import product

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, of_field, on_the_way
from workbench.engine.figures.expression import Apply, Binary, Constant, Expression, Sought, Symbol
from workbench.parts.record import Parts, RunRecord
from workbench.parts.section.figures import SPEED_OF_LIGHT_M_PER_S, coupling, differential
from workbench.parts.section.kept import solved
from workbench.parts.section.neighbours import beside as section_beside
from workbench.reports.section.figures import SectionDimensions, SectionFigures, cross_section_of, materials_of

_REFERENCE = "tests/reference/neighbours/test_section.py::"
_COHN = Check(_REFERENCE + "test_a_thin_pair_between_planes_is_cohns", "S. B. Cohn, 1955, conformal mapping",
              "0.05 %")  # fmt: skip
_MOMENTS = Check(_REFERENCE + "test_a_thick_pair_between_planes_is_the_moment_methods",
                 "a moment method of the tests' own", "0.03 %")  # fmt: skip
_SLAB = Check(_REFERENCE + "test_a_thin_pair_on_a_slab_is_silvesters_and_near_kirschning_and_jansens",
              "P. Silvester, 1968; M. Kirschning, R. H. Jansen, 1984", "0.1 %, 0.6 %")  # fmt: skip
_ELEMENTS = Check(_REFERENCE + "test_finite_elements_have_the_same_matrix", "finite elements of the tests' own",
                  "0.3 % of the largest")  # fmt: skip
_SQUARES = Check(_REFERENCE + "test_squares_are_the_growth_of_inductance_as_metal_recedes",
                 "H. A. Wheeler, 1942", "0.5 %")  # fmt: skip
_LOSS = Check(_REFERENCE + "test_dielectric_loss_in_two_resins_lies_between_that_of_each", "each resin alone",
              "between both")  # fmt: skip
_FAR = Check(_REFERENCE + "test_between_planes_coupling_falls_as_the_lowest_mode_does", "the lowest mode's decay",
             "0.2 %")  # fmt: skip
_OUTER = Check(_REFERENCE + "test_on_an_outer_layer_coupling_falls_as_a_power_and_goes_forward", "image charges' power",
               "0.1 dB, 0.1 ps/m")  # fmt: skip
_PUBLISHED = Check(_REFERENCE + "test_a_solved_line_goes_over_into_the_published_one", "the published formulas",
                   "2 %, loss 5 %")  # fmt: skip
_ALONE = Check("tests/reports/test_section.py::test_a_pair_alone_has_the_moment_methods_impedances",
               "a moment method of the tests' own", "0.05 %")  # fmt: skip
_STATED = Check("tests/reports/test_section.py::test_as_text_it_names_its_figures", "what was asked for", "exact")
_RANGE = "a cross-section that can be solved; permittivities as the catalogue states them"
_FINER = "0.01 to 0.05 % against far finer meshes"
_BOUNDARY = "Boundary elements with total charge on metal and borders of dielectrics."
_WIDTH, _GAP, _HIGH, _EPS = Symbol("w"), Symbol("s"), Symbol("t"), Symbol("ε")
_F, _L, _C, _R, _G = Symbol("f"), Symbol("L", indexed=True), Symbol("C", indexed=True), Symbol("R"), Symbol("G")
_KL, _KC = Symbol("k", "L"), Symbol("k", "C")
_SLOW, _LIGHT, _HALF = Symbol("τ"), Symbol("c", "0"), Constant(0.5)


def _entries_of(matrix: str) -> dict[str, Symbol]:
    """The four numbers of the first pair's own matrix, by their places."""
    return {f"[{row}][{column}]": Symbol(matrix, f"{row + 1}{column + 1}") for row, column in product((0, 1), (0, 1))}


_CS, _LS = _entries_of("C"), _entries_of("L")
_MATRIX = {"C": ("capacitance_f_per_m", "F/m", _CS), "L": ("inductance_h_per_m", "H/m", _LS)}


def _signed(of: dict[str, Symbol], sign: str) -> Expression:
    """The sum of a pair's own numbers, its mutual ones with a sign."""
    mutual, back = of["[0][1]"], of["[1][0]"]
    first = Binary(sign, of["[0][0]"], mutual)
    return Binary(sign, first, back) + of["[1][1]"]


_LOOP, _TOGETHER = _signed(_LS, "-"), _signed(_LS, "+") / Constant(4.0)
_ACROSS, _ALL = _signed(_CS, "-") / Constant(4.0), _signed(_CS, "+")


def _numbers(spot: Spot) -> list[FigureInput]:
    return [
        at_path(spot, symbol, "of the pair's matrix", unit, f"{field}{place}")
        for field, unit, several in _MATRIX.values() for place, symbol in several.items()
    ]  # fmt: skip


def _parts(spot: Spot) -> tuple[RunRecord, Parts]:
    line, parts = spot.whole.given
    return line, parts


def _dimensions(spot: Spot) -> list[FigureInput]:
    line, parts = _parts(spot)
    section = cross_section_of(line, parts)
    dielectrics, _ = materials_of(parts, section)
    return [
        at_path(spot, _WIDTH, "width of a trace's foot", "m", "dimensions.width_m"),
        at_path(spot, _GAP, "gap in the pair", "m", "dimensions.gap_m"),
        at_path(spot, _HIGH, "thickness", "m", "dimensions.thickness_m"),
        *(of_field(_EPS, "dielectrics", one, "permittivity") for one in dielectrics[:1]),
    ]


def _with_light(spot: Spot) -> list[FigureInput]:
    light = input_from(_LIGHT, "speed of light", SPEED_OF_LIGHT_M_PER_S, "m/s", origin="program", where="by definition")
    return [*_numbers(spot), light]


def _at_frequency(spot: Spot) -> list[FigureInput]:
    line, parts = _parts(spot)
    dielectrics, foil = materials_of(parts, cross_section_of(line, parts))
    return [
        beside(spot, _F, "frequency", "Hz", "frequency_hz"),
        *_dimensions(spot),
        *(of_field(Symbol("tan δ"), "dielectrics", one, "loss_tangent") for one in dielectrics[:1]),
        of_field(Symbol("σ"), "foils", foil, "conductivity_s_per_m"),
    ]


def _loss(spot: Spot) -> list[FigureInput]:
    return [*_at_frequency(spot), beside(spot, Symbol("Z", "d"), "differential impedance", "ohm",
                                         "differential_impedance_ohm")]  # fmt: skip


def _coupled(spot: Spot) -> list[FigureInput]:
    line, parts = _parts(spot)
    gap_m = spot.whole.answer.dimensions.neighbour_gap_m
    solution = solved(section_beside(cross_section_of(line, parts), gap_m=gap_m))
    found, mode = coupling(solution), differential(solution)
    where = "the matrices of both pairs"
    return [
        on_the_way(_KL, "mutual over own inductance", found.inductive, "", where),
        on_the_way(_KC, "less the mutual over own capacitance", found.capacitive, "", where),
        on_the_way(_SLOW, "delay of the differential mode", mode.slowness_s_per_m, "s/m", where),
    ]


def _from_line(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    line, _ = _parts(spot)
    if spot.field == "neighbour_gap_m":
        return [input_from(_GAP, "as asked for", spot.value, "m", origin="asked", where="--gap")]
    if hasattr(line, spot.field):
        return [of_field(Symbol("l"), "lines", line, spot.field)]
    return [input_from(Symbol("l"), "of the line's outline", spot.value, "m", origin="intermediate", where=line.name)]


def _matrix(key: str, unit: str, symbol: Symbol, what: str, *, over_frequency: bool) -> AnswerEntry:
    sent = (_F, _WIDTH, _GAP, _HIGH, _EPS) if over_frequency else (_WIDTH, _GAP, _HIGH, _EPS)
    return AnswerEntry(
        record=SectionFigures, key=key, unit=unit, symbol=symbol, holds=_RANGE, off=_FINER,
        meaning=f"{what} of all traces per metre, traces from left to right.",
        formula=Sought("charges and fields of all traces", sent), method=_BOUNDARY,
        inputs=_at_frequency if over_frequency else _dimensions,
        checks=(_SQUARES, _LOSS) if over_frequency else (_COHN, _MOMENTS, _ELEMENTS),
    )  # fmt: skip


SECTION_ENTRIES: tuple[AnswerEntry, ...] = (
    stated(SectionFigures, "version", "The version of the JSON's form.", origin="program", where="reports",
           checks=(_STATED,)),
    *(
        AnswerEntry(record=SectionDimensions, key=key, unit="m", symbol=Symbol("l"), inputs=_from_line,
                    meaning=meaning, checks=(_STATED,), off="exact: it is stated")
        for key, meaning in (
            ("width_m", "Width of a trace's foot."), ("gap_m", "Gap between a pair's feet."),
            ("thickness_m", "Thickness of a trace."), ("etch_m", "By how much a trace is narrower at its top."),
            ("neighbour_gap_m", "Distance to the second pair, foot to foot."),
        )
    ),
    AnswerEntry(
        record=SectionFigures, key="differential_impedance_ohm", unit="ohm", symbol=Symbol("Z", "d"),
        formula=Apply("sqrt", _LOOP / _ACROSS), inputs=_numbers, holds=_RANGE, off=_FINER,
        meaning="Lossless impedance of the pair's differential mode, V1 − V2 over (I1 − I2) / 2.",
        checks=(_COHN, _MOMENTS, _SLAB, _ALONE),
    ),
    AnswerEntry(
        record=SectionFigures, key="common_impedance_ohm", unit="ohm", symbol=Symbol("Z", "c"),
        formula=Apply("sqrt", _TOGETHER / _ALL), inputs=_numbers, holds=_RANGE, off=_FINER,
        meaning="Lossless impedance of the pair's common mode, (V1 + V2) / 2 over I1 + I2.",
        checks=(_COHN, _MOMENTS, _ALONE),
    ),
    AnswerEntry(
        record=SectionFigures, key="effective_permittivity", unit="", symbol=Symbol("ε", "eff"),
        formula=_LOOP * _ACROSS * _LIGHT * _LIGHT, inputs=_with_light, holds=_RANGE, off=_FINER,
        meaning="Square of the light's speed over that of the differential mode.", checks=(_SLAB, _MOMENTS),
    ),
    _matrix("capacitance_f_per_m", "F/m", Symbol("C"), "Capacitance", over_frequency=False),
    _matrix("inductance_h_per_m", "H/m", Symbol("L"), "Inductance", over_frequency=False),
    _matrix("resistance_ohm_per_m", "ohm/m", _R, "Resistance at that frequency", over_frequency=True),
    _matrix("conductance_s_per_m", "S/m", _G, "Conductance at that frequency", over_frequency=True),
    stated(SectionFigures, "frequency_hz", "Where loss, resistance and conductance are told.", unit="Hz", symbol="f",
           origin="asked", where="--frequency, or Nyquist of the board's profile", checks=(_STATED,),
           off="exact: it is asked for"),
    AnswerEntry(
        record=SectionFigures, key="loss_db_per_m", unit="dB/m", symbol=Symbol("a"), inputs=_loss, holds=_RANGE,
        meaning="Attenuation of the pair's differential mode at that frequency.",
        formula=Sought("20 lg e · Re √((R + jωL)(G + jωC))", (_F, Symbol("Z", "d"))),
        method="Series and shunt constants of the pair over frequency: skin effect by squares of the current, "
               "roughness of the foil, dispersion of the dielectrics.",
        checks=(_SQUARES, _LOSS, _PUBLISHED), off="0.5 % of the conductor's part; the catalogue's figures more",
    ),
    AnswerEntry(
        record=SectionFigures, key="backward_coupling", unit="", symbol=Symbol("K", "b"), inputs=_coupled, off=_FINER,
        formula=(_KL + _KC) / Constant(4.0), checks=(_FAR, _OUTER), holds="weak coupling, to first order",
        meaning="The saturated near end of the second pair as a share of what is sent.",
        method="C. R. Paul, Analysis of Multiconductor Transmission Lines.",
    ),
    AnswerEntry(
        record=SectionFigures, key="forward_coupling_s_per_m", unit="s/m", symbol=Symbol("K", "f"), inputs=_coupled,
        formula=_HALF * (_KC - _KL) * _SLOW, checks=(_OUTER,), holds="weak coupling, to first order", off=_FINER,
        meaning="What comes along at the far end, per metre, of the slope of what is sent.",
        method="C. R. Paul, Analysis of Multiconductor Transmission Lines.",
    ),
    AnswerEntry(
        record=SectionFigures, key="line_impedance_ohm", unit="ohm", symbol=Symbol("Z", "line"), inputs=_at_frequency,
        meaning="Real part of the impedance that lanes are computed with, losses included.",
        formula=Sought("√((R + jωL) / (G + jωC)) of the line", (_F, _WIDTH, _GAP)),
        method="By the published formula where nothing asks for the solver, else by the solved section.",
        checks=(_PUBLISHED,), off="as the formula's source states", holds="inside the range of the line's model",
    ),
)  # fmt: skip
