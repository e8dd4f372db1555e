"""Judging many spoilt files: each reads or is refused in one sentence, soon and within bounds.

A case is a number: what is made of it follows from that alone, so that any finding can be made again. Cases run in a
process of their own, whose memory is watched; a case that takes too long is broken off there. What counts is the
process's own time, so that a machine that does something else as well changes nothing.
"""

import json
import resource
import signal
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from typing import NamedTuple

from workbench.errors import WorkbenchError

LONGEST_S, LONGEST_ASSESSED_S = 2.0, 60.0
"""For reading, and for computing what was read, which whoever asks can give up."""
MOST_MEMORY_KIB = 2**20
_ROOM_BYTES = 4 * 2**30
"""Of addresses, which count for more than memory: what wants more than this is stopped before it harms the machine."""
LONGEST_SENTENCE = 1500
_CHUNK, _WAITED = 2_000, 15.0

Judge = Callable[[int], str]
"""Makes a case of its number and puts it through: "read" or what else became of it; raises where it must not."""


class Hang(Exception):  # noqa: N818 - a finding, not an error of this program
    """A case took too long."""


class Found(NamedTuple):
    """What came of cases: how many of each fate, the slowest of each (s, case), most memory, and what must not be."""

    fates: dict[str, int]
    slowest: dict[str, tuple[float, int]]
    memory_kib: int
    wrong: list[tuple[int, str]]

    @property
    def cases(self) -> int:
        """How many there were."""
        return sum(self.fates.values()) + len(self.wrong)

    def told(self) -> str:
        """The figures, a fate a line, and what must not be."""
        head = (
            f"{self.cases:,} cases, most memory {self.memory_kib / 1024:.0f} MiB; {len(self.wrong)} wrong\n"
            "     number  slowest"
        )
        fates = [
            f"{count:11,}  {self.slowest[fate][0]:5.2f} s  {fate} (slowest: case {self.slowest[fate][1]})"
            for fate, count in sorted(self.fates.items())
        ]
        return "\n".join([head, *fates, *(f"  case {number}: {what}" for number, what in self.wrong[:40])])

    def and_also(self, other: "Found") -> "Found":
        """Both together."""
        names = {*self.fates, *other.fates}
        never = (0.0, -1)
        return Found(
            {fate: self.fates.get(fate, 0) + other.fates.get(fate, 0) for fate in names},
            {fate: max(self.slowest.get(fate, never), other.slowest.get(fate, never)) for fate in names},
            max(self.memory_kib, other.memory_kib),
            [*self.wrong, *other.wrong],
        )


NOTHING = Found({}, {}, 0, [])


def sentence_fault(error: WorkbenchError) -> str:
    """What is wrong with a refusal as one sentence for a user; "" where nothing is."""
    text = str(error)
    if not text.strip() or len(text) > LONGEST_SENTENCE:
        return f"a refusal of {len(text)} characters"
    if not text.isprintable():
        return f"a refusal with a character that is none: {text!r}"
    inside = next((word for word in ("Traceback", "object at 0x", "<class", "Error(") if word in text), "")
    return f"a refusal that shows the program's inside ({inside}): {text}" if inside else ""


def judge_here(judge: Judge, first: int, count: int) -> Found:
    """Judge cases in this process; warnings count as what must not be."""
    fates: dict[str, int] = {}
    wrong: list[tuple[int, str]] = []
    slowest: dict[str, tuple[float, int]] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for number in range(first, first + count):
            began = time.process_time()
            fate, fault = _judged(judge, number)
            if fault:
                wrong.append((number, fault))
                continue
            fates[fate] = fates.get(fate, 0) + 1
            slowest[fate] = max(slowest.get(fate, (0.0, -1)), (time.process_time() - began, number))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return Found(fates, slowest, memory, wrong)


def allow(seconds: float) -> None:
    """From now on so much of the processor's time; and some ten times that by the clock, for what only waits."""
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, _WAITED * seconds)


def _judged(judge: Judge, number: int) -> tuple[str, str]:
    def too_long(*_: object) -> None:
        raise Hang("too long")

    before = [signal.signal(kind, too_long) for kind in (signal.SIGPROF, signal.SIGALRM)]
    allow(LONGEST_S)
    try:
        return judge(number), ""
    except WorkbenchError as error:
        return f"refused ({type(error).__name__})", sentence_fault(error)
    except Exception as error:  # noqa: BLE001 - whatever it is, it is the finding
        place = error.__traceback__
        while place is not None and place.tb_next is not None:
            place = place.tb_next
        where = f"{place.tb_frame.f_code.co_filename}:{place.tb_lineno}" if place is not None else ""
        return "", f"{type(error).__name__} at {where}: {str(error)[:200]}"
    finally:
        allow(0.0)
        signal.signal(signal.SIGPROF, before[0])
        signal.signal(signal.SIGALRM, before[1])


def campaign(module: str, first: int, count: int) -> Found:
    """Judge cases of a campaign module in processes of their own, some thousand each; Ctrl-C ends it early."""
    found = NOTHING
    for start in range(first, first + count, _CHUNK):
        some = min(_CHUNK, first + count - start)
        command = [sys.executable, "-m", module, "--here", str(start), str(some)]
        try:
            done = subprocess.run(command, capture_output=True, text=True, check=False)
        except KeyboardInterrupt:
            break
        if done.returncode:
            found = found.and_also(Found({}, {}, 0, [(start, f"the process ended: {done.stderr[-400:]}")]))
            continue
        fates, slowest, memory, wrong = json.loads(done.stdout.splitlines()[-1])
        slowest = {fate: (seconds, number) for fate, (seconds, number) in slowest.items()}
        found = found.and_also(Found(fates, slowest, memory, [(number, what) for number, what in wrong]))
        sys.stderr.write(f"\r{found.cases:,} of {count:,}, {len(found.wrong)} wrong ")
    sys.stderr.write("\n")
    return found


def main(module: str, judge: Judge, usual: int) -> int:
    """`[CASES [FIRST]]` runs a campaign and prints its figures; status 1 where something must not be."""
    words = sys.argv[1:]
    if words[:1] == ["--here"]:
        resource.setrlimit(resource.RLIMIT_AS, (_ROOM_BYTES, _ROOM_BYTES))
        sys.stdout.write(json.dumps(judge_here(judge, int(words[1]), int(words[2]))) + "\n")
        return 0
    count, first = (int(words[0]) if words else usual), (int(words[1]) if len(words) > 1 else 0)
    found = campaign(module, first, count)
    sys.stdout.write(found.told() + "\n")
    return 1 if found.wrong or found.memory_kib > MOST_MEMORY_KIB else 0
