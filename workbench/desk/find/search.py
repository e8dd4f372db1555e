"""Which of many names a few typed letters mean. No widget."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

MOST_ROWS = 200
_EXACT, _BEGINS_SO = 100.0, 10.0


class Match(NamedTuple):
    """How well a text fits what was typed (more is better), and which of its characters were meant."""

    score: float
    places: tuple[int, ...]


def match(typed: str, text: str) -> Match | None:
    """Whether the letters of every typed word occur in a text in their order, and how well.

    Beginnings of words and letters that stand together count more, long texts a little less. Case does not matter.

    Args:
        typed: words apart by spaces; none at all fits everything alike.
        text: what is looked at.

    Returns:
        None where it doesn't fit.
    """
    score = -0.01 * len(text)
    places: set[int] = set()
    folded = [mark.casefold() for mark in text]
    for word in typed.casefold().split():
        found = _placed(word, folded)
        if found is None:
            return None
        score += found.score
        places.update(found.places)
    return Match(score, tuple(sorted(places)))


def _placed(word: str, text: Sequence[str]) -> Match | None:
    """The best way to find a word's letters in order: for each letter the best score that ends at each character."""
    best: list[Match | None] = [None] * len(text)
    for number, letter in enumerate(word):
        before, best = best, [None] * len(text)
        earlier: Match | None = None  # the best that ended before the character at hand
        for at, mark in enumerate(text):
            if at and (last := before[at - 1]) is not None and (earlier is None or last.score > earlier.score):
                earlier = last
            if mark != letter:
                continue
            own = 1.0 + (3.0 if _begins(text, at) else 0.0)
            if number == 0:
                best[at] = Match(own, (at,))
                continue
            joined = before[at - 1] if at else None
            options = [Match(one.score + own + more, (*one.places, at))
                       for one, more in ((earlier, 0.0), (joined, 2.5)) if one is not None]  # fmt: skip
            best[at] = max(options, key=lambda option: option.score, default=None)
    return max((one for one in best if one is not None), key=lambda one: one.score, default=None)


def _begins(text: Sequence[str], at: int) -> bool:
    return at == 0 or not text[at - 1].isalnum() or (text[at].isdigit() and not text[at - 1].isdigit())


class Item(NamedTuple):
    """Something that can be found: what it is called, its kind in a word, its shortcut, what happens."""

    name: str
    kind: str
    run: Callable[[], None]
    shortcut: str = ""
    enabled: bool = True


class SearchMatch(NamedTuple):
    """An item, and which letters of its name were meant."""

    item: Item
    places: tuple[int, ...] = ()


def find(typed: str, items: Sequence[Item]) -> list[SearchMatch]:
    """The items that fit what was typed, the best first; alike ones in the order given."""
    fitting = []
    for number, item in enumerate(items):
        found = match(typed, item.name)
        if found is None:
            found = _match_with_kind(typed, item)
        if found is not None:
            score = found.score + _whole(typed, item.name) if typed.strip() else 0.0
            fitting.append((not item.enabled, -score, number, SearchMatch(item, found.places)))
    return [found for *_, found in sorted(fitting, key=lambda one: one[:3])[:MOST_ROWS]]


def _whole(typed: str, name: str) -> float:
    """A name that is just what was typed comes first, then one that begins so."""
    wanted, name = typed.strip().casefold(), name.casefold()
    return _EXACT if wanted == name else _BEGINS_SO if name.startswith(wanted) else 0.0


def _match_with_kind(typed: str, item: Item) -> Match | None:
    """A kind may be typed as well: "lane 3" finds RX3; its words must begin as typed."""
    score, rest = 0.0, []
    for word in typed.split():
        kind = next((one for one in item.kind.split() if one.casefold().startswith(word.casefold())), None)
        found = match(word, kind) if kind is not None else None
        if found is None:
            rest.append(word)
        else:
            score += found.score - 0.5  # a name that begins so is meant a little sooner
    found = match(" ".join(rest), item.name) if score else None
    return Match(found.score + score, found.places) if found is not None else None
