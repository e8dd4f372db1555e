"""What may vary and how far: typed, from a file, found on the board; corners against boards edited by hand."""

import itertools

import pytest
from msgspec.structs import replace

from tests.lanes import lane_board
from tests.studies.boards import section, with_lanes
from workbench.board.edits.bundles import lay_side_by_side
from workbench.board.edits.changes import changed
from workbench.board.library import starter_catalogues
from workbench.board.model import Component, Run
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.measured.fit.fields import Free, field_of, fittable
from workbench.parts.lines.foil import Foil, Smooth
from workbench.parts.lines.microstrip import MicrostripPair
from workbench.parts.lines.stripline import StriplinePair
from workbench.studies.figures import figures_of_assessment
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.variation.corners import corners_study
from workbench.studies.variation.tolerances import Tolerance, read_tolerances, tolerance_from_text, variation_of
from workbench.studies.variation.varying import WORDS, number_at, spots_of
from workbench.studies.variation.widths import impedance_ohm

BOARD = with_lanes(section(), "D0", "D1", "D3")
ALONE = Effort(workers=1)


def typed(*texts):
    return tuple(map(tolerance_from_text, texts))


def in_section(board, section_name, name, **values):
    """The board with fields of an entry set by hand."""
    entries = tuple(replace(e, **values) if e.name == name else e for e in getattr(board.catalogue, section_name))
    return replace(board, catalogue=replace(board.catalogue, **{section_name: entries}))


def margins(board, *lanes):
    found = assess_board(board, sha256="", lanes=lanes).lanes
    return [figures_of_assessment(lane, board.guard).margin_guards for lane in found]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("impedance=±10%", Tolerance(on="impedance", low=-0.1, high=0.1)),
        ("impedance = 10 %", Tolerance(on="impedance", low=-0.1, high=0.1)),
        ("loss=-5%..+10%", Tolerance(on="loss", low=-0.05, high=0.1)),
        ("boost:U1=+-1 dB uniform", Tolerance(on="boost:U1", low=-1.0, high=1.0, unit="dB", distribution="uniform")),
        ("length=±2% per lane", Tolerance(on="length", low=-0.02, high=0.02, together="lane")),
        ("noise=30% uniform per  layer",
         Tolerance(on="noise", low=-0.3, high=0.3, distribution="uniform", together="layer")),
        ("vias:a=b:stub_m=-0.1 mm..4 mil", Tolerance(on="vias:a=b:stub_m", low=-1e-4, high=1.016e-4, unit="m")),
    ],
)  # fmt: skip
def test_a_tolerance_reads_as_it_is_typed(text, expected):
    assert tolerance_from_text(text) == expected


@pytest.mark.parametrize(
    "text", ["", "impedance", "=10%", "impedance=", "impedance=ten", "impedance=1 dB..5%", "loss=10% per card",
             "loss=10% sometimes", "loss=5 parsec"],
)  # fmt: skip
def test_what_is_no_tolerance_is_one_sentence(text):
    with pytest.raises(StudyError, match="is not a tolerance; write WHAT=RANGE") as caught:
        tolerance_from_text(text)
    assert "\n" not in str(caught.value)


def test_a_file_holds_tolerances_and_what_is_none_is_one_sentence(tmp_path):
    path = tmp_path / "tolerances.json"
    path.write_text('{"tolerances": [{"on": "loss", "low": -0.1, "high": 0.1, "together": "layer"}]}')
    assert read_tolerances(path) == (Tolerance(on="loss", low=-0.1, high=0.1, together="layer"),)
    path.write_text('{"tolerances": [{"on": "loss", "lo": -0.1}]}')
    with pytest.raises(StudyError, match="holds no tolerances"):
        read_tolerances(path)
    with pytest.raises(StudyError, match="can't be read"):
        read_tolerances(tmp_path / "none.json")


@pytest.mark.campaign
def test_the_worst_corner_is_the_worst_of_boards_edited_by_hand():
    tolerances = typed("loss:lossy=±15%", "impedance:edge=±10 ohm", "swing=-20%..+5%")
    answer = corners_study(Basis(board=BOARD), tolerances, lanes=("D1",), effort=ALONE)
    by_hand = {}
    for corner in itertools.product((-0.15, 0.15), (-10.0, 10.0), (-0.2, 0.05)):
        loss, ohm, swing = corner
        board = in_section(
            BOARD, "lines", "lossy", conductor_loss_db_per_m=7.0 * (1.0 + loss),
            dielectric_loss_db_per_m=6.0 * (1.0 + loss),
        )  # fmt: skip
        board = in_section(board, "connectors", "edge", impedance_ohm=92.0 + ohm)
        board = in_section(board, "transmitters", "host", swing_v=1.0 + swing)
        by_hand[corner] = margins(board, "D1")[0]
    found = {one.deviations: one.lanes[0].margin_guards for one in answer.corners[1:]}
    assert found == pytest.approx(by_hand, rel=1e-9)
    lane = answer.lanes[0]
    assert lane.worst.margin_guards == pytest.approx(min(by_hand.values()))
    assert lane.nominal.margin_guards == margins(BOARD, "D1")[0]
    assert "loss:lossy +15 %, impedance:edge" in lane.worst_at
    assert "impedance:edge -10 ohm (82 ohm)" in lane.worst_at or "impedance:edge +10 ohm (102 ohm)" in lane.worst_at
    # By hand: the mean over the corners where the loss is high less that where it is low.
    high, low = (sum(m for c, m in by_hand.items() if c[0] == end) / 4.0 for end in (0.15, -0.15))
    assert lane.effect_guards[0] == pytest.approx(high - low)


@pytest.mark.campaign
def test_one_at_a_time_leaves_the_others_as_they_are():
    answer = corners_study(Basis(board=BOARD), typed("loss=±10%", "noise=±50%"), every=False, effort=ALONE)
    assert [corner.deviations for corner in answer.corners] == [
        (0.0, 0.0), (-0.1, 0.0), (0.1, 0.0), (0.0, -0.5), (0.0, 0.5)
    ]  # fmt: skip


def test_copper_loss_goes_with_the_root_of_resistivity():
    foil = section()  # the foil's share is held in the numbers: conductivity falls with the square of the factor
    board = replace(foil, catalogue=replace(foil.catalogue, foils=()))
    spots = variation_of(board, typed("copper loss=±10%"), ("D0",)).factors[0].spots
    assert {spot.path for spot in spots} == {("conductor_loss_db_per_m",)}
    assert any(field.section == "foils" and field.power == -2.0 for field in WORDS["copper loss"])


@pytest.mark.campaign
def test_what_is_on_one_device_leaves_the_same_part_elsewhere_alone():
    answer = corners_study(Basis(board=BOARD), typed("boost:U1=±1 dB"), every=False, effort=ALONE)
    by_lane = {lane.lane: lane for lane in answer.lanes}
    assert by_lane["D3"].worst == by_lane["D3"].best == by_lane["D3"].nominal
    part = BOARD.catalogue.conditioners[0]
    stronger = tuple(replace(p, boost_db=p.boost_db + 1.0) for p in part.equalization)
    expected = margins(in_section(BOARD, "conditioners", "linear", equalization=stronger), "D1")[0]
    found = {corner.deviations: corner.lanes[1].margin_guards for corner in answer.corners}
    assert found[1.0,] == pytest.approx(expected)


def test_several_tolerances_on_one_number_act_together():
    variation = variation_of(BOARD, typed("loss=±10%", "copper loss=±20%", "lines/lossy/length_m=1%")[:2], ("D0",))
    board = changed(variation.board, variation.changes((0.1, 0.2)))
    line = next(one for one in board.catalogue.lines if one.name == "lossy")
    assert line.conductor_loss_db_per_m == pytest.approx(7.0 * 1.1 * 1.2)
    assert line.dielectric_loss_db_per_m == pytest.approx(6.0 * 1.1)


def test_layers_vary_apart_and_lengths_by_their_line():
    factors = variation_of(BOARD, typed("impedance=±10% per layer", "length=±1%"), ("D0",)).factors
    assert [factor.label for factor in factors] == ["impedance of lossy", "impedance of edge", "length"]
    board = changed(BOARD, variation_of(BOARD, typed("length:lossy=±1%"), ("D0",)).changes((0.01,)))
    assert board.lanes[0].length_m == pytest.approx(1.01 * BOARD.lanes[0].length_m)
    assert board.lanes[1] == BOARD.lanes[1]


@pytest.mark.parametrize("path", fittable(BOARD))
def test_a_path_into_the_catalogue_is_the_same_one_for_fits_and_for_tolerances(path):
    """What a fit frees by a path is the number that a tolerance varies by it."""
    field = field_of(BOARD, Free(path))
    _, spots = spots_of(BOARD, path)
    assert [(spot.section, spot.name, spot.path) for spot in spots] == [(field.section, field.entry, field.names)]
    assert number_at(BOARD, spots[0]) == field.value
    assert spots[0].unit == field.fact.unit


def test_a_name_with_a_slash_is_found_by_the_longest_name_that_fits():
    lossy = next(line for line in BOARD.catalogue.lines if line.name == "lossy")
    lines = (*BOARD.catalogue.lines, replace(lossy, name="lossy/inner"))
    board = replace(BOARD, catalogue=replace(BOARD.catalogue, lines=lines))
    _, spots = spots_of(board, "lines/lossy/inner/impedance_ohm")
    assert [(spot.name, spot.path) for spot in spots] == [("lossy/inner", ("impedance_ohm",))]


def test_a_star_stands_for_every_name():
    _, spots = spots_of(BOARD, "lines/*/impedance_ohm")
    assert [spot.name for spot in spots] == [line.name for line in BOARD.catalogue.lines if has_impedance(line)]


def has_impedance(line):
    return isinstance(getattr(line, "impedance_ohm", None), float)


@pytest.mark.parametrize("deviation", [-0.1, 0.05, 0.1])
@pytest.mark.parametrize("kind", [StriplinePair, MicrostripPair])
def test_the_impedance_of_a_cross_section_varies_by_its_width(kind, deviation):
    """The varied board's line has the impedance that was asked for, by its own model."""
    heights = {"below_m": 1.5e-4, "above_m": 2e-4} if kind is StriplinePair else {"height_m": 1e-4}
    made_of = {"name": "lossy", "dielectric": "laminate", "foil": "foil"}
    line = kind(**made_of, width_m=1.1e-4, gap_m=1.6e-4, thickness_m=3e-5, **heights)
    others = tuple(one for one in BOARD.catalogue.lines if one.name != "lossy")
    foils = (Foil(name="foil", conductivity_s_per_m=5.8e7, roughness=Smooth()),)
    board = replace(BOARD, catalogue=replace(BOARD.catalogue, lines=(*others, line), foils=foils))
    variation = variation_of(board, typed("impedance:lossy=±10%"), ("D0",))
    varied = changed(board, variation.changes((deviation,)))
    now = next(one for one in varied.catalogue.lines if one.name == "lossy")
    assert impedance_ohm(varied, now) == pytest.approx((1.0 + deviation) * impedance_ohm(board, line), rel=0.01)
    assert "width " in variation.told(variation.factors[0], deviation)


@pytest.mark.parametrize(
    ("texts", "sentence"),
    [
        ((), "no tolerance is declared"),
        (("loss=10%..10%",), "runs from 0.1 to 0.1, which is empty"),
        (("loss=10%..-10%",), "runs from 0.1 to -0.1, which is empty; write the smaller deviation first"),
        (("lose=10%",), 'nothing is known as "lose"'),
        (("loss:silk=10%",), 'there is no "silk" to vary'),
        (("lines/silk/impedance_ohm=10%",), 'there is no "silk" among the lines'),
        (("lines/lossy/colour=10%",), 'there is no number "colour"'),
        (("lines/lossy=10%",), 'there is no number ""'),
        (("lines/lossy/impedance_ohm/*=10%",), 'there is no number "impedance_ohm/\\*"'),
        (("lines:lossy:impedance_ohm=10%",), 'has slashes; write "lines/lossy/impedance_ohm"'),
        (("devices:U1=10%",), 'has slashes; write "devices/U1/FIELD"'),
        (("boost:host=10%",), '"host" has no boost that could vary'),
        (("devices/U7/input_noise_v=10%",), 'there is no device "U7"'),
        (("length:silk=10%",), 'no run is made of "silk"'),
        (("boost=±1 ohm",), "is in ohm, which its values are not"),
        (("loss=±1 dB",), "is in dB, which its values are not"),
        (("impedance:twinax=10%",), '"impedance:twinax" is in none of the lanes'),
        (("impedance=-100%..5%",), 'at -100 %, the tolerance on "impedance" makes an impossible board'),
        (("loss=10%", "noise=10%", "length=1%"), "this takes 27 assessments"),
    ],
)
def test_what_cannot_vary_so_is_one_sentence(texts, sentence):
    with pytest.raises(StudyError, match=sentence) as caught:
        corners_study(Basis(board=BOARD), typed(*texts), limit=26, effort=ALONE)
    assert "\n" not in str(caught.value)


def test_an_unknown_lane_is_one_sentence():
    with pytest.raises(StudyError, match='there is no lane "D9"'):
        corners_study(Basis(board=BOARD), typed("loss=10%"), lanes=("D9",), effort=ALONE)


@pytest.mark.campaign
def test_the_gap_between_neighbours_varies_and_a_wider_one_is_better():
    """Outer pairs 0.3 mm apart: the wide corner has less crosstalk, the narrow one more."""
    near = two_near_lanes(3e-4)
    answer = corners_study(Basis(board=near), typed("gap=±20%"), lanes=("B",), effort=ALONE)
    (lane,) = answer.lanes
    by_hand = [
        next(one for one in assess_board(two_near_lanes(gap_m), sha256="").lanes if one.lane == "B")
        for gap_m in (2.4e-4, 3e-4, 3.6e-4)
    ]
    heights = [one.eye.height_v for one in by_hand]
    assert heights == sorted(heights)
    assert lane.worst.height_v == pytest.approx(heights[0], abs=1e-9)
    assert lane.nominal.height_v == pytest.approx(heights[1], abs=1e-9)


@pytest.mark.parametrize("on", ["skew", "skew:lossy"])
def test_the_skew_of_a_pair_varies_to_both_sides(on):
    base = lane_board((Run(line="lossy", length_m=0.3, skew_s=5e-12), Component(part="edge")))
    answer = corners_study(Basis(board=base), typed(f"{on}=±40 ps"), effort=ALONE)
    heights = [
        assess_board(lane_board((Run(line="lossy", length_m=0.3, skew_s=skew_s), Component(part="edge"))), sha256="")
        .lanes[0].eye.height_v for skew_s in (-3.5e-11, 5e-12, 4.5e-11)
    ]  # fmt: skip
    assert {round(one.lanes[0].height_v, 9) for one in answer.corners} == {round(height_v, 9) for height_v in heights}
    assert answer.lanes[0].worst.height_v == pytest.approx(heights[2], abs=1e-9)


def two_near_lanes(gap_m):
    """Two equal lanes over an outer layer, side by side."""
    taken = starter_catalogues()["mid-loss-board"].catalogue
    line = next(one for one in taken.lines if type(one).__name__ == "MicrostripPair")
    base = lane_board((Run(line="trace", length_m=0.2),))
    catalogue = replace(
        base.catalogue, lines=(*base.catalogue.lines, line), foils=taken.foils,
        dielectrics=(*base.catalogue.dielectrics, *taken.dielectrics),
    )  # fmt: skip
    lanes = tuple(replace(base.lanes[0], name=name, path=(Run(line=line.name, length_m=0.2),)) for name in "AB")
    return lay_side_by_side(replace(base, catalogue=catalogue, lanes=lanes), line.name, gap_m=gap_m)
