"""Lane lists, measurements beside lanes, and fits as text and JSON."""

from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from workbench.layout import Align, column_widths, paragraph, row_text, safe
from workbench.measured.fit.fitting import FitReport, FittedValue
from workbench.measured.overlay.figures import Overlay
from workbench.measured.tables.lane_lists import LaneListReport
from workbench.quantity import show

_MOST_ROWS = 40


def lane_list_text(report: LaneListReport, *, columns: int = 100) -> str:
    """What a lane list did: columns and their runs, lengths that changed, and all that did not match."""
    lines = [f"{safe(report.source)} read by the path of lane {safe(report.pattern)}"]
    lines += [f"  {safe(run.title)}: element {run.place}" for run in report.runs]
    lines += _changes(report)
    said = [
        ("lanes that had these lengths already", report.unchanged),
        ("lanes added", report.added),
        ("devices fitted for them", report.devices),
        ("lanes of the board that the list does not name", report.not_listed),
        ("columns not used", report.unused_columns),
        ("empty cells, runs left as they are", [f"line {cell.line} ({cell.title})" for cell in report.blanks]),
        ("skew of pairs", [f"{skew.lane} {show(skew.skew_m, 'm', digits=3)}" for skew in report.skews]),
    ]
    for head, names in said:
        if names:
            listed = ", ".join(safe(name) for name in names)
            lines += paragraph(f"{head} ({len(names)}): {listed}", columns, rest="  ")
    if report.left_out:
        lines.append(f"rows left out ({len(report.left_out)}):")
        lines += [f"  line {out.line}, {safe(out.name)}: {safe(out.why)}" for out in report.left_out]
    return "\n".join(lines) + "\n"


def _changes(report: LaneListReport) -> list[str]:
    if not report.changed:
        return ["no length changed"]
    rows = [("lane", "element", "before", "after")]
    rows += [
        (safe(change.lane), str(change.place), show(change.before_m, "m"), show(change.after_m, "m"))
        for change in report.changed[:_MOST_ROWS]
    ]
    more = len(report.changed) - _MOST_ROWS
    return [
        f"lengths that changed ({len(report.changed)}):",
        *_table(rows, ("left", "right", "right", "right")),
        *([f"  and {more} more"] if more > 0 else []),
    ]


def overlay_text(overlay: Overlay, *, columns: int = 100) -> str:
    """One measurement beside its lane: alignment, difference, figures and notes."""
    lines = [f"{safe(overlay.name)}, {safe(overlay.probe)}"]
    aligned, difference = overlay.alignment, overlay.difference
    if aligned.delay_s != 0.0:
        late = "later" if aligned.delay_s > 0.0 else "earlier"
        lines.append(f"  aligned: measured {show(abs(aligned.delay_s), 's')} {late}")
    if (aligned.gain, aligned.offset) != (1.0, 0.0):
        lines.append(f"  level: gain {aligned.gain:.4g}, offset {show(aligned.offset, overlay.y_unit)}")
    if difference is not None:
        unit = overlay.y_unit
        where = show(difference.worst_at, overlay.x_unit)
        lines.append(
            f"  {overlay.y_label}, measured − model: rms {_figure(difference.rms, unit)}, "
            f"mean {_figure(difference.mean, unit)}, worst {_figure(difference.worst, unit)} at {where}, "
            f"{overlay.x.size} points"
        )
    for figure in overlay.figures:
        apart = _figure(figure.apart, figure.unit)
        lines.append(
            f"  {figure.label}: measured {_figure(figure.measured, figure.unit)}, "
            f"model {_figure(figure.model, figure.unit)}, difference {apart}"
        )
    for note in overlay.notes:
        lines += paragraph(safe(note), columns, first="  ", rest="  ")
    return "\n".join(lines) + "\n"


def overlay_data(overlay: Overlay) -> dict[str, Any]:
    """An overlay as plain data for JSON: curves as lists, SI units."""
    plain = overlay._asdict()
    for key in ("x", "y_measured", "y_model"):
        plain[key] = plain[key].tolist()
    plain["alignment"] = overlay.alignment._asdict()
    plain["difference"] = overlay.difference._asdict() if overlay.difference is not None else None
    plain["figures"] = [figure._asdict() for figure in overlay.figures]
    return plain


def fit_text(report: FitReport, *, columns: int = 100) -> str:
    """What a fit did: before, after, uncertainty, residual, and what the data don't tell."""
    rows: list[tuple[str, ...]] = [("value", "before", "after", "uncertainty", "bounds")]
    rows += [_fit_row(value) for value in report.values]
    lines = _table(rows, ("left", "right", "right", "right", "left"))
    lines.append(
        f"residual (rms of model − measured, {report.points} numbers): "
        f"{report.residual_before:.3g} before, {report.residual_after:.3g} after"
    )
    lines += paragraph(
        "uncertainty: all values lie within theirs with 95 % probability, from the Jacobian at the solution, "
        "if what is left is noise",
        columns,
    )
    for note in report.notes:
        lines += paragraph(f"note: {safe(note)}", columns, rest="  ")
    return "\n".join(lines) + "\n"


def _fit_row(value: FittedValue) -> tuple[str, ...]:
    known = "not known" if value.uncertainty is None else show(value.uncertainty, value.unit, digits=2)
    return (
        safe(value.path),
        show(value.before, value.unit, digits=5),
        show(value.after, value.unit, digits=_digits(value)),
        known,
        f"{show(value.lower, value.unit)} to {show(value.upper, value.unit)}",
    )


def _digits(value: FittedValue) -> int:
    """As many digits as the uncertainty warrants, and two that it does not."""
    if not value.uncertainty or not value.after:
        return 5
    return int(np.clip(np.log10(abs(value.after) / value.uncertainty) + 2.5, 3, 10))


def as_json(value: object) -> str:
    """A report, or plain data of several, as JSON with two-space indent."""
    return msgspec.json.format(msgspec.json.encode(value), indent=2).decode() + "\n"


def _table(rows: Sequence[Sequence[str]], aligns: Sequence[Align]) -> list[str]:
    widths = column_widths(rows)
    return [f"  {row_text(row, widths, aligns)}" for row in rows]


def _figure(value: float, unit: str) -> str:
    return show(value, unit, digits=3)
