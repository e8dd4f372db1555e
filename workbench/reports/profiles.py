"""Interface profiles as text: all of them as a table, or one with every number's source."""

from collections.abc import Iterator, Sequence

from workbench.board.profile import Profile, Sourced, Status, numbers_of
from workbench.board.sourced import STATUS_WORDS
from workbench.layout import Align, column_widths, paragraph, row_text, safe
from workbench.parts.receiver import Ctle, Dfe, PolesAndZeros
from workbench.quantity import show
from workbench.reports.wording import ratio_text

_MARKS: dict[Status, str] = {"published": " ", "common practice": "c", "from memory": "u", "own requirement": "o"}
_HEADS = (
    ("id", "rate", "UI", "coding", "BER", "height ", "width ", "held at", "loss "),
    ("", "Gb/s", "ps", "", "", "mV ", "UI ", "", "dB "),
)
_ALIGNS: tuple[Align, ...] = ("left", "right", "right", "left", "right", "right", "right", "left", "right")


def profiles_text(profiles: Sequence[Profile], *, columns: int) -> str:
    """A row a profile, then where each limit comes from; within `columns` as far as the table allows."""
    rows = [*_HEADS, *(_cells(profile) for profile in profiles)]
    widths = column_widths(rows)
    lines = [row_text(row, widths, _ALIGNS) for row in rows]
    legend = (
        "u: unverified, to be looked up before it is relied on; c: common practice; without a mark: published. "
        "'-': not known, and not applied. Heights and swings are peak to peak differential."
    )
    lines += ["", *paragraph(legend, columns), "", "Sources of the limits"]
    for profile in profiles:
        lines += _limit_sources(profile, columns)
    lines += ["", "link-margin profiles ID shows every number of one profile with its source."]
    return "\n".join(lines) + "\n"


def profile_text(profile: Profile, *, columns: int) -> str:
    """One profile: what it is, and each number with its status and source."""
    lines = [safe(f"{profile.id}: {profile.title}"), safe(f"revision: {profile.revision}")]
    lines += [f"coding: {safe(profile.coding)}; UI {show(profile.ui_s, 's')}; Nyquist {show(profile.nyquist_hz, 'Hz')}"]
    lines += paragraph(safe(profile.notes), columns)
    lines.append("")
    numbers = [(label, show(number.value, unit), number) for label, unit, number in numbers_of(profile)]
    label_columns = max(len(label) for label, _, _ in numbers)
    value_columns = max(len(shown) for _, shown, _ in numbers)
    for label, shown, sourced in numbers:
        head = f"  {label:<{label_columns}}  {shown:>{value_columns}}  "
        told = f"{STATUS_WORDS[sourced.status]}: {safe(sourced.source)}"
        lines += paragraph(told, columns, first=head, rest=" " * len(head))
    lines += ["", *_receiver_lines(profile, columns)]
    return "\n".join(lines).rstrip() + "\n"


def _cells(profile: Profile) -> tuple[str, ...]:
    return (
        safe(profile.id),
        f"{profile.rate_bps.value / 1e9:g}",
        f"{profile.ui_s * 1e12:.2f}",
        safe(profile.coding),
        ratio_text(profile.ber.value),
        _marked(profile.limits.height_v, 1e3),
        _marked(profile.limits.width_ui, 1.0),
        profile.limits.at,
        _marked(profile.loss_budget_db, 1.0),
    )


def _marked(number: Sourced | None, factor: float) -> str:
    return "- " if number is None else f"{number.value * factor:g}{_MARKS[number.status]}"


def _limit_sources(profile: Profile, columns: int) -> list[str]:
    by_source: dict[tuple[Status, str], list[str]] = {}
    for label, number in (
        ("height", profile.limits.height_v), ("width", profile.limits.width_ui), ("loss", profile.loss_budget_db),
    ):  # fmt: skip
        if number is not None:
            by_source.setdefault((number.status, number.source), []).append(label)
    lines = []
    for (status, source), labels in by_source.items():
        text = f"{' and '.join(labels)}, {STATUS_WORDS[status]}: {safe(source)}"
        lines += paragraph(text, columns, first=f"  {safe(profile.id):<10}  ", rest=" " * 14)
    return lines


def _receiver_lines(profile: Profile, columns: int) -> list[str]:
    places = {
        "pins": "at the receiver's pins", "pad": "at the die pad, after the reference package",
        "equalized": "after the reference equalizer",
    }  # fmt: skip
    lines = paragraph(f"The limits hold {places[profile.limits.at]}.", columns)
    if profile.pad_limits is not None:
        text = "Where the receiver takes the reference package, those at the pad hold, after that package."
        lines += paragraph(text, columns)
    if profile.trains_transparently:
        lines += paragraph("Link training adjusts the transmitter through the path.", columns)
    if profile.reference is None:
        return lines
    reference = profile.reference
    parts = [*_equalizer_words(reference.equalizer), *_feedback_words(reference.dfe)]
    text = f"Reference receiver: {'; '.join(parts)}. {STATUS_WORDS[reference.status]}: {safe(reference.source)}"
    return lines + paragraph(text, columns)


def _equalizer_words(equalizer: Ctle | PolesAndZeros | None) -> Iterator[str]:
    if equalizer is None:
        return
    rest = equalizer.dc_gain_db
    gains = f"{rest[0]:g} dB" if len(rest) == 1 else f"{rest[0]:g} to {rest[-1]:g} dB"
    if isinstance(equalizer, Ctle):
        corners = f"poles at {show(equalizer.first_pole_hz, 'Hz')} and {show(equalizer.second_pole_hz, 'Hz')}"
    else:
        zeros = [show(zero_hz, "Hz") for zero_hz in equalizer.zeros_hz]
        if equalizer.moving_zero_hz is not None:
            zeros.append(f"{show(equalizer.moving_zero_hz, 'Hz')} times the DC gain")
        poles = ", ".join(show(pole_hz, "Hz") for pole_hz in equalizer.poles_hz)
        corners = f"zeros at {', '.join(zeros) or 'none'}, poles at {poles}"
    added = f", to which a gain of {equalizer.peak_gain_db:g} dB at all frequencies is added"
    yield f"{corners}, DC gain {gains}{added}"


def _feedback_words(dfe: Dfe) -> Iterator[str]:
    if not dfe.taps:
        return
    taps = "1 tap" if dfe.taps == 1 else f"{dfe.taps} taps"
    limits = [show(limit, "V") for limit in dfe.limit_v]
    for tap, share in enumerate(dfe.limit_per_cursor):
        if share > 0.0:
            limits = [*limits[:tap], f"{share:g} of the cursor", *limits[tap + 1 :]]
    least = ", ".join(show(value, "V") for value in dfe.least_v)
    yield (
        f"decision feedback of {taps}" + (f" (at most {', '.join(limits)})" if limits else "")
        + (f" (at least {least})" if least else "")
    )  # fmt: skip
    if dfe.sample_left_ui:
        yield f"sampled up to {dfe.sample_left_ui:g} UI left of the eye's centre"
