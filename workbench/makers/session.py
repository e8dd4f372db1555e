"""One run of a maker's code: a process of its own from AMI_Init to AMI_Close, watched and bounded.

The code can crash, hang, eat memory, write where it should not or give back nonsense: each becomes one sentence, and
the process that asked goes on. That guards against mistakes, not against malice: the code runs with the user's rights.
"""

import json
import math
import os
import queue
import signal
import struct
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np

from workbench.arrays import Floats, Samples
from workbench.errors import ModelRunError
from workbench.makers.child import LONGEST_TEXT
from workbench.makers.parameter_string import FOLDER_MARK, IDENTITY_MARK
from workbench.makers.pipes import exactly, widen
from workbench.makers.platforms import here, platforms_of
from workbench.makers.shared import SharedWaves
from workbench.wording import quoted

CHILD_WORD = "--model-child"
"""What a packaged program, which is no interpreter, is started with to be the child."""
_POLL_S = 0.05
_SHOWN = 400


Block = bytes | bytearray | memoryview
"""Raw float64."""


class Limits(NamedTuple):
    """What a model may take.

    Attributes:
        load_s: longest wait for its process to start and load it, s.
        init_s: longest wait for AMI_Init, s.
        wave_s: longest wait for one block of AMI_GetWave, s.
        memory_bytes: addresses of its process.
        cpu_s: its processor time in all, s.
        file_bytes: the largest file that it writes.
    """

    load_s: float = 120.0
    init_s: float = 60.0
    wave_s: float = 60.0
    memory_bytes: int = 4 * 2**30
    cpu_s: int = 24 * 3600
    file_bytes: int = 64 * 2**20


LIMITS = Limits()


class Library(NamedTuple):
    """A library's bytes, as they were trusted, and what comes with it.

    Attributes:
        name: its file's name.
        data: its bytes.
        supporting: (name inside the folder, bytes) of the files that it reads.
    """

    name: str
    data: bytes
    supporting: tuple[tuple[str, bytes], ...] = ()


class Initialized(NamedTuple):
    """What AMI_Init gave back: responses shape (columns, rows), its parameter string, its message."""

    responses: Floats
    told: str
    message: str


class Waved(NamedTuple):
    """What AMI_GetWave gave back: the wave in V, shape (n,), clock times in s, shape (k,), its parameter string."""

    wave_v: Floats
    clocks_s: Floats
    told: str


def _never() -> bool:
    return False


class Session:
    """A library in a process of its own. Used with `with`; at the end the process is gone.

    Args:
        name: what sentences call the model.
        library: its bytes.
        wave: whether AMI_GetWave will be called.
        limits: what it may take.
        cancelled: asked while waiting; True ends the run.
    """

    def __init__(
        self,
        name: str,
        library: Library,
        *,
        wave: bool = False,
        limits: Limits = LIMITS,
        cancelled: Callable[[], bool] = _never,
    ) -> None:
        self._name, self._library, self._limits, self._cancelled = name, library, limits, cancelled
        self._needs = ("AMI_Init", "AMI_GetWave") if wave else ("AMI_Init",)
        self._answers: queue.SimpleQueue[tuple[dict[str, Any], Block] | None] = queue.SimpleQueue()
        self._last_clock_s = 0.0
        self._shared = SharedWaves.made() if wave else None

    def __enter__(self) -> Self:
        """Start the process and load the library.

        Raises:
            ModelRunError: it is built for another platform, can't be loaded, or lacks a function.
        """
        self._check_platform()
        self._folder = tempfile.TemporaryDirectory(prefix="model-", ignore_cleanup_errors=True)
        root = Path(self._folder.name)
        for name, data in ((self._library.name, self._library.data), *self._library.supporting):
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            (root / name).write_bytes(data)
        self._errors = root / "errors.txt"
        self._start(root)
        try:
            self._ask(
                {"do": "load", "library": str(root / self._library.name), "needs": self._needs}, b"",
                "loading it", self._limits.load_s,
            )  # fmt: skip
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Let the model free what it made, then end the process, whatever it does."""
        try:
            if kind is None and self._process.poll() is None:
                self._ask({"do": "close"}, b"", "AMI_Close", min(self._limits.wave_s, 10.0))
        finally:
            self._end()

    def init(self, responses: Floats, *, sample_interval_s: float, bit_time_s: float, text: str) -> Initialized:
        """Have AMI_Init work on the responses.

        Args:
            responses: V/s, shape (columns, rows): the lane's own first, then those of its aggressors.
            sample_interval_s: between rows, s.
            bit_time_s: one symbol, s.
            text: the parameter string.

        Raises:
            ModelRunError: it failed in one of the ways that `happened` names.
        """
        columns, rows = responses.shape
        text = text.replace(FOLDER_MARK, self._folder.name).replace(IDENTITY_MARK, f"model{os.getpid()}_{id(self):x}")
        head = {
            "do": "init", "rows": rows, "aggressors": columns - 1, "sample_interval": sample_interval_s,
            "bit_time": bit_time_s, "text": text,
        }  # fmt: skip
        answer, data = self._ask(
            head, np.ascontiguousarray(responses, "<f8").tobytes(), "AMI_Init", self._limits.init_s
        )
        found = self._numbers(data, "AMI_Init", responses.size)
        return Initialized(found.reshape(columns, rows), str(answer["told"]), str(answer["message"]))

    def wave(self, wave_v: Floats | Samples, *, most_clocks: int) -> Waved:
        """Have AMI_GetWave work on the next block.

        Args:
            wave_v: V, shape (n,), of any float.
            most_clocks: more clocks than can fall into the block.

        Raises:
            ModelRunError: it failed in one of the ways that `happened` names.
        """
        head = {"do": "wave", "size": 8 * wave_v.size, "clocks": most_clocks}
        if self._shared is None:
            block = np.ascontiguousarray(wave_v, "<f8").data.cast("B")
            answer, data = self._ask(head, block, "AMI_GetWave", self._limits.wave_s)
            found = self._numbers(data, "AMI_GetWave", wave_v.size + most_clocks, checked=wave_v.size)
            return Waved(found[: wave_v.size], self._clocks(found[wave_v.size :]), str(answer["told"]))
        wave, clocks = self._shared.views(wave_v.size, most_clocks)
        wave[:] = wave_v
        answer, _ = self._ask(head, b"", "AMI_GetWave", self._limits.wave_s)
        found = wave.copy()  # what the model can't change any more
        self._require_finite(found, "AMI_GetWave")
        return Waved(found, self._clocks(clocks.copy()), str(answer["told"]))

    def _clocks(self, listed: Floats) -> Floats:
        """The clocks before the -1 that ends them; they rise over the whole run and are not negative."""
        ends = np.nonzero(~(listed >= 0.0))[0]
        if not ends.size:
            raise self._failure("clocks", "AMI_GetWave gave back a list of clock times without its end")
        clocks = listed[: int(ends[0])]
        if (
            not np.isfinite(clocks).all()
            or (np.diff(clocks) <= 0.0).any()
            or (clocks.size and clocks[0] <= self._last_clock_s and self._last_clock_s > 0.0)
        ):
            raise self._failure("clocks", "AMI_GetWave gave back clock times that do not rise")
        if clocks.size:
            self._last_clock_s = float(clocks[-1])
        return clocks

    def _check_platform(self) -> None:
        built, own = platforms_of(self._library.data), here()
        if not built:
            raise self._failure("platform", f"{quoted(self._library.name)} is not a library; take the file for {own}")
        if own not in built:
            made_for = " and ".join(map(str, built))
            raise self._failure("platform", f"its library is for {made_for}, and this is {own}; take the one for it")

    def _start(self, root: Path) -> None:
        frozen = getattr(sys, "frozen", False)
        program = [sys.executable, CHILD_WORD] if frozen else [sys.executable, "-I", "-S", str(_child_file())]
        most = self._limits
        shared = -1 if self._shared is None else self._shared.descriptor
        words = [*program, str(most.memory_bytes), str(most.cpu_s), str(most.file_bytes), str(shared)]
        kept = {name: os.environ[name] for name in ("SYSTEMROOT", "WINDIR") if name in os.environ}
        with self._errors.open("wb") as errors:
            import subprocess  # noqa: PLC0415 - most boards have no model to run

            self._process = subprocess.Popen(
                words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors, cwd=root, env=kept,
                start_new_session=True, bufsize=0, pass_fds=() if shared < 0 else (shared,),
            )  # fmt: skip
        widen(self._process)
        self._reader = threading.Thread(target=self._read, name="model answers", daemon=True)
        self._reader.start()

    def _read(self) -> None:
        """Put what the child says into the queue, None at its end; a thread of its own, so that waiting has an end."""
        stream = self._process.stdout
        assert stream is not None
        while True:
            size = exactly(stream.fileno(), 4)
            text = exactly(stream.fileno(), struct.unpack("<I", size)[0]) if size else None
            if text is None:
                break
            try:
                head = json.loads(text)
                data = exactly(stream.fileno(), int(head["bytes"]))
            except (ValueError, KeyError, TypeError):
                break
            if data is None:
                break
            self._answers.put((head, data))
        self._answers.put(None)

    def _ask(self, head: dict[str, Any], data: Block, what: str, limit_s: float) -> tuple[dict[str, Any], Block]:
        text = json.dumps({**head, "bytes": len(data)}).encode()
        self._write(struct.pack("<I", len(text)) + text)
        self._write(data)
        answer = self._await(what, limit_s)
        if answer is None:
            raise self._crash(what)
        if "error" in answer[0]:
            raise self._refusal(what, str(answer[0]["error"]), str(answer[0].get("text", "")))
        return answer

    def _write(self, message: Block) -> None:
        stream = self._process.stdin
        assert stream is not None
        try:
            view = memoryview(message)
            while view:
                view = view[stream.write(view) or 0 :]
        except (BrokenPipeError, ValueError, OSError):
            return  # the child is gone, which its end tells better

    def _await(self, what: str, limit_s: float) -> tuple[dict[str, Any], Block] | None:
        until = time.monotonic() + limit_s
        while True:
            try:
                return self._answers.get(timeout=min(_POLL_S, limit_s))
            except queue.Empty:
                if self._cancelled():
                    self._kill()
                    raise self._failure("cancelled", "its run was given up") from None
                if time.monotonic() >= until:
                    self._kill()
                    raise self._failure(
                        "hung", f"{what} did not answer within {limit_s:g} s and was ended; ask its maker"
                    ) from None

    def _numbers(self, data: Block, what: str, count: int, *, checked: int | None = None) -> Floats:
        if len(data) != 8 * count:
            raise self._failure(
                "garbled", f"{what} gave back {len(data) // 8} numbers instead of {count}; ask its maker"
            )
        found = np.frombuffer(data, "<f8").astype(np.float64, copy=False)
        self._require_finite(found[:checked], what)
        return found

    def _require_finite(self, found: Floats, what: str) -> None:
        whole = float(found.sum())  # finite only where every number is; a sum that overflows is looked at
        if not math.isfinite(whole) and not np.isfinite(found).all():
            raise self._failure("not finite", f"{what} gave back what is not a finite number; look at its parameters")

    def _refusal(self, what: str, word: str, text: str) -> ModelRunError:
        said = f": {quoted(_one_line(text))}" if text.strip() else " without a reason"
        match word:
            case "refused":
                return self._failure("refused", f"{what} reports failure{said}; look at its parameters")
            case "overran":
                return self._failure("overran", f"{what} wrote {text}; its results can't be trusted, ask its maker")
            case "load":
                return self._failure("load", f"its library can't be loaded{said}; install what it needs")
            case "missing":
                return self._failure("missing", f"its library has no function {text}; see whether it is the right file")
            case "text":
                most = f"{LONGEST_TEXT:,}"
                return self._failure("text", f"{what} gave back a text of {text}, more than {most}; ask its maker")
            case _:
                return self._failure("crashed", f"{what} found no memory; look at its parameters, or ask its maker")

    def _crash(self, what: str) -> ModelRunError:
        self._kill()
        status = self._process.wait()
        how = f"signal {-status}" if status < 0 else f"exit status {status}"
        if status < 0 and -status in {item.value for item in signal.Signals}:
            how = signal.Signals(-status).name
        said = _one_line(self._tail())
        heard = f", after it had said {quoted(said)}" if said else ""
        return self._failure("crashed", f"{what} crashed ({how}){heard}; ask its maker")

    def _tail(self) -> str:
        try:
            with self._errors.open("rb") as file:
                file.seek(0, os.SEEK_END)
                file.seek(max(0, file.tell() - _SHOWN))
                return file.read().decode("utf-8", "replace").strip().rpartition("\n")[2]
        except OSError:
            return ""

    def _failure(self, happened: str, sentence: str) -> ModelRunError:
        return ModelRunError(happened, f"model {quoted(self._name)}: {sentence}")

    def _kill(self) -> None:
        """End the process and what it started."""
        try:
            if hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)  # it leads a session, and so a group, of its own
            else:
                self._process.kill()
        except (ProcessLookupError, PermissionError):
            return  # it is gone already

    def _end(self) -> None:
        self._kill()
        self._process.wait()
        self._reader.join(timeout=5.0)
        for stream in (self._process.stdin, self._process.stdout):
            if stream is not None:
                stream.close()
        self._folder.cleanup()
        if self._shared is not None:
            self._shared.close()
            self._shared = None


def _one_line(text: str) -> str:
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())[:_SHOWN]


def _child_file() -> Path:
    return Path(__file__).with_name("child.py")
