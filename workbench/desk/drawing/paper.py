"""Reports and settings sheets as PDF: text laid out by the toolkit, pictures as vectors, pages numbered."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QRect, QRectF, QSizeF
from PySide6.QtGui import (
    QColor,
    QFont,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QPyTextObject,
    QTextCursor,
    QTextDocument,
    QTextFormat,
)
from PySide6.QtSvg import QSvgRenderer

from workbench.desk.drawing.outline import headings, keep_together, with_outline
from workbench.desk.widgets.theme import LIGHT, figures_font
from workbench.reports.compared import LANE_HEADS
from workbench.reports.pages.changes import CHANGE_HEADS, ChangesPage
from workbench.reports.pages.handover import Handover
from workbench.reports.pages.made import ReportOrigin
from workbench.reports.pages.pictures import LEGENDS
from workbench.reports.pages.remedies import CORNER_HEADS, REMEDY_HEADS
from workbench.reports.pages.settings_sheet import SettingsSheet, lanes_words, power_words
from workbench.reports.pages.templates import rendered
from workbench.reports.storing import write_report
from workbench.reports.wording import CAUTION
from workbench.studies.kinds.budget import BUDGET_HEADS
from workbench.wording import SIGNS

DPI = 1200
_MARGIN_MM, _FOOT_MM = 14.0, 8.0
_POINTS = 8.5
_PICTURE = int(QTextFormat.ObjectTypes.UserObject) + 1
_NAME = int(QTextFormat.Property.UserProperty) + 1
_SHARES = {"path": 1.0, "budget": 0.75}
_FORMULA, _FORMULA_SCALE = "formula", 0.55
"""Formulas are set in letters of about this share of those that they are laid out in, px to points."""
_STYLE = (
    " a[href] {{ color: {accent}; text-decoration: none; }} .legend {{ color: {quiet}; font-size: 6px; }}"
    "h1 {{ font-size: 18px; }} h2 {{ font-size: 12px; }} th {{ color: {quiet}; }}"
    " table.ruled {{ border-collapse: collapse; }}"
    " table.ruled td, table.ruled th {{ border-bottom: 0.5px solid {line}; }}"
)


def report_pdf(report: Handover, path: Path) -> None:
    """Write a report.

    Raises:
        ReportError: the file can't be written.
    """
    html = rendered(
        "paper.html.j2", report=report, made=report.made, sheet=report.settings, power=power_words(report.settings),
        lanes_words=lanes_words, caution=CAUTION, signs=SIGNS, quiet=LIGHT.quiet, inks=_inks(),
        budget_heads=BUDGET_HEADS, legends=LEGENDS, contents=report.contents(),
        remedy_heads=REMEDY_HEADS, corner_heads=CORNER_HEADS,
        lane_heads=LANE_HEADS, change_heads=CHANGE_HEADS, lane_numbers=report.lane_numbers(),
        budget_numbers=report.budget_numbers(),
    )  # fmt: skip
    drawn = [lane.pictures for lane in report.lanes if lane.pictures is not None]
    pictures = {
        f"{number}/{kind}": getattr(one, kind) for number, one in enumerate(drawn) for kind in one._fields[1:-1]
    }
    pictures |= {f"{number}/budget": one.picture for number, one in enumerate(report.budgets) if one.picture}
    pictures |= {f"{number}/{_FORMULA}": one for number, one in enumerate(report.extras.formulas) if one}
    heads = [words for _, words in report.contents()]
    _write(html, pictures, path, title=report.title, made=report.made, outline=heads)


def changes_pdf(changes: ChangesPage, made: ReportOrigin, path: Path) -> None:
    """Write a comparison of two boards.

    Raises:
        ReportError: the file can't be written.
    """
    html = rendered(
        "paper_compare.html.j2", changes=changes, lane_heads=LANE_HEADS, change_heads=CHANGE_HEADS, caution=CAUTION,
        quiet=LIGHT.quiet,
    )  # fmt: skip
    _write(html, {}, path, title=changes.title, made=made, across=True)


def sheet_pdf(sheet: SettingsSheet, made: ReportOrigin, path: Path) -> None:
    """Write a settings sheet.

    Raises:
        ReportError: the file can't be written.
    """
    html = rendered(
        "paper_sheet.html.j2", sheet=sheet, made=made, power=power_words(sheet), lanes_words=lanes_words,
        caution=CAUTION, quiet=LIGHT.quiet,
    )  # fmt: skip
    _write(html, {}, path, title=sheet.board, made=made, across=True)


def _inks() -> dict[str, str]:
    return {
        **LIGHT.verdicts,
        "note": LIGHT.accent, "warning": LIGHT.marginal, "error": LIGHT.failed,
    }  # fmt: skip


class _Drawings(QPyTextObject):
    """Pictures in the text, drawn as the vectors that they are."""

    def __init__(self, pictures: Mapping[str, str], width: float, document: QTextDocument) -> None:
        super().__init__(document)
        self._width = width
        self._drawn = {name: QSvgRenderer(QByteArray(svg.encode()), self) for name, svg in pictures.items()}

    def intrinsicSize(self, doc: QTextDocument, pos: int, form: QTextFormat) -> QSizeF:  # noqa: N802 - Qt's name
        """How much room a picture takes: the page's width for a path, less for bars, nearly half of it for a plot."""
        name = str(form.property(_NAME))
        size = self._drawn[name].defaultSize()
        if name.endswith(_FORMULA):
            width = min(_FORMULA_SCALE * size.width(), self._width)
            return QSizeF(width, width * size.height() / size.width())
        width = self._width * next((share for kind, share in _SHARES.items() if name.endswith(kind)), 0.485)
        return QSizeF(width, width * size.height() / size.width())

    def drawObject(  # noqa: N802 - Qt's name
        self, painter: QPainter, rect: QRectF | QRect, doc: QTextDocument, pos: int, form: QTextFormat
    ) -> None:
        """Draw one."""
        del doc, pos
        self._drawn[str(form.property(_NAME))].render(painter, QRectF(rect))


def _write(
    html: str, pictures: Mapping[str, str], path: Path, *, title: str, made: ReportOrigin, across: bool = False,
    outline: Sequence[str] = (),
) -> None:  # fmt: skip
    content = QBuffer()
    content.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(content)
    writer.setTitle(title)
    writer.setCreator("workbench")
    writer.setResolution(DPI)
    turn = QPageLayout.Orientation.Landscape if across else QPageLayout.Orientation.Portrait
    margins = QMarginsF(_MARGIN_MM, _MARGIN_MM, _MARGIN_MM, _MARGIN_MM)
    writer.setPageLayout(QPageLayout(QPageSize(QPageSize.PageSizeId.A4), turn, margins, QPageLayout.Unit.Millimeter))
    # The text is laid out in points and the painter scaled: fonts then have the size they are asked for.
    scale = DPI / 72.0
    room = QSizeF(writer.width() / scale, writer.height() / scale - _FOOT_MM * 72.0 / 25.4)
    document = _document(html, pictures, room)
    keep_together(document, room.height())
    painter = QPainter(writer)
    painter.setRenderHint(QPainter.RenderHint.LosslessImageRendering)
    painter.scale(scale, scale)
    for number in range(document.pageCount()):
        if number:
            writer.newPage()
        _paint_page(painter, document, room, number, f"{made.file} · SHA-256 {made.sha256[:12]}…")
    painter.end()
    pages = headings(document, room.height())
    marks = [(words, pages[words]) for words in outline if words in pages]
    write_report(with_outline(bytes(content.data().data()), marks), path)


def _document(html: str, pictures: Mapping[str, str], room: QSizeF) -> QTextDocument:
    document = QTextDocument()
    font = QFont(figures_font(_POINTS))
    # Points are the layout's own unit here, whatever a screen has.
    font.setPixelSize(round(_POINTS))
    # Two letters drawn as one would be copied as another letter: a checksum has to be pasted as it reads.
    font.setStyleStrategy(QFont.StyleStrategy.PreferNoShaping)
    document.setDefaultFont(font)
    document.setDocumentMargin(0.0)
    document.setDefaultStyleSheet(_STYLE.format(quiet=LIGHT.quiet, line=LIGHT.line, accent=LIGHT.accent))
    document.documentLayout().registerHandler(_PICTURE, _Drawings(pictures, room.width(), document))
    document.setHtml(html)
    _put_pictures(document)
    document.setPageSize(room)
    return document


def _put_pictures(document: QTextDocument) -> None:
    """Images that the text names become drawings."""
    found: list[tuple[int, str]] = []
    block = document.begin()
    while block.isValid():
        parts = block.begin()
        while not parts.atEnd():
            fragment = parts.fragment()
            form = fragment.charFormat()
            if form.isImageFormat():
                found.append((fragment.position(), form.toImageFormat().name()))
            parts += 1
        block = block.next()
    for position, name in found:
        cursor = QTextCursor(document)
        cursor.setPosition(position)
        cursor.movePosition(QTextCursor.MoveOperation.NextCharacter, QTextCursor.MoveMode.KeepAnchor)
        form = cursor.charFormat()
        form.setObjectType(_PICTURE)
        form.setProperty(_NAME, name)
        cursor.insertText("\N{OBJECT REPLACEMENT CHARACTER}", form)


def _paint_page(painter: QPainter, document: QTextDocument, room: QSizeF, number: int, foot: str) -> None:
    top = number * room.height()
    painter.save()
    painter.translate(0.0, -top)
    document.drawContents(painter, QRectF(0.0, top, room.width(), room.height()))
    painter.restore()
    font = QFont(document.defaultFont())
    font.setPixelSize(7)
    painter.setFont(font)
    painter.setPen(QColor(LIGHT.quiet))
    line = room.height() + 0.7 * _FOOT_MM * 72.0 / 25.4
    painter.drawText(QRectF(0.0, line, room.width(), 10.0), 0, foot)
    pages = f"{number + 1} of {document.pageCount()}"
    width = painter.fontMetrics().horizontalAdvance(pages)
    painter.drawText(QRectF(room.width() - width - 1.0, line, width + 2.0, 10.0), 0, pages)
