"""What a chart draws, held against its own pixels: where a place on the axes must be is worked out here by hand."""

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage

from workbench.desk.panes.plot.axes import linear_scale
from workbench.desk.panes.plot.chart import CURSOR_Z, Chart, ink_words, small_text, thin
from workbench.desk.panes.plot.marks import Band, Curve, Dots, Straight, Tinted, Words
from workbench.desk.widgets.theme import LIGHT

RED, BLUE = "#ff0000", "#0000ff"
WIDE, HIGH = 300, 200
X, Y = (2.0, 12.0), (-1.0, 1.0)


@pytest.fixture
def chart(qtbot) -> Chart:
    chart = Chart(linear_scale("ns"), linear_scale("mV"))
    qtbot.addWidget(chart)
    chart.resize(WIDE, HIGH)
    chart.set_theme(LIGHT)
    chart.set_ranges(X, Y)
    return chart


def px(chart: Chart, x: float, y: float) -> tuple[int, int]:
    """Where a point must be: the plot lies between the axes' room on the left and below and the margins."""
    left, top, right, bottom = chart.left.room_px, 8, WIDE - 12, HIGH - chart.bottom.room_px
    across, up = (x - X[0]) / (X[1] - X[0]), (y - Y[0]) / (Y[1] - Y[0])
    return int(left + across * (right - left)), int(bottom - up * (bottom - top))


def near(image: QImage, place: tuple[int, int], colour: str) -> bool:
    """Whether a pixel at a place, or one beside it, has a colour."""
    around = [(place[0] + right, place[1] + down) for right in (-1, 0, 1) for down in (-1, 0, 1)]
    return any(image.pixelColor(*one) == QColor(colour) for one in around)


def drawn(chart: Chart) -> QImage:
    return chart.grab().toImage()


def inked(mark, colour: str = RED):
    mark.set_pen(thin(colour))
    return mark


def test_a_curve_runs_through_its_points_and_breaks_where_there_are_none(chart):
    curve = inked(Curve(smooth=False))
    chart.add(curve)
    curve.set_data(np.array([3.0, 5.0, 7.0, 9.0, 11.0]), np.array([0.5, 0.5, np.nan, -0.5, -0.5]), "finite")
    image = drawn(chart)
    assert all(near(image, px(chart, x, 0.5), RED) for x in (3.0, 4.0, 4.9))
    assert all(near(image, px(chart, x, -0.5), RED) for x in (9.1, 10.0, 11.0))
    assert not near(image, px(chart, 7.0, 0.0), RED)


def test_pairs_are_joined_two_by_two(chart):
    curve = inked(Curve(smooth=False))
    chart.add(curve)
    curve.set_data(np.array([4.0, 4.0, 8.0, 8.0]), np.array([-0.5, 0.5, -0.5, 0.5]), "pairs")
    image = drawn(chart)
    assert near(image, px(chart, 4.0, 0.0), RED)
    assert near(image, px(chart, 8.0, 0.0), RED)
    assert not near(image, px(chart, 6.0, 0.0), RED)


@pytest.mark.parametrize("far", [1e3, 1e12, 1e300])
def test_what_lies_far_outside_is_cut_off_at_the_plot(chart, far):
    curve = inked(Curve(smooth=False))
    chart.add(curve)
    curve.set_data(np.array([7.0, 7.0]), np.array([-far, far]))
    image = drawn(chart)
    assert near(image, px(chart, 7.0, 0.9), RED)
    assert not near(image, (px(chart, 7.0, 0.0)[0], 3), RED)


def test_lines_go_right_across_and_only_where_they_are_in_sight(chart):
    upright, outside = inked(Straight(upright=True)), inked(Straight(upright=True), "#00ff00")
    level = inked(Straight(upright=False), BLUE)
    for line, value in ((upright, 10.0), (level, 0.25), (outside, 1.0)):
        chart.add(line)
        line.set_value(value)
    image = drawn(chart)
    assert all(near(image, px(chart, 10.0, y), RED) for y in (-0.9, 0.0, 0.9))
    assert all(near(image, px(chart, x, 0.25), BLUE) for x in (2.5, 7.0, 11.5))
    assert not near(image, px(chart, 1.0, 0.0), "#00ff00")


def test_a_picture_has_its_first_place_at_the_lower_left(chart):
    picture = Tinted()
    chart.add(picture)
    places = np.zeros((2, 3), np.uint8)  # two columns, three rows
    places[0, 0], places[1, 2] = 1, 2
    table = np.full((256, 4), 255, np.uint8)
    table[1, :3], table[2, :3] = (255, 0, 0), (0, 0, 255)
    picture.set_table(table)
    picture.set_places(places, QRectF(2.0, -1.0, 10.0, 2.0))
    picture.show()
    image = drawn(chart)
    assert image.pixelColor(*px(chart, 3.0, -0.9)) == QColor(RED)
    assert image.pixelColor(*px(chart, 11.0, 0.9)) == QColor(BLUE)
    assert image.pixelColor(*px(chart, 3.0, 0.9)) == QColor("#ffffff")


def test_dots_and_bands_are_filled_where_they_stand(chart):
    dots, band = inked(Dots(), BLUE), Band()
    chart.add(dots)
    chart.add(band, -1.0)
    dots.set_fill(QColor(RED))
    dots.set_data(np.array([4.0, 8.0]), np.array([0.0, 0.5]), np.array([9.0, 9.0]))
    band.set_fill(QColor("#00ff00"))
    band.set_area(QRectF(9.0, -0.5, 2.0, 1.0))
    image = drawn(chart)
    assert image.pixelColor(*px(chart, 4.0, 0.0)) == QColor(RED)
    assert image.pixelColor(*px(chart, 8.0, 0.5)) == QColor(RED)
    assert image.pixelColor(*px(chart, 10.0, 0.4)) == QColor("#00ff00")
    assert image.pixelColor(*px(chart, 10.0, 0.6)) == QColor(LIGHT.sheet)


def test_what_has_more_of_z_is_drawn_over_the_rest_whenever_it_was_added(chart):
    over, under = inked(Straight(upright=True), RED), inked(Straight(upright=True), BLUE)
    chart.add(over, CURSOR_Z)
    chart.add(under)
    for line in (over, under):
        line.set_value(7.0)
    assert near(drawn(chart), px(chart, 7.0, 0.5), RED)
    over.hide()
    assert near(drawn(chart), px(chart, 7.0, 0.5), BLUE)


def test_words_stand_by_their_anchor_on_a_ground_of_their_own(chart):
    words, line = small_text((1.0, 0.5)), inked(Straight(upright=False), BLUE)
    chart.add(line)
    chart.add(words, 1.0)
    words.set_text("one\nand two")
    ink_words(words, RED, LIGHT.sheet)
    words.set_place(11.0, 0.0)
    box, at = words.box(chart.plane), px(chart, 11.0, 0.0)
    assert (box.right(), box.center().y()) == (pytest.approx(at[0], abs=1.0), pytest.approx(at[1], abs=1.0))
    image = drawn(chart)
    inside = [image.pixelColor(x, y) for x in range(int(box.left()) + 1, at[0]) for y in range(int(box.top()), at[1])]
    assert sum(one.red() > 200 and one.green() < 120 for one in inside) > 10


def test_a_change_is_painted_and_no_change_is_not(chart, qtbot):
    line = inked(Straight(upright=True))
    told = []
    chart.add(line)
    line.changed = told.append
    line.set_value(3.0)
    line.set_value(3.0)
    line.set_opacity(1.0)
    line.show()
    assert told == [line]


def boxes(chart: Chart, words: list[Words]) -> list[QRectF]:
    return [one.box(chart.plane) for one in words]


def test_words_that_would_cover_one_another_or_the_axis_dodge(chart):
    """The first stays where it is; none leaves the plot, and what stands outside of what is shown is not drawn in."""
    words = [small_text((0.0, 0.5)) for _ in range(4)]
    left_over = small_text((1.0, 0.5))
    texts = "budget 11 dB", "common mode", "PSNEXT", "loss", "far off"
    for one, text in zip((*words, left_over), texts, strict=True):
        one.set_text(text)
        chart.add(one)
    for one in words[:3]:
        one.set_place(6.0, 0.2)
    words[3].set_anchor((1.0, 0.5))
    words[3].set_place(2.1, -0.9)
    left_over.set_place(-20.0, 0.0)
    chart.spread_words([*words, left_over])
    found = boxes(chart, words)
    assert words[0].place == (6.0, 0.2)
    assert left_over.place == (-20.0, 0.0)
    for number, one in enumerate(found):
        assert chart.plot.adjusted(-0.01, -0.01, 0.01, 0.01).contains(one)
        assert not any(one.intersects(other) for other in found[:number])
    # Each as near as it can be: straight above or below, edge to edge.
    assert {round(abs(one.top() - found[0].top()) / found[0].height(), 3) for one in found[1:3]} == {1.0}
