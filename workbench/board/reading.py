"""Reading board files: strict, quick where all is well, thorough in words where it is not.

msgspec reads straight into the records and stops at the first byte that doesn't belong, so that a hostile file costs
neither time nor memory. Only a refused file of moderate size is read a second time, into plain dicts, for the words.
"""

import hashlib
import json
import re
import stat
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain, islice
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from workbench.board.checking import meaning_faults
from workbench.board.migration import STEPS, Step, check_version, migrate
from workbench.board.model import FORMAT, VERSION, Board
from workbench.board.shape import shape_faults
from workbench.errors import BoardFileError
from workbench.wording import key_path, kind_of, quoted, quoted_path, shown

LARGEST_FILE_BYTES = 256 * 2**20
LARGEST_EXPLAINED_BYTES = 8 * 2**20
"""Beyond this size a fault is not looked for a second time: plain dicts take tens of bytes for each one of the file."""
MOST_FAULTS = 200
"""So many are named at most: a file of a million of them is no board that somebody mends by hand."""

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class LoadedBoard(msgspec.Struct, frozen=True, kw_only=True):
    """A board as it was read.

    Attributes:
        board: the board, of this program's version.
        sha256: SHA-256 of the file's bytes, hexadecimal.
        path: the file; None where the bytes came from elsewhere.
        migrated_from: the file's own version where that is an older one, else None.
    """

    board: Board
    sha256: str
    path: Path | None = None
    migrated_from: int | None = None


class _Header(msgspec.Struct):
    """The two keys that decide how the rest is read; everything else is skipped without being kept."""

    format: msgspec.Raw = msgspec.Raw(b"null")
    version: msgspec.Raw = msgspec.Raw(b"null")


class _Repeating(dict[str, Any]):
    """An object that has a key twice."""

    again = ""


def load_board(path: Path | str, steps: Mapping[int, Step] = STEPS) -> LoadedBoard:
    """Read a board file. The file is not changed, also where it is of an older version.

    Args:
        path: the file.
        steps: the migration steps, by the version that they start from.

    Raises:
        BoardFileError: the file can't be read, is not a board file, or holds an unsound board.
    """
    for fault in (read := _Reading(read_bytes(Path(path)), steps, most=1)).faults:
        raise fault
    return read.loaded(Path(path))


def read_board(data: bytes, steps: Mapping[int, Step] = STEPS) -> LoadedBoard:
    """Read a board from a file's bytes; as `load_board`, with no path.

    Raises:
        BoardFileError: the bytes are no board file, or hold an unsound board.
    """
    for fault in (read := _Reading(data, steps, most=1)).faults:
        raise fault
    return read.loaded(None)


def faults_in(path: Path | str, steps: Mapping[int, Step] = STEPS) -> tuple[BoardFileError, ...]:
    """What is wrong with a board file; empty where it reads. Of more than `MOST_FAULTS` the last says that there are.

    Args:
        path: the file.
        steps: the migration steps, by the version that they start from.
    """
    try:
        data = read_bytes(Path(path))
    except BoardFileError as error:
        return (error,)
    faults = _Reading(data, steps, most=MOST_FAULTS + 1).faults
    if len(faults) <= MOST_FAULTS:
        return faults
    more = f"it has more faults than the {MOST_FAULTS} named here"
    return (*faults[:MOST_FAULTS], BoardFileError("$", more, "correct these, then check again"))


def read_bytes(path: Path) -> bytes:
    """A file's bytes.

    Raises:
        BoardFileError: it is missing, no ordinary file, too large, or may not be read.
    """
    name = quoted_path(path)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise BoardFileError("$", f"{name} is a folder", "name a file in it")
        if not stat.S_ISREG(status.st_mode):
            raise BoardFileError("$", f"{name} is not an ordinary file", "name a file on a disk")
        if status.st_size > LARGEST_FILE_BYTES:
            limit = f"{LARGEST_FILE_BYTES // 2**20} MiB"
            raise BoardFileError("$", f"{name} is larger than {limit}", "a board file never is: check the name")
        return path.read_bytes()
    except FileNotFoundError as error:
        raise BoardFileError("$", f"there is no file {name}", "check the name and the folder") from error
    except PermissionError as error:
        raise BoardFileError("$", f"{name} may not be read", "ask its owner for permission") from error
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise BoardFileError("$", f"{name} can't be read ({why})", "check the name and the disk") from error


class _Reading:
    """One pass over a file's bytes: the board, or what is wrong with it, so much `most`."""

    def __init__(self, data: bytes, steps: Mapping[int, Step], *, most: int) -> None:
        self._data = data
        self._most = most
        self._json = data.removeprefix(BYTE_ORDER_MARK)
        self._board: Board | None = None
        self._version = VERSION
        try:
            self._version = _version_of(self._json, steps)
            self.faults = self._read(steps)
        except BoardFileError as error:
            self.faults = (error,)

    def loaded(self, path: Path | None) -> LoadedBoard:
        """The board with its source; only where there are no faults."""
        assert self._board is not None
        return LoadedBoard(
            board=self._board,
            sha256=hashlib.sha256(self._data).hexdigest(),
            path=path,
            migrated_from=self._version if self._version < VERSION else None,
        )

    def _read(self, steps: Mapping[int, Step]) -> tuple[BoardFileError, ...]:
        try:
            if self._version == VERSION:
                self._board = msgspec.json.decode(self._json, type=Board)
                plain = None
                repeated = self._taken(_read_plainly(self._json).repeated_keys())
            else:
                read = _read_plainly(self._json)
                plain, repeated = read.value, self._taken(read.repeated_keys())
                plain = plain if repeated else migrate(plain, self._version, steps)
                self._board = None if repeated else msgspec.convert(plain, Board)
        except (msgspec.MsgspecError, RecursionError, UnicodeDecodeError) as error:
            return self._explained(error, plain if self._version < VERSION else None)
        if self._board is None or repeated:
            return repeated
        return self._taken(meaning_faults(self._board))

    def _taken(self, faults: Iterable[BoardFileError]) -> tuple[BoardFileError, ...]:
        return tuple(islice(faults, self._most))

    def _explained(self, error: Exception, migrated: object) -> tuple[BoardFileError, ...]:
        if isinstance(error, RecursionError) or (migrated is None and len(self._json) > LARGEST_EXPLAINED_BYTES):
            return (_in_short(error, self._json),)
        # What was migrated had no key twice.
        read = _read_plainly(self._json) if migrated is None else _PlainJson(migrated, repeats=False)
        faults = chain(read.repeated_keys(), shape_faults(read.value, Board))
        return self._taken(faults) or (_in_short(error, self._json),)


def _version_of(data: bytes, steps: Mapping[int, Step]) -> int:
    """The file's version, where it is a board file that this program reads."""
    if not data.strip():
        raise BoardFileError("$", "the file is empty", "open a board file, or make one with `link-margin new`")
    try:
        header = msgspec.json.decode(data, type=_Header)
        word, version = (_small(header.format), _small(header.version))
    except msgspec.ValidationError as error:
        kind = kind_of(plain_json(data)) if len(data) <= LARGEST_EXPLAINED_BYTES else "something else"
        raise BoardFileError("$", f"the file holds {kind}, not a board", "open a board file") from error
    except (msgspec.DecodeError, RecursionError, UnicodeDecodeError) as error:
        raise _broken(error, data) from error
    if word != FORMAT:
        is_what = "it has no format word" if word is None else f"its format is {shown(word)}"
        remedy = f'open a file with "format": {quoted(FORMAT)}'
        raise BoardFileError("$.format", f"the file is not a board file: {is_what}", remedy)
    return check_version(version, steps)


def _small(raw: msgspec.Raw) -> object:
    """A header's value; a long one is only a stand-in for what it is."""
    if len(bytes(raw)) > 200:
        return "…"
    return plain_json(bytes(raw))


def plain_json(data: bytes) -> Any:  # noqa: ANN401 - JSON is anything
    """JSON as dicts, lists and plain values; NaN and infinities are kept for the walk to name, as are repeated keys.

    Raises:
        BoardFileError: it is no JSON.
    """
    return _read_plainly(data).value


class _PlainJson(NamedTuple):
    """JSON as it stands, and whether any object in it has a key twice: to find that out later takes a walk."""

    value: Any
    repeats: bool

    def repeated_keys(self) -> Iterator[BoardFileError]:
        """Where keys stand twice."""
        return _repeated_keys(self.value) if self.repeats else iter(())


def _read_plainly(data: bytes) -> _PlainJson:
    repeats = False

    def pairs_taken(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        nonlocal repeats
        found = _object(pairs)
        repeats = repeats or isinstance(found, _Repeating)
        return found

    try:
        return _PlainJson(json.loads(data.decode("utf-8"), object_pairs_hook=pairs_taken, parse_int=_integer), repeats)
    except (json.JSONDecodeError, RecursionError, UnicodeDecodeError) as error:
        raise _broken(error, data) from error


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen = set[str]()
    repeating = _Repeating(found)
    repeating.again = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
    return repeating


def _integer(digits: str) -> float:
    return int(digits) if len(digits) < 18 else float(digits)


def _repeated_keys(plain: object) -> Iterator[BoardFileError]:
    """Keys that stand twice in one object. Without recursion: a file may nest deeper than this language's calls may."""
    left: list[tuple[object, str]] = [(plain, "$")]
    while left:
        value, place = left.pop()
        if isinstance(value, dict):
            if isinstance(value, _Repeating):
                problem = f"the key {quoted(value.again)} stands here twice"
                yield BoardFileError(key_path(place, value.again), problem, "remove one of the two")
            inside = [(one, key_path(place, key)) for key, one in value.items() if isinstance(one, dict | list)]
        elif isinstance(value, list):
            inside = [(one, f"{place}[{n}]") for n, one in enumerate(value) if isinstance(one, dict | list)]
        else:
            continue
        left.extend(reversed(inside))


def _broken(error: Exception, data: bytes) -> BoardFileError:
    """Why bytes are no JSON, and where."""
    if isinstance(error, RecursionError):
        return BoardFileError("$", "the file is nested too deeply for a board", "open a board file")
    if isinstance(error, UnicodeDecodeError):
        return BoardFileError(_line_of(data, error.start), "the text is not UTF-8", "save the file as UTF-8")
    if isinstance(error, json.JSONDecodeError):
        ended = error.pos >= len(error.doc.rstrip()) or error.msg.startswith("Unterminated string")
        place = f"line {error.lineno}, column {error.colno}"
        return _ended(place) if ended else _malformed(place, error.msg)
    return _broken_for_msgspec(error, data)


def _broken_for_msgspec(error: Exception, data: bytes) -> BoardFileError:
    if len(data) <= LARGEST_EXPLAINED_BYTES:
        try:
            plain = plain_json(data)
        except BoardFileError as better:
            return better
        # Python's reader takes NaN, infinities and halves of surrogate pairs, which are no JSON; the walk names them.
        for fault in shape_faults(plain, Board):
            return fault
    position = re.search(r"\(byte (\d+)\)", str(error))
    if position is None:
        return _ended(_line_of(data, len(data)))
    return _malformed(_line_of(data, int(position[1])), str(error).split(": ")[-1].split(" (byte")[0])


def _ended(place: str) -> BoardFileError:
    return BoardFileError(place, "the file ends before its JSON is complete", "it was cut short: get it again whole")


def _malformed(place: str, why: str) -> BoardFileError:
    why = why[:1].lower() + why[1:]
    return BoardFileError(place, f"the text is not JSON here ({why})", "correct it there, or get the file again")


def _line_of(data: bytes, position: int) -> str:
    before = data[:position]
    return f"line {before.count(10) + 1}, column {position - before.rfind(10)}"


_WORDS = {
    "object": "an object", "array": "a list", "str": "text", "float": "a number", "int": "a whole number",
    "bool": "true or false", "null": "null",
}


def _in_short(error: Exception, data: bytes) -> BoardFileError:
    """What msgspec itself found, where the file is too large (or too deep) for the walk."""
    if not isinstance(error, msgspec.ValidationError):
        return _broken(error, data)
    said, _, place = str(error).partition(" - at ")
    place = place.strip("`") or "$"
    kinds = re.fullmatch(r"Expected `([^`]*)`, got `([^`]*)`", said)
    unknown = re.fullmatch(r"Object contains unknown field `(.*)`", said, re.DOTALL)
    if kinds:
        wanted, found = (" or ".join(_WORDS.get(kind, kind) for kind in kinds[n].split(" | ")) for n in (1, 2))
        return BoardFileError(place, f"here stands {found}", f"write {wanted}")
    if unknown:
        return BoardFileError(key_path(place, unknown[1]), f"the key {quoted(unknown[1])} is unknown", "remove it")
    return BoardFileError(place, "the value is not one that a board has here", "write one that is allowed here")
