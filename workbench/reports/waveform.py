"""A waveform run as text for the terminal, as JSON, and its curves as a table."""

import csv
import io
from collections.abc import Iterator

import msgspec
import numpy as np

from workbench import __version__
from workbench.layout import Align, column_widths, paragraph, row_text, safe
from workbench.quantity import show
from workbench.reports.wording import CAUTION
from workbench.waveform.beside import doubt_of
from workbench.waveform.counts import CROSSING_BINS
from workbench.waveform.result import EyeDoubt, WaveformMeasures, WaveformResult

COLUMNS = ("what", "time_ui", "time_s", "level_v", "value")
_METHODS = {
    "counted": "counted", "extrapolated": "extrapolated (Q scale)", "statistical": "statistical, independent bits",
    "coded": "statistical, line-coded symbols",
}  # fmt: skip
_ALIGNS: tuple[Align, ...] = ("left", "right", "right", "right")


def waveform_text(measures: WaveformMeasures, *, complete: bool, columns: int) -> str:
    """What was sent, errors, eye, jitter and clock.

    Args:
        measures: of a run, with the statistical eye beside them or without.
        complete: whether the run was let to its end.
        columns: width to stay within.
    """
    errors = measures.errors
    title = (
        f"{safe(measures.lane)}, {safe(measures.profile)}, at {safe(measures.probe)}: {errors.symbols} symbols of "
        f"{safe(measures.pattern)}, seed {measures.seed}"
    )
    lines = paragraph(title + ("" if complete else "; stopped before its end"), columns)
    lines += ["", *paragraph(_errors(measures), columns), "", *_table(measures)]
    for sentence in _notes(measures):
        lines += ["", *paragraph(sentence, columns)]
    return "\n".join([*lines, "", *paragraph(CAUTION, columns)]) + "\n"


def _errors(measures: WaveformMeasures) -> str:
    seen = measures.errors
    ratio = f"{seen.errors} errors" if seen.errors != 1 else "1 error"
    low = f"from {seen.low:.2g} to {seen.high:.2g}" if seen.errors else f"below {seen.high:.2g}"
    return f"{ratio} in {seen.symbols} symbols: BER {low} with {100 * seen.confidence:g} % confidence."


def _table(measures: WaveformMeasures) -> list[str]:
    rows: list[tuple[str, ...]] = [("eye", "BER", "height", "width")]
    rows += [
        (_METHODS[one.method], ratio_text(one.error_ratio), _value(one.height_v, one.height_error_v, "V"),
         _value(one.width_ui, one.width_error_ui, "UI"))
        for one in measures.openings
    ]  # fmt: skip
    widths = column_widths(rows)
    return [row_text(row, widths, _ALIGNS) for row in rows]


def _value(value: float | None, error: float | None, unit: str) -> str:
    if value is None:
        return "-"
    scale, name = (1e3, "mV") if unit == "V" else (1.0, unit)
    digits = 1 if unit == "V" else 3
    about = "" if error is None else f" ± {scale * error:.{digits}f}"
    return f"{scale * value:.{digits}f}{about} {name}"


def _notes(measures: WaveformMeasures) -> Iterator[str]:
    yield from (f"{safe(one[:1].upper())}{safe(one[1:])}." for one in measures.notes)
    difference = _difference(measures)
    if difference is not None:
        yield difference
    doubt = doubt_of(measures)
    if doubt is not None:
        yield doubt_text(doubt)
    yield _jitter(measures)
    corner = measures.clock_corner_hz
    clock = "The clock is an ideal fixed one"
    if corner:
        clock = f"The clock follows what is slower than {show(corner, 'Hz', digits=3)}"
    practice = ", common practice where a profile says nothing" if corner else ""
    yield (
        f"{clock}{practice}; sampled {measures.sampling_ui:.3f} UI after the crossing. Coupling capacitors count as "
        "shorts: their baseline wander is in the assessment."
    )


def _difference(measures: WaveformMeasures) -> str | None:
    """Extrapolation less counting, where both are known."""
    for seen in measures.openings:
        line = measures.opening("extrapolated", seen.error_ratio)
        if seen.method == "counted" and line is not None and line.height_v is not None and seen.height_v is not None:
            width = ""
            if line.width_ui is not None and seen.width_ui is not None:
                width = f" and {line.width_ui - seen.width_ui:+z.3f} UI"
            return (
                f"At {ratio_text(seen.error_ratio)} extrapolation differs from counting by "
                f"{1e3 * (line.height_v - seen.height_v):+z.1f} mV{width}: a straight line on the Q scale takes the "
                "tails for Gaussian, also further down than they were seen."
            )
    return None


def doubt_text(doubt: EyeDoubt) -> str:
    """What to think of a statistical eye that counting doesn't bear out."""
    parts = []
    if doubt.height_v is not None:
        parts.append(f"{abs(1e3 * doubt.height_v):.1f} mV {_more(doubt.height_v)} height")
    if doubt.width_ui is not None:
        parts.append(f"{abs(doubt.width_ui):.3f} UI {_more(doubt.width_ui)} width")
    return (
        f"At {ratio_text(doubt.error_ratio)} the statistical eye has {' and '.join(parts)} than was counted, more than "
        "both should differ; take the difference for the doubt in its margin."
    )


def _more(value: float) -> str:
    return "more" if value > 0.0 else "less"


def _jitter(measures: WaveformMeasures) -> str:
    jitter = measures.jitter
    rms, whole = show(jitter.rms_s, "s", digits=3), show(jitter.peak_to_peak_s, "s", digits=3)
    text = f"Crossings: {rms} rms, {whole} peak to peak"
    if jitter.random_s is None or jitter.deterministic_s is None or jitter.total_s is None:
        return f"{text}; their tails hold too few to be separated into random and deterministic."
    return (
        f"{text}; by a dual-Dirac fit to both tails random {show(jitter.random_s, 's', digits=3)} rms, deterministic "
        f"{show(jitter.deterministic_s, 's', digits=3)}, total {show(jitter.total_s, 's', digits=3)} at "
        f"{ratio_text(jitter.error_ratio)}."
    )


def ratio_text(ratio: float) -> str:
    """An error ratio as a power of ten: 1e-4, 2.5e-5."""
    digits, _, exponent = f"{ratio:.2e}".partition("e")
    return f"{digits.rstrip('0').rstrip('.')}e{int(exponent)}"


def waveform_json(measures: WaveformMeasures, *, complete: bool, board: str, sha256: str) -> str:
    """The measures as JSON, two-space indent.

    Args:
        measures: of a run.
        complete: whether the run was let to its end.
        board: the board's title.
        sha256: of its file.
    """
    head = {
        "format": "link-margin-waveform", "version": 1, "board": board, "board_sha256": sha256, "program": __version__,
    }  # fmt: skip
    content = {
        **head, "complete": complete, **msgspec.to_builtins(measures),
        "doubt": msgspec.to_builtins(doubt_of(measures)),
    }  # fmt: skip
    return msgspec.json.format(msgspec.json.encode(content), indent=2).decode() + "\n"


def waveform_csv(result: WaveformResult) -> str:
    """The curves, a row a point: the bathtub (error ratio), crossings and density (counts); SI units.

    The density's empty cells are left out.
    """
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(COLUMNS)
    ui_s = result.measures.ui_s
    for time_ui, ratio in zip(result.time_ui.tolist(), result.error_ratio.tolist(), strict=True):
        writer.writerow(("BER", time_ui, time_ui * ui_s, None, ratio))
    bins = result.crossings.size
    for number, count in enumerate(result.crossings.tolist()):
        time_ui = (number + 0.5) / CROSSING_BINS - bins / CROSSING_BINS / 2.0
        writer.writerow(("crossings", time_ui, time_ui * ui_s, None, count))
    columns, levels = result.density.shape
    for column, level in zip(*np.nonzero(result.density), strict=True):
        time_ui = (float(column) + 0.5) / columns
        level_v = ((float(level) + 0.5) / (levels / 2) - 1.0) * result.range_v
        writer.writerow(("density", time_ui, time_ui * ui_s, level_v, int(result.density[column, level])))
    return lines.getvalue()

