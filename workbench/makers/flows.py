"""The two flows of IBIS-AMI: responses through AMI_Init, and waves through AMI_GetWave block by block.

A response is the derivative of a whole transition at the receiver's pad, V/s, so that ``sum(h) dt`` is the full swing
and a unit impulse is ``1/dt`` in one sample; a stimulus is -1/2 and +1/2 (ibis-macro list, June 2013; the text of the
standard itself names no unit). The flows are independent: what AMI_Init returns is no input to the same model's
AMI_GetWave (BIRD 120).
"""

import math
from collections.abc import Callable, Iterable, Iterator
from types import TracebackType
from typing import Final, Literal, NamedTuple, Self

import numpy as np

from workbench.arrays import Floats, Samples
from workbench.errors import ModelError
from workbench.makers.ami import AmiFile
from workbench.makers.parameter_string import Chosen, Told, chosen_values, parameter_string, read_back
from workbench.makers.session import LIMITS, Initialized, Library, Limits, Session, Waved
from workbench.makers.trust import Trusted
from workbench.makers.values import CornerName
from workbench.wording import quoted

HALF_SWING: Final = 0.5
"""A symbol of the stimulus is so high or low."""

Flow = Literal["statistical", "bit-by-bit"]


class Model(NamedTuple):
    """A model that can be run: its parameters, its library, and what it is told.

    Attributes:
        ami: its parameter file.
        library: its trusted bytes.
        key: what its results depend on, for a memo: hashes and parameter string.
        text: the parameter string.
    """

    ami: AmiFile
    library: Library
    key: tuple[str, str, str]
    text: str

    @property
    def name(self) -> str:
        """What sentences call it."""
        return self.ami.root


def model_of(trusted: Trusted, chosen: Chosen, corner: CornerName = "typ") -> Model:
    """A trusted model with its parameters.

    Args:
        trusted: the model.
        chosen: parameter values that differ from the file's, by path.
        corner: whose values hold where nothing is chosen.

    Raises:
        ModelError: a parameter that the model does not have, or a value that it does not allow.
    """
    text = parameter_string(trusted.ami, chosen_values(trusted.ami, chosen, corner))
    key = (trusted.kept.library_sha256, trusted.kept.ami_sha256, text)
    return Model(trusted.ami, trusted.library, key, text)


def refusals(ami: AmiFile, flow: Flow) -> tuple[str, ...]:
    """Why a model is not run in a flow, a sentence each; empty where it is."""
    return tuple(_refusals(ami, flow))


def _refusals(ami: AmiFile, flow: Flow) -> Iterator[str]:
    name = f"model {quoted(ami.root)}"
    if ami.flag("Resolve_Exists"):
        yield (
            f"{name} sets parameters by AMI_Resolve, which is not called here, for its signature was not found in print"
        )
    if ami.value("Rx_Use_Clock_Input") not in (None, "None", ""):
        yield f"{name} takes its clock from another receiver (Rx_Use_Clock_Input), which is not supported"
    if str(ami.value("Modulation") or "NRZ").upper() != "NRZ":
        yield f"{name} is for {ami.value('Modulation')}; lanes here send two levels"
    if str(ami.value("Repeater_Type") or "").casefold() == "retimer":
        yield f"{name} is a retimer, which decides and sends anew; only redrivers are run"
    if flow == "statistical" and not ami.flag("Init_Returns_Impulse"):
        yield (
            f"{name} does not return its response (Init_Returns_Impulse is False), so there is no statistical eye with "
            "it; only the bit-by-bit flow holds its filter"
        )
    if flow == "bit-by-bit" and not (ami.flag("GetWave_Exists") or ami.flag("Init_Returns_Impulse")):
        yield f"{name} offers neither AMI_GetWave nor a response of AMI_Init, so that nothing can be run"


class Answered(NamedTuple):
    """What a model made of responses.

    Attributes:
        responses: V/s, shape (columns, rows), as they came in where the model returns none.
        told: what its parameter string says.
        sentences: its message and what is odd, for the user.
    """

    responses: Floats
    told: Told
    sentences: tuple[str, ...]


def through_init(
    model: Model,
    responses: Floats,
    *,
    sample_interval_s: float,
    bit_time_s: float,
    limits: Limits = LIMITS,
    cancelled: Callable[[], bool] = lambda: False,
) -> Answered:
    """Responses through a model's AMI_Init: the statistical flow's step at one end of the lane.

    Aggressors beyond the model's Max_Init_Aggressors go in with further calls, each with the lane's own response.

    Args:
        model: the model.
        responses: V/s, shape (1 + aggressors, rows): the lane's own first.
        sample_interval_s: between rows, s.
        bit_time_s: one symbol, s.
        limits: what the model may take.
        cancelled: asked while waiting; True ends the run.

    Raises:
        ModelError: the model is refused in this flow, with the reason; `ModelRunError` where its code gave no answer.
    """
    for reason in refusals(model.ami, "statistical"):
        raise ModelError(f"{reason}.")
    most = model.ami.value("Max_Init_Aggressors")
    at_once = max(int(most), 0) if isinstance(most, (int, float)) else 0
    found = np.array(responses, np.float64)
    answer: Initialized | None = None
    for columns in _batches(len(responses) - 1, at_once):
        with Session(model.name, model.library, limits=limits, cancelled=cancelled) as session:
            one = session.init(
                responses[[0, *columns]], sample_interval_s=sample_interval_s, bit_time_s=bit_time_s, text=model.text
            )
        found[columns] = one.responses[1:]
        if answer is None:
            answer, found[0] = one, one.responses[0]
    assert answer is not None
    return Answered(found, *_said(model, answer))


def _batches(aggressors: int, at_once: int) -> list[list[int]]:
    """Columns of each call besides the first one; where the model takes no aggressor, the lane's own alone."""
    if not aggressors or not at_once:
        return [[]]
    columns = list(range(1, aggressors + 1))
    return [columns[start : start + at_once] for start in range(0, aggressors, at_once)]


def _said(model: Model, answer: Initialized) -> tuple[Told, tuple[str, ...]]:
    told = read_back(answer.told, model.ami.root)
    message = " ".join(answer.message.split())
    said = [f"model {quoted(model.name)} says: {quoted(message)}."] if message else []
    if told.oddity:
        said.append(f"model {quoted(model.name)}: {told.oddity}.")
    return told, tuple(said)


class Running:
    """A model's AMI_GetWave, block after block, from its AMI_Init to its AMI_Close. Used with `with`.

    Args:
        model: the model.
        response: V/s, shape (rows,): the channel, which AMI_Init gets.
        sample_interval_s: s.
        bit_time_s: s.
        limits: what the model may take.
        cancelled: asked while waiting; True ends the run.
    """

    def __init__(
        self,
        model: Model,
        response: Floats,
        *,
        sample_interval_s: float,
        bit_time_s: float,
        limits: Limits = LIMITS,
        cancelled: Callable[[], bool] = lambda: False,
    ) -> None:
        self._model, self._response = model, response
        self._sample_interval_s, self._bit_time_s = sample_interval_s, bit_time_s
        self._session = Session(model.name, model.library, wave=True, limits=limits, cancelled=cancelled)
        self.answered: Answered | None = None
        self._offset_v = 0.0

    def __enter__(self) -> Self:
        """Start it.

        Raises:
            ModelError: the model has no AMI_GetWave or is refused; `ModelRunError` where its code gave no answer.
        """
        for reason in refusals(self._model.ami, "bit-by-bit"):
            raise ModelError(f"{reason}.")
        if not self._model.ami.flag("GetWave_Exists"):
            raise ModelError(f"model {quoted(self._model.name)} has no AMI_GetWave (GetWave_Exists is False).")
        self._session.__enter__()
        try:
            answer = self._session.init(
                self._response[np.newaxis], sample_interval_s=self._sample_interval_s, bit_time_s=self._bit_time_s,
                text=self._model.text,
            )  # fmt: skip
        except BaseException as error:
            self._session.__exit__(type(error), error, error.__traceback__)
            raise
        told, said = _said(self._model, answer)
        returned = answer.responses[0] if self._model.ami.flag("Init_Returns_Impulse") else self._response
        self.answered = Answered(returned[np.newaxis], told, said)
        self._offset_v = told.number("DC_Offset") or 0.0
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End it."""
        self._session.__exit__(kind, error, trace)

    def push(self, wave_v: Floats | Samples) -> Waved:
        """The next block, `wave_v` in V, shape (n,), through the model.

        Raises:
            ModelRunError: the model's code gave no answer.
        """
        symbols = math.ceil(wave_v.size * self._sample_interval_s / self._bit_time_s)
        found = self._session.wave(wave_v, most_clocks=2 * symbols + 16)
        return found._replace(wave_v=found.wave_v + self._offset_v) if self._offset_v else found


class Convolving:
    """A response applied to a wave block after block, as one long convolution would be.

    Args:
        response: V/s per unit, shape (rows,).
        sample_interval_s: s.
    """

    def __init__(self, response: Floats, sample_interval_s: float) -> None:
        heard = np.nonzero(response)[0]
        self._taps = response[: int(heard[-1]) + 1 if heard.size else 1] * sample_interval_s
        self._rest = np.zeros(self._taps.size - 1)
        self._size, self._spectrum = 0, np.zeros(0, np.complex128)

    def push(self, wave_v: Floats) -> Floats:
        """The next block's output, shape (n,) as `wave_v`, V."""
        count = wave_v.size + self._rest.size
        if count > self._size:
            self._size = 1 << max(count - 1, 1).bit_length()
            self._spectrum = np.fft.rfft(self._taps, self._size)
        whole = np.fft.irfft(np.fft.rfft(wave_v, self._size) * self._spectrum, self._size)[:count]
        whole[: self._rest.size] += self._rest
        self._rest = whole[wave_v.size :].copy()
        return whole[: wave_v.size]


Row = Literal["both waves", "receiver's wave", "responses only"]


def row_of(transmitter: AmiFile | None, receiver: AmiFile | None) -> Row:
    """What the bit-by-bit flow of a pair of models is; None stands for an end without a model.

    Raises:
        ModelError: a transmitter with AMI_GetWave meets a receiver that has only AMI_Init. The receiver's response then
            holds the transmitter's filter already and would have to be taken apart again.
    """
    sends = transmitter is not None and transmitter.flag("GetWave_Exists")
    receives = receiver is not None and receiver.flag("GetWave_Exists")
    if sends and receiver is not None and not receives:
        assert transmitter is not None
        raise ModelError(
            f"model {quoted(transmitter.root)} sends waves and model {quoted(receiver.root)} knows responses only: its "
            "response holds the transmitter's filter already, and taking the two apart is not supported; use the "
            "statistical flow."
        )
    return "both waves" if sends else "receiver's wave" if receives else "responses only"


class ModelChannel(NamedTuple):
    """What lies between the two models.

    Attributes:
        response: V/s, shape (rows,): of a whole transition at the receiver's pad.
        sample_interval_s: s.
        bit_time_s: s.
    """

    response: Floats
    sample_interval_s: float
    bit_time_s: float


def waves(
    stimulus: Iterable[Floats],
    channel: ModelChannel,
    *,
    transmitter: Model | None = None,
    receiver: Model | None = None,
    limits: Limits = LIMITS,
    cancelled: Callable[[], bool] = lambda: False,
) -> Iterator[Waved]:
    """The bit-by-bit flow: what stands at the decision point, block after block.

    Args:
        stimulus: blocks of -1/2 and +1/2, edges drawn as they are to be sent, shape (n,) each.
        channel: what lies between.
        transmitter: the model at the sending end; None without one.
        receiver: the model at the receiving end.
        limits: what a model may take.
        cancelled: asked while waiting; True ends the run.

    Raises:
        ModelError: the pair is refused (see `row_of`), or a model; `ModelRunError` where its code gave no answer.
    """
    row = row_of(transmitter.ami if transmitter else None, receiver.ami if receiver else None)
    shared = {"sample_interval_s": channel.sample_interval_s, "bit_time_s": channel.bit_time_s}
    bound = {"limits": limits, "cancelled": cancelled}
    sent = channel.response
    if transmitter is not None and transmitter.ami.flag("Init_Returns_Impulse"):
        sent = through_init(transmitter, sent[np.newaxis], **shared, **bound).responses[0]  # type: ignore[arg-type]
    if row == "responses only":
        if receiver is not None:
            sent = through_init(receiver, sent[np.newaxis], **shared, **bound).responses[0]  # type: ignore[arg-type]
        whole = Convolving(sent, channel.sample_interval_s)
        for block in stimulus:
            yield Waved(whole.push(block), np.zeros(0), "")
        return
    first = Running(transmitter, channel.response, **shared, **bound) if row == "both waves" and transmitter else None  # type: ignore[arg-type]
    middle = Convolving(channel.response if first is not None else sent, channel.sample_interval_s)
    last = Running(receiver, sent, **shared, **bound) if receiver else None  # type: ignore[arg-type]
    yield from _pushed(stimulus, first, middle, last)


def _pushed(
    stimulus: Iterable[Floats], first: Running | None, middle: Convolving, last: Running | None
) -> Iterator[Waved]:
    """Blocks through up to two running models and the channel between them."""
    if first is not None:
        with first:
            yield from _pushed((first.push(block).wave_v for block in stimulus), None, middle, last)
    elif last is not None:
        with last:
            for block in stimulus:
                yield last.push(middle.push(block))
    else:
        for block in stimulus:
            yield Waved(middle.push(block), np.zeros(0), "")
