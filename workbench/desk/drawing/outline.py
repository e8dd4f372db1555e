"""What a PDF needs beside its pages: headings kept with what follows them, and an outline to find them by."""

import re
from collections.abc import Sequence

from PySide6.QtGui import QTextBlock, QTextCursor, QTextDocument, QTextFormat

from workbench.errors import ReportError

_MOST_PASSES = 40
_LARGEST_HEAD = 2


def headings(document: QTextDocument, page_height: float) -> dict[str, int]:
    """On which page, from 0, each heading of a laid-out document stands, by its words up to the first wide gap."""
    found: dict[str, int] = {}
    block = document.begin()
    while block.isValid():
        if 0 < block.blockFormat().headingLevel() <= _LARGEST_HEAD:
            words = block.text().split("\N{NO-BREAK SPACE}", 1)[0].strip()
            found.setdefault(words, _page(document, block, page_height))
        block = block.next()
    return found


def keep_together(document: QTextDocument, page_height: float) -> None:
    """Begin a new page before every heading, or bold first line, whose next paragraph would begin on another page."""
    for passed in range(_MOST_PASSES):
        torn = _first_torn(document, page_height)
        if torn is None:
            if passed:  # laid out anew from the start, else painting finds some blocks where they no longer are
                document.setPageSize(document.pageSize())
            return
        cursor = QTextCursor(torn)
        form = torn.blockFormat()
        form.setPageBreakPolicy(QTextFormat.PageBreakFlag.PageBreak_AlwaysBefore)
        cursor.setBlockFormat(form)


def _first_torn(document: QTextDocument, page_height: float) -> QTextBlock | None:
    block = document.begin()
    while block.isValid():
        after = block.next()
        breaks = block.blockFormat().pageBreakPolicy() & QTextFormat.PageBreakFlag.PageBreak_AlwaysBefore
        leads = after.isValid() and not breaks and _leads(block)
        if leads and _page(document, block, page_height) != _page(document, after, page_height):
            return block
        block = after
    return None


def _leads(block: QTextBlock) -> bool:
    """Whether a paragraph is there for the one after it: a heading, or outside tables one with its first line bold."""
    if block.blockFormat().headingLevel():
        return True
    return _bold_first_line(block) and QTextCursor(block).currentTable() is None


def _bold_first_line(block: QTextBlock) -> bool:
    said = ""
    parts = block.begin()
    while not parts.atEnd():
        fragment = parts.fragment()
        said += fragment.text()
        first, broken, _ = fragment.text().partition("\N{LINE SEPARATOR}")
        if first.strip() and fragment.charFormat().fontWeight() <= _REGULAR:
            return False
        if broken:
            break
        parts += 1
    return bool(said.strip())


_REGULAR = 500


def _page(document: QTextDocument, block: QTextBlock, page_height: float) -> int:
    """The page of a block's end for what leads, which is that of its first line for a line of text."""
    box = document.documentLayout().blockBoundingRect(block)
    layout = block.layout()
    if layout is None or not layout.lineCount():
        return int(box.top() // page_height)
    return int((box.top() + layout.lineAt(0).y()) // page_height)


def with_outline(pdf: bytes, marks: Sequence[tuple[str, int]]) -> bytes:
    """A PDF with an outline, added as an update at its end (ISO 32000-1, 7.5.6 and 12.3.3).

    Args:
        pdf: as the toolkit wrote it: one table of objects, no object streams.
        marks: words and the page, from 0, that each leads to.

    Raises:
        ReportError: the file is not of that kind.
    """
    trailer = re.search(rb"trailer\s*<<(.*?)>>\s*startxref\s*(\d+)\s*%%EOF\s*$", pdf, re.DOTALL)
    if not marks:
        return pdf
    if trailer is None:
        raise ReportError("the PDF that the toolkit wrote has no table of objects; write HTML")
    root, size = (int(re.search(rb"/%s (\d+)" % key, trailer[1])[1]) for key in (b"Root", b"Size"))  # type: ignore[index]
    catalog = re.search(rb"\n%d 0 obj\s*<<(.*?)>>\s*endobj" % root, pdf, re.DOTALL)
    pages = [int(one) for one in re.findall(rb"\n(\d+) 0 obj\s*<<\s*/Type\s*/Page\b(?!s)", pdf)]
    if catalog is None or not pages:
        raise ReportError("the PDF that the toolkit wrote has no pages that could be found; write HTML")
    first = size + 1
    objects = [(root, b"<<%s/Outlines %d 0 R\n/PageMode /UseOutlines\n>>" % (catalog[1], size))]
    objects.append((size, b"<</Type /Outlines /First %d 0 R /Last %d 0 R /Count %d>>" % (
        first, first + len(marks) - 1, len(marks))))  # fmt: skip
    for number, (words, page) in enumerate(marks):
        beside = b" /Prev %d 0 R" % (first + number - 1) if number else b""
        beside += b" /Next %d 0 R" % (first + number + 1) if number + 1 < len(marks) else b""
        text = words.encode("utf-16-be").hex().upper().encode()
        target = pages[min(page, len(pages) - 1)]
        objects.append((first + number, b"<</Title <FEFF%s> /Parent %d 0 R%s /Dest [%d 0 R /Fit]>>" % (
            text, size, beside, target)))  # fmt: skip
    return _updated(pdf, objects, root, first + len(marks), int(trailer[2]))


def _updated(pdf: bytes, objects: Sequence[tuple[int, bytes]], root: int, size: int, before: int) -> bytes:
    out, table = bytearray(pdf if pdf.endswith(b"\n") else pdf + b"\n"), b"xref\n"
    for number, body in objects:
        table += b"%d 1\n%010d 00000 n \n" % (number, len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    at = len(out)
    info = re.search(rb"/Info (\d+ 0 R)", pdf)
    more = b" /Info %s" % info[1] if info else b""
    out += table + b"trailer\n<</Size %d /Root %d 0 R /Prev %d%s>>\nstartxref\n%d\n%%%%EOF\n" % (
        size, root, before, more, at
    )  # fmt: skip
    return bytes(out)
