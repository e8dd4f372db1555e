"""What the window's other processes do: jobs one at a time, with their progress. Knows no Qt.

A job is asked with a number; the parent may ask for another one at any time, and the job under way then ends soon.
"""

import os
import threading
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from workbench.desk.background.talk import Message, Talk, carried_out
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import LaneView, view_lane
from workbench.errors import Stopped
from workbench.waveform.result import WaveformResult
from workbench.waveform.settings import WaveformSettings

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

_MEMO = Memo(64 * 2**20)
GIVES_WAY = 5
"""How far below the window work stands that nobody waits for, as Unix counts it."""


class WantedNumber(Protocol):
    """A number that both processes see: that of the job whose answer is wanted; negative: soon."""

    value: int


class BackgroundJob(Protocol):
    """Something to do; it travels between processes, so it holds values only."""

    def run(self, talk: Talk) -> Any:  # noqa: ANN401 - each job has its own result
        """Do it; its result."""
        ...


class BitsProgress(NamedTuple):
    """How far bits have come: symbols counted, of how many."""

    counted: int
    wanted: int


class BitsJob(NamedTuple):
    """Bits through a lane to a probe point; it tells `BitsProgress`, and ends early with what was counted."""

    plan: LanePlan
    probe: str
    settings: WaveformSettings

    def run(self, talk: Talk) -> WaveformResult:
        """Send them and count what arrives."""
        from workbench.waveform.beside import with_statistical  # noqa: PLC0415 - as below
        from workbench.waveform.running import run  # noqa: PLC0415 - the window has no need of it, only this process

        def progress(counted: int, wanted: int) -> None:
            talk.tell(BitsProgress(counted, wanted))

        probe = resolve_probe(self.plan, self.probe)
        found = run(self.plan, probe, self.settings, progress, talk.hurry, memo=_MEMO)
        return found._replace(measures=with_statistical(found.measures, _MEMO, self.plan, probe))


class Awake(NamedTuple):
    """Nothing to do: its answer says that the process is there."""

    def run(self, talk: Talk) -> None:
        """Do nothing, and so be there."""


class SketchJob(NamedTuple):
    """A picture of the moment of a lane at a probe point."""

    plan: LanePlan
    probe: str
    error_ratio: float
    symbols: Symbols

    def run(self, talk: Talk) -> LaneView:
        """Make the picture."""
        del talk  # it takes a frame's time: nobody can give it up sooner
        probe = resolve_probe(self.plan, self.probe)
        return view_lane(_MEMO, self.plan, probe, self.error_ratio, EyeReach.PICTURE, symbols=self.symbols)


def serve(connection: "Connection", wanted: WantedNumber, gives_way: int = GIVES_WAY) -> None:
    """Do jobs until the parent hangs up or is gone.

    Args:
        connection: (number, job) comes in, `Message` goes out.
        wanted: the number of the job whose answer is wanted.
        gives_way: how far this process stands below the window where both want the processor.
    """
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if gives_way and hasattr(os, "nice"):
        os.nice(gives_way)
    while True:
        try:
            number, job = connection.recv()
        except EOFError:
            return
        connection.send(_done(connection, wanted, number, job))


def _done(connection: "Connection", wanted: WantedNumber, number: int, job: BackgroundJob) -> Message:
    def check() -> None:
        if abs(wanted.value) != number:
            raise Stopped

    def tell(content: Any) -> None:  # noqa: ANN401 - each job tells its own
        check()
        connection.send(Message(number, "progress", content))

    return carried_out(number, job.run, Talk(tell, check, lambda: wanted.value == -number))


def _end_with_parent() -> None:
    from multiprocessing import parent_process  # noqa: PLC0415 - the window starts without it
    from multiprocessing.connection import wait  # noqa: PLC0415 - as above

    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
