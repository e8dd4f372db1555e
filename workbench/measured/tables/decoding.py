"""From a file's bytes to lines of text, whatever program wrote them: UTF-8, UTF-16, any line end."""

import codecs
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from workbench.board.reading import read_bytes
from workbench.errors import BoardFileError, NotStatedError, TableError
from workbench.wording import quoted_path

LARGEST_TABLE_BYTES = 64 * 2**20
_LINE_END = re.compile(r"\r\n|\r|\n")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""Byte order marks; that of UTF-32 begins as that of UTF-16 does, so it is asked for first."""
_MICRO = 0xB5
_FOLLOWS_OLD = "save it as UTF-8 (spreadsheets call it CSV UTF-8), or state its encoding, such as cp1252"


class TextSource(NamedTuple):
    """Where a text comes from: a name for sentences and records, and the SHA-256 of its bytes, hexadecimal."""

    name: str
    sha256: str


class Text(NamedTuple):
    """A text and where it comes from."""

    source: TextSource
    text: str


def text_of_file(path: Path | str, *, encoding: str | None = None) -> Text:
    """A file's text.

    Args:
        path: the file.
        encoding: what its bytes are written in, where they don't show it themselves.

    Raises:
        TableError: the file can't be read, or is no text.
        NotStatedError: its encoding has to be stated.
    """
    try:
        data = read_bytes(Path(path))
    except BoardFileError as error:
        raise TableError(quoted_path(path), None, error.problem, error.remedy) from error
    return text_of_bytes(data, Path(path).name, encoding=encoding)


def text_of_bytes(data: bytes, name: str, *, encoding: str | None = None) -> Text:
    """The text of some bytes; as `text_of_file`.

    Args:
        data: the bytes.
        name: what sentences call them, usually a file's name.
        encoding: what they are written in, where they don't show it themselves.

    Raises:
        TableError: there is no text in them.
        NotStatedError: their encoding has to be stated.
    """
    source = TextSource(name, hashlib.sha256(data).hexdigest())
    if len(data) > LARGEST_TABLE_BYTES:
        raise TableError(name, None, f"it is larger than {LARGEST_TABLE_BYTES // 2**20} MiB", "give a shorter record")
    if not data.strip(b" \t\r\n\0"):
        raise TableError(name, None, "it is empty", "choose a file that holds a table")
    if data.startswith(b"PK\x03\x04"):
        raise TableError(name, None, "it is a packed file, not text", "save the sheet as CSV, or paste its cells")
    text = _decoded(data, name, encoding or _encoding_of(data))
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise TableError(name, line, "it holds zero bytes, so it is not text", "choose a CSV file")
    return Text(source, text)


def text_of_paste(text: str) -> Text:
    """Pasted cells as a text, with the SHA-256 of its UTF-8 bytes.

    Raises:
        TableError: nothing is in it.
    """
    return text_of_bytes(text.encode("utf-8", "surrogatepass"), "pasted cells", encoding="utf-8")


def lines_in(text: str) -> Iterator[str]:
    """The lines of a text one after the other, without their ends: LF, CR LF or CR.

    One at a time: all lines of a large file take several times its bytes.
    """
    begin = 0
    for end in _LINE_END.finditer(text) if "\r" in text else re.finditer("\n", text):
        yield text[begin : end.start()]
        begin = end.end()
    if begin < len(text):
        yield text[begin:]


def _encoding_of(data: bytes) -> str | None:
    """What a byte order mark, or every other byte being zero, shows; None where nothing does."""
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding
    head = data[:4096]
    half = len(head) // 2
    if half and len(data) % 2 == 0:
        if head[1::2].count(0) > 0.6 * half and head[::2].count(0) == 0:
            return "utf-16-le"
        if head[::2].count(0) > 0.6 * half and head[1::2].count(0) == 0:
            return "utf-16-be"
    return None


def _decoded(data: bytes, name: str, encoding: str | None) -> str:
    try:
        return data.decode(encoding or "utf-8")
    except LookupError as error:
        problem = f"there is no encoding {encoding!r}"
        raise TableError(name, None, problem, "state one such as utf-8 or cp1252") from error
    except UnicodeDecodeError as error:
        line = sum(1 for _ in _ends_before(data, error.start)) + 1
        if encoding is not None:
            raise TableError(name, line, f"this is not {encoding} text", "save it again as UTF-8") from error
        # The micro sign has this byte in every old code page of Europe, east and west; all else differs among them.
        if {byte for byte in data if byte >= 0x80} == {_MICRO}:
            return data.decode("latin-1")
        problem = "the text is not UTF-8, and an older encoding does not show which it is"
        raise NotStatedError(name, line, problem, _FOLLOWS_OLD, wanted="encoding") from error


def _ends_before(data: bytes, position: int) -> Iterator[re.Match[bytes]]:
    return re.finditer(rb"\r\n|\r|\n", data[:position])
