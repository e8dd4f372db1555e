"""Settings read from file names: ``link_EQ{EQ}_DC{DC}.s4p``, guessed from the names and shown, so as to be mended.

A pattern is the name with each changing part in braces; what stands in the braces is the control's name. All else has
to stand in every name as it is, in any case of letters.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from workbench.errors import ModelError
from workbench.wording import quoted

MOST_NAMES = 4096
_TOKEN = re.compile(r"[+-]?\d+(?:\.\d+)?|[A-Za-z]+|[^A-Za-z\d]")
_FIELD = re.compile(r"\{([^{}]*)\}")
_VALUE = r"([+\-]?[A-Za-z0-9.]+?)"


class NamePattern(NamedTuple):
    """A pattern of file names.

    Attributes:
        text: as it is shown and typed.
        controls: names of its changing parts, in their order.
    """

    text: str
    controls: tuple[str, ...]

    def read(self, name: str) -> tuple[str, ...] | None:
        """The setting of each control in a file's name; None where the name does not fit."""
        match = _expression(self.text).fullmatch(name)
        return match.groups() if match is not None else None


class Readings(NamedTuple):
    """What a pattern reads from names.

    Attributes:
        settings: by file name, one value per control.
        others: names that do not fit.
        twice: settings that more than one file has, with their names.
    """

    settings: Mapping[str, tuple[str, ...]]
    others: tuple[str, ...]
    twice: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]


def pattern_of(text: str) -> NamePattern:
    """A pattern from how it is typed.

    Raises:
        ModelError: braces that don't match, no control, one that has no name or stands twice, or two without anything
            between them.
    """
    bare = _FIELD.sub("", text)
    if "{" in bare or "}" in bare:
        raise ModelError(f"the pattern {quoted(text)} has braces that don't match; write each control as {{name}}")
    controls = tuple(name.strip() for name in _FIELD.findall(text))
    if not controls:
        raise ModelError(f"the pattern {quoted(text)} has no control; put what changes into braces, such as EQ{{EQ}}")
    if "" in controls:
        raise ModelError(f"a control of the pattern {quoted(text)} has no name; write it into its braces")
    if len({name.casefold() for name in controls}) < len(controls):
        raise ModelError(f"the pattern {quoted(text)} names a control twice; give each a name of its own")
    if "}{" in text:
        raise ModelError(
            f"two controls of {quoted(text)} touch, so that none knows where one ends; write what is between"
        )
    return NamePattern(text, controls)


def readings(pattern: NamePattern, names: Sequence[str]) -> Readings:
    """What a pattern reads from file names (without folders)."""
    settings: dict[str, tuple[str, ...]] = {}
    others: list[str] = []
    files: dict[tuple[str, ...], list[str]] = {}
    for name in names:
        found = pattern.read(name)
        if found is None:
            others.append(name)
            continue
        settings[name] = found
        files.setdefault(found, []).append(name)
    twice = tuple((values, tuple(same)) for values, same in files.items() if len(same) > 1)
    return Readings(settings, tuple(others), twice)


def guessed_pattern(names: Sequence[str]) -> NamePattern:
    """The pattern that the names seem to follow: what is alike in all stays, what changes becomes a control.

    A changing number takes its name from the letters before it ("EQ3": EQ). Names that are not built alike give one
    control between what they begin and end with.

    Raises:
        ModelError: fewer than two different names, or more than `MOST_NAMES`.
    """
    unlike = list(dict.fromkeys(names))
    if len(unlike) < 2:
        raise ModelError("one file name shows no pattern; name two files or more, or write the pattern")
    if len(unlike) > MOST_NAMES:
        raise ModelError(f"{len(unlike):,} files are more than the {MOST_NAMES:,} settings that a part can have here")
    split = [_TOKEN.findall(name) for name in unlike]
    if any(len(tokens) != len(split[0]) for tokens in split) or not _built_alike(split):
        return pattern_of(_between(unlike))
    text = "".join(_parts(split))
    return pattern_of(text) if "}{" not in text else pattern_of(_between(unlike))


def _built_alike(split: list[list[str]]) -> bool:
    """Whether names differ in words and numbers only, never in what stands between them."""
    return all(
        len({token.casefold() for token in column}) == 1 or all(token[-1].isalnum() for token in column)
        for column in zip(*split, strict=True)
    )


def _parts(split: list[list[str]]) -> Iterator[str]:
    """The pattern's parts; a changing one takes the letters before it as its name."""
    used: set[str] = set()
    before = ""
    for column in zip(*split, strict=True):
        first = column[0]
        if len({token.casefold() for token in column}) == 1:
            before = first if first.isalpha() else before
            yield first
            continue
        name, number = before or "setting", 2
        while name.casefold() in used:
            name, number = f"{before or 'setting'} {number}", number + 1
        used.add(name.casefold())
        yield f"{{{name}}}"


def _between(names: list[str]) -> str:
    """One control between the longest beginning and the longest end that all names share."""
    shortest = min(map(len, names))
    start = next((at for at in range(shortest) if len({name[at] for name in names}) > 1), shortest)
    most = shortest - start
    end = next((at for at in range(most) if len({name[-1 - at] for name in names}) > 1), most)
    return f"{names[0][:start]}{{setting}}{names[0][len(names[0]) - end :]}"


def _expression(text: str) -> re.Pattern[str]:
    """A pattern as an expression: text as it stands, a value of letters, digits, signs and points for each control."""
    parts = _FIELD.split(text)
    pieces = [re.escape(part) if at % 2 == 0 else _VALUE for at, part in enumerate(parts)]
    return re.compile("".join(pieces), re.IGNORECASE)
