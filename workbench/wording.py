"""Words that the whole program shares: how values, places and near misses are shown in a sentence, and counts."""

import json
import math
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

SIGNS = {"pass": "+", "not judged": "?", "marginal": "!", "fail": "x"}
"""One plain character for each verdict, so that nothing hangs on colour alone."""
SHOWN_CHARACTERS = 60
SHOWN_PATH_CHARACTERS = 200
_MOST_COMPARED = 2_000

_PLAIN_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


def quoted(text: str) -> str:
    """Text in double quotes, on one line whatever it holds, cut at 60 characters."""
    return _in_quotes(text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…")


def quoted_path(path: Path | str) -> str:
    """A file's path in double quotes, on one line; a very long one without its beginning, since its end tells more."""
    text = str(path)
    return _in_quotes(text if len(text) <= SHOWN_PATH_CHARACTERS else "…" + text[-SHOWN_PATH_CHARACTERS:])


def shown(value: object, unit: str = "") -> str:
    """A JSON value as a sentence names it: a number with its unit, a text in quotes, a list or object by its kind."""
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, (int, float)):
        return f"{_number(value)} {unit}".rstrip()
    return quoted(value) if isinstance(value, str) else kind_of(value)


def kind_of(value: object) -> str:
    """What a JSON value is, in words: "text", "a number", "a list", "an object", ..."""
    if value is None:
        return "null"
    for kind, words in ((bool, "true or false"), (int, "a number"), (float, "a number"), (str, "text")):
        if isinstance(value, kind):
            return words
    return "a list" if isinstance(value, (list, tuple)) else "an object"


def key_path(place: str, key: str) -> str:
    """The JSON path of a key below `place`; a long key is cut as a quoted text is."""
    plain = len(key) <= SHOWN_CHARACTERS and _PLAIN_KEY.fullmatch(key)
    return f"{place}.{key}" if plain else f"{place}[{quoted(key)}]"


def any_of(words: Iterable[str], *, most: int = 8) -> str:
    """Quoted words joined by "or"; beyond `most` the rest is only counted."""
    known = [quoted(word) for word in words]
    if len(known) > most:
        return f"{', '.join(known[:most])} or one of {len(known) - most} more"
    return " or ".join([", ".join(known[:-1]), known[-1]]) if len(known) > 1 else "".join(known)


def counted(number: int, what: str, several: str = "") -> str:
    """A number with its noun: "1 lane", "2,000 lanes", "0 lanes"; `several` where the plural is not made by an s."""
    return f"{number:,} {what if number == 1 else several or what + 's'}"


def with_article(noun: str) -> str:
    """A noun with its indefinite article: "an Integer", "a Float"."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


def near(name: str, known: Sequence[str]) -> str | None:
    """The known name that `name` most likely meant; None where none is close. Of very many only some are looked at."""
    import difflib  # noqa: PLC0415 - only where a name is not known

    folded = {word.casefold()[:200]: word for word in known[:_MOST_COMPARED]}
    found = difflib.get_close_matches(name.casefold()[:200], folded, n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def instead(name: str, known: Sequence[str], otherwise: str) -> str:
    """The remedy for an unknown name: the near one, or else the few that there are, then `otherwise`."""
    meant = near(name, known)
    if meant is not None:
        return f"write {quoted(meant)}, or {otherwise}"
    if known and len(known) <= 8:
        return f"write {any_of(known)}, or {otherwise}"
    return otherwise


def _number(value: float) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return "not a number" if math.isnan(value) else f"{'minus ' if value < 0 else ''}infinity"
    return f"{value:.10g}"


def _in_quotes(text: str) -> str:
    return "".join(mark if mark.isprintable() else _escaped(mark) for mark in json.dumps(text, ensure_ascii=False))


def _escaped(mark: str) -> str:
    return f"\\u{ord(mark):04x}"
