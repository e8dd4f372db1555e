"""Arithmetic after the panes: ticks, contours, openings, colours, shares of text."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtGui import QFontMetricsF

from tests.desk.panes.pane_views import FAR, NEAR, independent_view_of, view_of
from workbench.desk.panes.figures import cut, lens, nearest_ratio, opening_ui, ratio_words, roomy, runs
from workbench.desk.panes.kinds.density import DECADES, STEPS, density_table, shades
from workbench.desk.panes.plot.axes import (
    FONT_POINTS,
    QuantityAxis,
    even_ticks,
    linear_scale,
    log_scale,
    nice,
    number,
    ratio_scale,
    with_unit,
)
from workbench.desk.panes.readout import Readout, ReadoutPiece
from workbench.desk.widgets.theme import DARK, LIGHT, figures_font
from workbench.engine.views import ERROR_RATIOS


def span_of(pair):
    """A range that can be told apart from its own start by more than rounding."""
    low, share = pair
    return low, low + share * (1.0 + abs(low))


SPANS = st.tuples(st.floats(-1e6, 1e6), st.floats(1e-6, 1e3)).map(span_of)


@given(span=SPANS, count=st.integers(2, 12))
def test_ticks_lie_inside_at_even_steps_and_are_never_too_many(span, count):
    low, high = span
    ticks = even_ticks(low, high, count)
    slack = 1e-6 * (high - low) + 1e-9 * abs(low)
    assert len(ticks) <= count + 1
    assert all(low - slack <= tick <= high + slack for tick in ticks)
    steps = np.diff(ticks)
    if steps.size:
        digits = float(f"{steps[0]:.6e}".split("e")[0])
        assert min(abs(digits - one) for one in (1.0, 2.0, 5.0, 10.0)) < 1e-2
        np.testing.assert_allclose(steps, steps[0], rtol=1e-3, atol=1e-9 * abs(low))


def test_labels_have_as_many_decimals_as_their_step_needs():
    scale = linear_scale("mV", 1e3)
    assert scale.labels(scale.ticks(-0.4, 0.4, 4)) == ["−400", "−200", "0", "200", "400"]
    assert scale.labels([0.0, 0.0005, 0.001]) == ["0.0", "0.5", "1.0"]


def test_a_logarithmic_axis_counts_in_ones_twos_and_fives():
    scale = log_scale("GHz", 1e-9)
    ticks = scale.ticks(math.log10(0.09e9), math.log10(6e9), 6)
    assert scale.labels(ticks) == ["0.1", "0.2", "0.5", "1", "2", "5"]
    assert scale.labels(scale.ticks(math.log10(0.09e9), math.log10(6e9), 2)) == ["0.1", "1"]


def test_error_ratios_count_in_threes():
    scale = ratio_scale()
    assert scale.labels(scale.ticks(-18.0, 0.0, 6)) == ["1e-18", "1e-15", "1e-12", "1e-9", "1e-6", "1e-3", "1"]
    assert scale.labels(scale.ticks(-18.0, 0.0, 3)) == ["1e-18", "1e-12", "1e-6", "1"]


def test_the_unit_takes_the_place_of_the_last_number_but_one():
    assert with_unit(["0", "2", "4", "6"], "GHz") == ["0", "2", "GHz", "6"]
    assert with_unit(["0", "1"], "ns") == ["0", "1 ns"]
    assert with_unit(["0.0", "0.5", "1.0"], "UI") == ["0.0", "0.5 UI", "1.0"]
    assert with_unit(["−500", "0", "500"], "mV", 4) == ["−500", "0 mV", "500"]
    assert with_unit(["0", "200", "400"], "mV", 4) == ["0", "mV", "400"]
    assert with_unit(["−4", "−2", "0", "2"], "dB") == ["−4", "dB", "0", "2"]
    assert with_unit(["0", "1", "2"], "") == ["0", "1", "2"]


def test_there_is_no_negative_zero():
    assert number(-0.04, 1) == "0.0"
    assert number(-1.25, 1) == "−1.2"


@given(value=st.floats(1e-12, 1e12))
def test_a_nice_value_is_the_next_one_up(value):
    assert value * (1.0 - 1e-6) <= nice(value) <= 2.5 * value * (1.0 + 1e-6)


@given(span=SPANS)
def test_a_roomy_range_has_its_values_inside_and_little_more(span):
    low, high = span
    room = roomy(low, high)
    assert room.low <= low + 1e-6 * (high - low)
    assert room.high >= high - 1e-6 * (high - low)
    assert room.high - room.low <= 1.7 * (high - low) + 1e-6 * abs(low)


POINTS = st.lists(st.tuples(st.floats(-9.0, 9.0), st.floats(-9.0, 9.0)), min_size=2, max_size=12)
EDGES = (-3.0, 4.0, -2.0, 5.0)


def within(x, y):
    return (EDGES[0] <= x) & (x <= EDGES[1]) & (EDGES[2] <= y) & (y <= EDGES[3])


@given(points=POINTS)
def test_what_is_cut_is_all_of_a_line_that_lies_inside_and_nothing_else(points):
    x, y = (np.array(axis) for axis in zip(*points, strict=True))
    parts = cut(x, y, EDGES)
    for part_x, part_y in parts:
        assert (part_x >= EDGES[0] - 1e-9).all()
        assert (part_x <= EDGES[1] + 1e-9).all()
        assert (part_y >= EDGES[2] - 1e-9).all()
        assert (part_y <= EDGES[3] + 1e-9).all()
    # The length inside, measured by walking along the line in small steps.
    share = (np.arange(4000) + 0.5) / 4000.0
    inside = sum(
        math.hypot(x1 - x0, y1 - y0) * within(x0 + share * (x1 - x0), y0 + share * (y1 - y0)).mean()
        for (x0, y0), (x1, y1) in pairwise(points)
    )
    kept = sum(float(np.hypot(np.diff(part_x), np.diff(part_y)).sum()) for part_x, part_y in parts)
    assert kept == pytest.approx(inside, abs=0.02 * len(points))


def test_a_line_that_is_all_inside_stays_one_piece():
    x = np.linspace(-2.0, 3.0, 50)
    (part,) = cut(x, np.sin(x), EDGES)
    np.testing.assert_allclose(part, (x, np.sin(x)))


def test_a_line_is_joined_as_its_curve_joins_it():
    x, y = np.arange(6.0), np.array([0.0, 1.0, np.nan, 3.0, 4.0, 5.0])
    assert [len(part) for part, _ in runs(x, y, "finite")] == [2, 3]
    assert [list(part) for part, _ in runs(x, x, "pairs")] == [[0.0, 1.0], [2.0, 3.0], [4.0, 5.0]]


def test_a_lens_is_closed_mirrored_and_ends_where_the_opening_does():
    x = np.linspace(0.0, 1.0, 11)
    half = np.minimum(x - 0.25, 0.85 - x)  # a tent from 0.25 to 0.85
    ring_x, ring_y = lens(x, half)
    assert (ring_x[0], ring_y[0]) == (ring_x[-1], ring_y[-1])
    assert (ring_x.min(), ring_x.max()) == pytest.approx((0.25, 0.85))
    assert ring_y.max() == -ring_y.min()


def test_a_lens_in_two_parts_has_a_gap_and_a_closed_one_nothing():
    x = np.linspace(0.0, 1.0, 41)
    ring_x, _ = lens(x, np.sin(4.0 * np.pi * x))
    assert np.isnan(ring_x).sum() == 1
    assert lens(x, np.full(41, -1.0))[0].size == 0
    assert lens(x, np.zeros(41))[0].size == 0


@pytest.mark.campaign
@pytest.mark.parametrize("lane", [NEAR, "RX2"])
def test_the_opening_read_off_a_bathtub_is_the_engines_width(lane):
    eye = view_of(lane).eye
    left, right = opening_ui(eye.bath_ui, eye.bathtub, -12.0)
    assert right - left == pytest.approx(eye.width_ui, abs=0.01)
    assert (left + right) / 2.0 == pytest.approx(eye.sampling_ui, abs=0.01)


@pytest.mark.campaign
def test_a_closed_eye_has_no_opening():
    eye = independent_view_of(FAR).eye
    assert eye.width_ui == 0.0
    assert opening_ui(eye.bath_ui, eye.bathtub, -12.0) is None
    assert opening_ui(eye.bath_ui, eye.bathtub, -3.0) is not None


def test_error_ratios_are_written_and_found():
    assert [ratio_words(ratio) for ratio in (1e-12, 1e-6, 2e-15)] == ["1e-12", "1e-6", "2e-15"]
    assert ERROR_RATIOS[nearest_ratio(1e-12)] == 1e-12
    assert ERROR_RATIOS[nearest_ratio(3e-9)] == 1e-9


def luminance(table):
    """Relative luminance of sRGB bytes, by the definition in WCAG 2.2 (its own linearisation threshold, 0.04045)."""
    rgb = table[:, :3] / 255.0
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_the_density_colours_are_even_to_the_eye_from_the_sheet_on(theme):
    table = density_table(theme)
    assert table.shape == (STEPS, 4)
    assert (table[:, 3] == 255).all()
    # Lightness L* of CIELAB from luminance: CIE 15, Colorimetry.
    lightness = 116.0 * np.cbrt(luminance(table)) - 16.0
    even = np.linspace(lightness[0], lightness[-1], STEPS)
    assert np.abs(lightness - even).max() < 1.0
    assert abs(lightness[-1] - lightness[0]) > 55.0
    sheet = np.array([int(theme.sheet[at : at + 2], 16) for at in (1, 3, 5)])
    assert np.abs(table[0, :3].astype(int) - sheet).max() <= 8


def test_shades_are_the_logarithm_of_the_density():
    decades = np.array([0.0, -1.5, -3.0, -6.0, -9.0])
    found = shades(np.tile(40.0 * 10.0**decades, (5, 1)))
    assert found.shape == (5, 5)
    expected = np.round((STEPS - 1) * np.clip(1.0 + decades / DECADES, 0.0, 1.0))
    np.testing.assert_array_equal(found[0], expected.astype(np.uint8))
    assert (found == found[0]).all()


def test_no_density_at_all_is_the_sheet():
    assert not shades(np.zeros((3, 8))).any()


def test_numbers_on_an_axis_keep_their_distance_and_there_are_enough_of_them(qapp):
    for side, sizes in (("bottom", (150, 250, 530, 1200)), ("left", (110, 190, 330, 900))):
        for scale, low, high in (
            (linear_scale("GHz", 1e-9), 0.0, 6.25e9), (linear_scale("mV", 1e3), -0.4, 0.4),
            (linear_scale("UI"), -3.0, 14.0), (log_scale("GHz", 1e-9), 7.3, 10.0), (ratio_scale(), -18.0, 0.0),
        ):  # fmt: skip
            axis = QuantityAxis(side, scale)
            metrics = QFontMetricsF(figures_font(FONT_POINTS))
            for size in sizes:
                ticks = axis.ticks(low, high, float(size))
                texts = axis.words(ticks)
                px = [size * (tick - low) / (high - low) for tick in ticks]
                wide = [metrics.height() if side == "left" else metrics.horizontalAdvance(text) for text in texts]
                needs = [(one + other) / 2.0 for one, other in pairwise(wide)]
                gaps = [b - a - need for (a, b), need in zip(pairwise(px), needs, strict=True)]
                assert min(gaps) >= 2.0, (side, size, texts)
                assert 3 <= len(ticks) <= 20, (side, size, texts)


def test_a_readout_spares_what_it_can_and_says_where_figures_are_missing(qapp):
    readout = Readout()
    ink = "#000000"
    readout.say([ReadoutPiece("where", ink, spare=True), ReadoutPiece("12.5", ink), ReadoutPiece("13.5", ink),
                 ReadoutPiece("at 1e-12", ink, spare=True)])  # fmt: skip

    def drawn(room: float) -> list[str]:
        return [piece.text for piece, _ in readout.fitting(room)]

    width = {text: readout.fontMetrics().horizontalAdvance(text) for text in ("where", "12.5", "13.5", "at 1e-12", "…")}
    assert drawn(1000.0) == ["where", "12.5", "13.5", "at 1e-12"]
    assert drawn(width["where"] + width["12.5"] + width["13.5"] + 12.0) == ["where", "12.5", "13.5"]
    assert drawn(width["12.5"] + width["13.5"] + 6.0) == ["12.5", "13.5"]
    assert drawn(width["12.5"] + width["…"] + 6.0) == ["12.5", "…"]
    assert "at 1e-12" in readout.toolTip()
