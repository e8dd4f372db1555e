"""A part's controls: what can be set on it, and how a device is set.

A control is anything that a data sheet lets one choose: a strap, a register field, a resistor. It has named positions;
a device's settings name one position of each of its part's controls.
"""

from collections.abc import Iterable
from typing import Annotated, Any, NamedTuple, NoReturn

from workbench.facts import text
from workbench.parts.record import Record

SettingName = Annotated[
    str, text("Setting", "The strap or register value, as the part's data sheet names it.", required=True)
]


class Setting(Record, kw_only=True):
    """One position of a control."""

    setting: SettingName

    def strength(self) -> float:
        """What the position does, as the number that a control's positions are ordered by."""
        return 0.0


class Control(NamedTuple):
    """Something that is set on a device.

    Attributes:
        name: what files and commands call it.
        label: what a form calls it.
        help: one sentence: what it sets.
        positions: its positions, in the part's order.
    """

    name: str
    label: str
    help: str
    positions: tuple[Setting, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The positions' names."""
        return tuple(position.setting for position in self.positions)


class Settings(dict[str, str]):
    """The position of each control by the control's name; it never changes, and it keys the memo.

    Two are equal where they say the same, whatever their order.
    """

    def __hash__(self) -> int:  # type: ignore[override]  # a dict that never changes
        return hash(frozenset(self.items()))

    def __reduce__(self) -> tuple[Any, ...]:
        return Settings, (dict(self),)

    def __or__(self, other: dict[str, str]) -> "Settings":  # type: ignore[override]  # only what it holds
        return Settings({**self, **other})

    def only(self, controls: Iterable[str]) -> "Settings":
        """The settings of some controls, in their order; what is not set is left out."""
        return Settings({control: self[control] for control in controls if control in self})

    def _refused(self, *_: object, **__: object) -> NoReturn:
        raise TypeError("settings don't change: make others with |")

    __setitem__ = __delitem__ = __ior__ = _refused
    clear = pop = popitem = setdefault = update = _refused


def controls_in(settings: Iterable[Settings | None]) -> tuple[str, ...]:
    """Every control that any of some settings name, each once, in the order in which they are met."""
    return tuple(dict.fromkeys(control for one in settings if one is not None for control in one))


def first_words(settings: Settings) -> str:
    """The control that acts first on the signal, and its position: "equalization 5"; "as it is" where there is none."""
    return next((f"{control} {position}" for control, position in settings.items()), "as it is")


def first_position(settings: Settings) -> str:
    """The position of the control that acts first on the signal; "as it is" where there is none."""
    return next(iter(settings.values()), "as it is")
