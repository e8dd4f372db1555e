"""Painting the path strip: a scene of plain values in, strokes out."""

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from workbench.board.edits.path import Gap, Spot
from workbench.desk.strip.ghosts import Ghost
from workbench.desk.strip.layout import GAP_PX, LabelWish, Slot, StripLayout, place_labels, ticks
from workbench.desk.strip.shapes import Ink, draw_shape
from workbench.desk.widgets.theme import Theme, figures_font, letters_share
from workbench.quantity import show

FLAGS_TOP, TRACK_TOP, TRACK_BOTTOM = 32.0, 54.0, 90.0
RULER_TOP, LABELS_TOP, LABEL_HEIGHT = 92.0, 112.0, 26.0
_NAME_PX, _LOSS_PX = 13.0, 12.0
"""Room of a label's two lines at the usual size of letters; larger ones take more."""
LEAST_HEIGHT = int(LABELS_TOP + 2 * LABEL_HEIGHT + 2)
NAME_POINTS, FIGURE_POINTS = 8.5, 8.0
FLAG_WIDTH, FLAG_HEIGHT = 15.0, 13.0


class Drawn(NamedTuple):
    """One element as it is drawn: the kind of its shape, its texture, name, loss ("" if unknown) and inscription."""

    kind: str
    texture: int
    name: str
    loss: str
    inside: tuple[str, str] = ("", "")


class Flag(NamedTuple):
    """A probe point's flag: where it stands in px, and whether it is the one that keys move."""

    x: float
    active: bool


class Scene(NamedTuple):
    """Everything the strip shows; `drawn` runs from the transmitter to the receiver as the slots do."""

    layout: StripLayout
    drawn: tuple[Drawn, ...]
    selected: int | None
    hovered: int | None
    flags: tuple[Flag | None, ...]
    probe_ticks: tuple[float, ...]
    theme: Theme
    height: float
    focused: bool
    spot: Spot | None = None
    ghost: Drawn | None = None
    faded: int | None = None
    ghosts: tuple[Ghost, ...] = ()


def paint_scene(painter: QPainter, scene: Scene, left: float, right: float) -> None:
    """Paint the strip's content.

    Args:
        painter: where; its origin is the content's.
        scene: what.
        left, right: the part of the content that is in sight, px.
    """
    opened = scene._replace(layout=scene.layout.opened(scene.spot))
    _paint_marks(painter, opened)
    for slot, drawn in zip(opened.layout.slots, scene.drawn, strict=True):
        if slot.right >= left and slot.left <= right:
            _paint_slot(painter, opened, slot, drawn)
    _paint_ghosts(painter, opened)
    _paint_ruler(painter, opened)
    _paint_spot(painter, scene)
    _paint_labels(painter, opened, left, right)
    _paint_probe_ticks(painter, scene)
    _paint_flags(painter, scene)


def _tint(colour: str, alpha: float) -> QColor:
    tinted = QColor(colour)
    tinted.setAlphaF(alpha)
    return tinted


def _paint_marks(painter: QPainter, scene: Scene) -> None:
    """The bands behind the selected element and the one under the pointer."""
    theme = scene.theme
    for number, alpha in ((scene.hovered, 0.08), (scene.selected, 0.16 if scene.focused else 0.10)):
        if number is not None and -1 <= number <= scene.layout.length:
            slot = scene.layout.slot(number)
            band = QRectF(slot.left, TRACK_TOP - 4.0, slot.width, TRACK_BOTTOM - TRACK_TOP + 8.0)
            painter.fillRect(band, _tint(theme.accent, alpha))
            if number == scene.selected:
                painter.setPen(QPen(QColor(theme.accent), 2.0 if scene.focused else 1.0))
                painter.drawLine(band.bottomLeft(), band.bottomRight())


def _paint_slot(painter: QPainter, scene: Scene, slot: Slot, drawn: Drawn) -> None:
    theme = scene.theme
    outline = theme.accent if slot.number == scene.selected else theme.quiet
    ink = Ink(outline, theme.raised, theme.faint, strength=0.3 if slot.number == scene.faded else 1.0)
    box = QRectF(slot.left, TRACK_TOP, slot.width, TRACK_BOTTOM - TRACK_TOP)
    if scene.layout.even and slot.length_m is None and 0 <= slot.number < scene.layout.length:
        _paint_leads(painter, scene, slot)
        wide = 46.0 if drawn.kind == "stage" else 20.0
        box = QRectF(slot.centre - min(wide, slot.width) / 2.0, TRACK_TOP, min(wide, slot.width), box.height())
    draw_shape(painter, drawn.kind, box, ink, drawn.texture)
    if drawn.inside[0]:
        _inscribe(painter, scene, box, drawn.inside, ink.strength)


def _paint_ghosts(painter: QPainter, scene: Scene) -> None:
    """The runs beside the lane's own: thicker where they couple more, with an arrow where their signal goes."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = QColor(scene.theme.quiet)
    painter.setBrush(colour)
    for ghost in scene.ghosts:
        line = ghost_line(scene.layout, ghost)
        painter.setPen(QPen(colour, ghost.stroke_px, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
        painter.drawLine(line)
        painter.setPen(Qt.PenStyle.NoPen)
        tip = line.p1() if ghost.against else line.p2()
        back = 7.0 if ghost.against else -7.0
        half = 2.0 + ghost.stroke_px
        wings = [QPointF(tip.x() + back, tip.y() - half), QPointF(tip.x() + back, tip.y() + half)]
        if line.length() > 2.0 * abs(back):
            painter.drawPolygon([tip, *wings])
    painter.restore()


def ghost_line(layout: StripLayout, ghost: Ghost) -> QLineF:
    """Where a neighbour's run is drawn."""
    slot = layout.slot(ghost.at)
    y = (TRACK_TOP + TRACK_BOTTOM) / 2.0 + ghost.off_px
    begin, end = (slot.left + 1.0 + share * (slot.width - 2.0) for share in (ghost.begin, ghost.end))
    return QLineF(begin, y, end, y)


def _paint_leads(painter: QPainter, scene: Scene, slot: Slot) -> None:
    middle = (TRACK_TOP + TRACK_BOTTOM) / 2.0
    painter.setPen(QPen(QColor(scene.theme.faint), 1.0))
    for side in (-3.0, 3.0):
        painter.drawLine(QPointF(slot.left, middle + side), QPointF(slot.right, middle + side))


def _inscribe(painter: QPainter, scene: Scene, box: QRectF, inside: tuple[str, str], strength: float) -> None:
    painter.save()
    painter.setOpacity(strength)
    top, bottom = figures_font(NAME_POINTS), figures_font(FIGURE_POINTS - 0.5)
    top.setWeight(QFont.Weight.DemiBold)
    room = box.adjusted(4.0, 5.0, -4.0, -2.0)
    for font, text, colour, flag in (
        (top, inside[0], scene.theme.ink, Qt.AlignmentFlag.AlignTop),
        (bottom, inside[1], scene.theme.quiet, Qt.AlignmentFlag.AlignBottom),
    ):
        painter.setFont(font)
        painter.setPen(QColor(colour))
        shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, Qt.AlignmentFlag.AlignHCenter | flag, shown)
    painter.restore()


def _paint_ruler(painter: QPainter, scene: Scene) -> None:
    """A scale under the runs; it stops under what has no length."""
    theme, font, top = scene.theme, figures_font(FIGURE_POINTS - 0.5), RULER_TOP + 2.5
    marks = ticks(scene.layout)
    painter.setFont(font)
    painter.setPen(QPen(QColor(theme.faint), 1.0))
    painter.drawLines([
        *(QLineF(slot.left + 1.0, top, slot.right - 1.0, top)
          for slot in scene.layout.slots if slot.length_m is not None),
        *(QLineF(tick.x, top, tick.x, RULER_TOP + (7.0 if tick.major else 5.0)) for tick in marks),
    ])  # fmt: skip
    metrics = QFontMetricsF(font)
    painter.setPen(QColor(theme.quiet))
    for tick in marks:
        if tick.major:
            text = show(tick.at_m, "m", digits=3) if tick.at_m else "0"
            painter.drawText(QPointF(tick.x - metrics.horizontalAdvance(text) / 2.0, RULER_TOP + 17.0), text)


def _paint_spot(painter: QPainter, scene: Scene) -> None:
    """Where something would land: its outline in the gap held open, or over the cut."""
    if scene.spot is None or scene.ghost is None:
        return
    theme, x = scene.theme, scene.layout.spot_x(scene.spot)
    wide = 46.0 if scene.ghost.kind == "stage" else GAP_PX - 6.0
    centre = x + GAP_PX / 2.0 if isinstance(scene.spot, Gap) else x
    box = QRectF(centre - wide / 2.0, TRACK_TOP, wide, TRACK_BOTTOM - TRACK_TOP)
    band = box.adjusted(-3.0, -5.0, 3.0, 5.0)
    painter.fillRect(band, QColor(theme.sheet))
    painter.fillRect(band, _tint(theme.accent, 0.16))
    painter.setPen(QPen(QColor(theme.accent), 1.0, Qt.PenStyle.DashLine))
    painter.drawLine(band.topLeft(), band.bottomLeft())
    painter.drawLine(band.topRight(), band.bottomRight())
    draw_shape(painter, scene.ghost.kind, box, Ink(theme.accent, theme.raised, theme.accent), scene.ghost.texture)


def _paint_labels(painter: QPainter, scene: Scene, left: float, right: float) -> None:
    name_font, loss_font = figures_font(NAME_POINTS), figures_font(FIGURE_POINTS)
    names, losses = QFontMetricsF(name_font), QFontMetricsF(loss_font)
    name_px, loss_px = _two_lines(names, losses)
    label_px = max(LABEL_HEIGHT, name_px + loss_px)
    rows = max(1, int((scene.height - LABELS_TOP) // label_px))
    placed = place_labels(_wanted(scene, names, losses), rows=rows, left=left + 4.0, right=right - 4.0)
    for label in placed:
        drawn = scene.drawn[label.owner + 1]
        top = LABELS_TOP + label.row * label_px
        marked = label.owner == scene.selected
        for font, metrics, text, colour, place in (
            (name_font, names, drawn.name, scene.theme.accent if marked else scene.theme.ink, (top, name_px)),
            (loss_font, losses, drawn.loss, scene.theme.quiet, (top + name_px - 1.0, loss_px)),
        ):
            painter.setFont(font)
            painter.setPen(QColor(colour))
            shown = metrics.elidedText(text, Qt.TextElideMode.ElideRight, label.width + 1.0)
            room = QRectF(label.left - 1.0, place[0], label.width + 2.0, place[1])
            painter.drawText(room, Qt.AlignmentFlag.AlignCenter, shown)


def _two_lines(names: QFontMetricsF, losses: QFontMetricsF) -> tuple[float, float]:
    """How much room a label's name and its loss take, px: as drawn at the usual size, more where letters are larger."""
    if letters_share() <= 1.0:
        return _NAME_PX, _LOSS_PX
    return max(_NAME_PX, names.height()), max(_LOSS_PX, losses.height())


def _wanted(scene: Scene, names: QFontMetricsF, losses: QFontMetricsF) -> Sequence[LabelWish]:
    wanted = []
    for slot, drawn in zip(scene.layout.slots, scene.drawn, strict=True):
        width = max(names.horizontalAdvance(drawn.name), losses.horizontalAdvance(drawn.loss)) + 2.0
        rank = slot.width
        if slot.number == scene.hovered:
            rank += 1e6
        if slot.number == scene.selected:
            rank += 1e7
        wanted.append(LabelWish(slot.number, slot.centre, width, rank))
    return wanted


def _paint_probe_ticks(painter: QPainter, scene: Scene) -> None:
    painter.setPen(QPen(QColor(scene.theme.line), 1.0))
    for x in scene.probe_ticks:
        painter.drawLine(QPointF(x, TRACK_TOP - 9.0), QPointF(x, TRACK_TOP - 3.0))


def _paint_flags(painter: QPainter, scene: Scene) -> None:
    font = figures_font(FIGURE_POINTS)
    font.setWeight(QFont.Weight.DemiBold)
    painter.setFont(font)
    for number, flag in enumerate(scene.flags):
        if flag is None:
            continue
        colour = QColor(scene.theme.traces[number])
        painter.setPen(QPen(colour, 1.0))
        painter.drawLine(QPointF(flag.x, FLAGS_TOP), QPointF(flag.x, TRACK_BOTTOM))
        cloth = flag_box(flag.x)
        painter.fillRect(cloth, colour)
        painter.setPen(QColor(scene.theme.sheet))
        painter.drawText(cloth, Qt.AlignmentFlag.AlignCenter, str(number + 1))
        if flag.active and scene.focused:
            painter.setPen(QPen(QColor(scene.theme.ink), 1.0))
            painter.drawRect(cloth.adjusted(-1.5, -1.5, 1.5, 1.5))


def flag_box(x: float) -> QRectF:
    """The cloth of a flag that stands at a place, px."""
    return QRectF(x, FLAGS_TOP, FLAG_WIDTH, FLAG_HEIGHT)
