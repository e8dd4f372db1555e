"""What passes between work in the background and who asked for it, on a thread as in a process. Knows no Qt."""

import traceback
from collections.abc import Callable
from typing import Any, NamedTuple

from workbench.errors import Stopped, WorkbenchError


class Talk(NamedTuple):
    """What work has for talking with who asked.

    Attributes:
        tell: sends its progress.
        check: raises `Stopped` once the answer is not wanted any more.
        hurry: whether it is to end soon with what it has.
    """

    tell: Callable[[Any], None]
    check: Callable[[], None]
    hurry: Callable[[], bool] = lambda: False


def _say_nothing(content: Any) -> None:  # noqa: ANN401 - each work tells its own
    del content


ALONE = Talk(_say_nothing, lambda: None)
"""For work that nobody follows or gives up."""


class Failure(NamedTuple):
    """What nobody foresaw: the name of its kind, and where it came from, for the log."""

    kind: str
    trace: str


class Message(NamedTuple):
    """What comes back about a piece of work, by its number.

    `kind` is "progress", "done" (its result), "failed" (a sentence for the user), "broken" (a `Failure`), "cancelled".
    """

    number: int
    kind: str
    content: Any


def carried_out(number: int, work: Callable[[Talk], Any], talk: Talk) -> Message:
    """Do work, whatever it meets: the last message about it."""
    try:
        return Message(number, "done", work(talk))
    except Stopped:
        return Message(number, "cancelled", None)
    except WorkbenchError as error:
        return Message(number, "failed", str(error))
    except Exception as error:  # noqa: BLE001 - whatever fails here must reach the user's log, not end it unsaid
        return Message(number, "broken", Failure(type(error).__name__, traceback.format_exc()))
