"""What a report says of a board, in words and figures ready to be set as HTML or PDF; no layout here."""

from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, NamedTuple, get_args

from workbench.board.channel_limit import AT_LEAST, MEASURE_WORDS
from workbench.board.kept_answer import KeptAnswer
from workbench.board.library import profile_of
from workbench.board.model import Board, Lane
from workbench.board.profile import Profile, numbers_of
from workbench.board.sourced import STATUS_WORDS
from workbench.board.writing import design_sha256
from workbench.engine.assessment import Assessment, ChannelResult, EyeResult, LaneAssessment, SkewResult, Verdict
from workbench.facts import facts_of
from workbench.quantity import in_column, length_column, show
from workbench.reports.grouped import Grouped, grouped_findings
from workbench.reports.pages.budgets import BudgetPage, budget_page
from workbench.reports.pages.catalogue import EntryPage, entries_in_use
from workbench.reports.pages.changes import ChangesPage
from workbench.reports.pages.made import ReportOrigin
from workbench.reports.pages.pictures import LanePictures
from workbench.reports.pages.remedies import RemedyPage
from workbench.reports.pages.settings_sheet import SettingsSheet, settings_sheet
from workbench.reports.pages.working import Appendix
from workbench.reports.wording import VERDICTS, ratio_text, summary
from workbench.studies.budget import LaneBudget
from workbench.wording import SIGNS

Section = Literal[
    "lanes", "pictures", "budget", "findings", "studies", "settings", "catalogue", "sources", "working"
]
SECTIONS: tuple[Section, ...] = get_args(Section)
"""What can be left out; the summary and the caution can't."""

ASSUMPTIONS = (
    "Symbols are independent of each other and equally likely, unless a lane's figures say that its line code's were "
    "used.",
    "Eye height and width are statistical, at the bit error ratio named with each lane, with the jitter and noise of "
    "transmitter, conditioners and receiver; the worst case is the peak distortion without them.",
    "Losses and impedances are those of the catalogue below at the temperature they were stated for; lanes do not "
    "couple into each other.",
    "A limit without a figure is not applied; the eye must then simply be open.",
)


class LaneRow(NamedTuple):
    """One line of the lane table, as text."""

    name: str
    profile: str
    length: str
    loss: str
    height: str
    width: str
    height_margin: str
    width_margin: str
    verdict: Verdict
    sign: str


class LanePage(NamedTuple):
    """What is told of one lane beside its pictures.

    Attributes:
        row: its line of the table.
        facts: (what, figure) pairs.
        spans: (from, to, loss, return loss, delay) of each passive stretch.
        findings: (severity, sentence).
        judged_by: the limits used, each with its source.
        pictures: None where none were drawn.
    """

    row: LaneRow
    facts: tuple[tuple[str, str], ...]
    spans: tuple[tuple[str, str, str, str, str], ...]
    findings: tuple[tuple[str, str], ...]
    judged_by: tuple[str, ...]
    pictures: LanePictures | None


class LimitRow(NamedTuple):
    """A number that a profile asks for: which profile, what, the figure, its source and how far it may be trusted."""

    profile: str
    what: str
    figure: str
    source: str
    status: str


class Extras(NamedTuple):
    """What a report has beside its lanes, where it was asked for: remedies, changes since, how figures were computed.

    Attributes:
        remedies: what would make its lanes pass.
        changes: what changed since another file; None where none was named.
        appendix: how a lane's figures were computed; None for none.
        formulas: the appendix's formulas drawn, SVG documents in its figures' order; "" where there is none.
    """

    remedies: tuple[RemedyPage, ...] = ()
    changes: ChangesPage | None = None
    appendix: Appendix | None = None
    formulas: tuple[str, ...] = ()


class Handover(NamedTuple):
    """A report's whole content; `sections` are those that are shown.

    Of its own words, `extract` says that not all lanes are in it ("" where they are), `prepared` has what the board
    says of its author, reader and revision as (label, value) pairs.
    Beside each of the `answers` kept with the board stands whether the board has changed since it was asked.
    """

    title: str
    notes: str
    extract: str
    prepared: tuple[tuple[str, str], ...]
    made: ReportOrigin
    summary: str
    counts: tuple[tuple[Verdict, int], ...]
    lanes: tuple[LanePage, ...]
    findings: tuple[Grouped, ...]
    budgets: tuple[BudgetPage, ...]
    settings: SettingsSheet
    entries: tuple[EntryPage, ...]
    limits: tuple[LimitRow, ...]
    assumptions: tuple[str, ...]
    answers: tuple[tuple[KeptAnswer, bool], ...]
    sections: tuple[Section, ...]
    extras: Extras
    length_unit: str

    def lane_numbers(self) -> dict[str, int]:
        """The lanes that have a page of their own, each with the number of its anchor."""
        drawn = (lane.row.name for lane in self.lanes if lane.pictures is not None and "pictures" in self.sections)
        return {name: number for number, name in enumerate(drawn, 1)}

    def budget_numbers(self) -> dict[str, int]:
        """The lanes whose budget is there, each with the number of its anchor."""
        shown = self.budgets if "budget" in self.sections else ()
        return {budget.lane: number for number, budget in enumerate(shown, 1)}

    def contents(self) -> list[tuple[str, str]]:
        """The parts that are there, in their order: anchor and words."""
        shown, extras = self.sections, self.extras
        parts = (
            ("lanes", "Lanes", "lanes" in shown and bool(self.lanes)),
            ("findings", "Findings", "findings" in shown),
            *((f"lane-{number}", name, True) for name, number in self.lane_numbers().items()),
            ("budget", "Margin budget", "budget" in shown and bool(self.budgets)),
            ("studies", "Studies", "studies" in shown and bool(self.answers)),
            ("remedies", "Recommendations", bool(extras.remedies)),
            ("changes", "What changed", extras.changes is not None),
            ("settings", "Settings of the devices", "settings" in shown and bool(self.settings.devices)),
            ("catalogue", "Catalogue entries in use", "catalogue" in shown),
            ("sources", "Assumptions, limits and their sources", "sources" in shown),
            ("working", "How the figures were computed", "working" in shown and extras.appendix is not None),
        )  # fmt: skip
        return [(anchor, words) for anchor, words, there in parts if there]


_NO_EXTRAS = Extras()


def handover(
    board: Board,
    assessment: Assessment,
    *,
    made: ReportOrigin,
    pictures: Sequence[LanePictures] = (),
    budgets: Sequence[LaneBudget] = (),
    bars: Mapping[str, str] = MappingProxyType({}),
    extras: Extras = _NO_EXTRAS,
    without: Collection[Section] = (),
) -> Handover:
    """Put a report together.

    Args:
        board: the board that was assessed.
        assessment: of the lanes that the report is about.
        made: what the figures come from.
        pictures: drawn pictures, of any of the lanes.
        budgets: the margin budgets, of any of the lanes.
        bars: the budgets drawn, by lane.
        extras: what else was asked for.
        without: sections to leave out.
    """
    drawn = {picture.lane: picture for picture in pictures}
    by_name = {lane.name: lane for lane in board.lanes}
    chosen = [by_name[found.lane] for found in assessment.lanes]
    return Handover(
        title=board.title or "Untitled board",
        notes=board.notes,
        extract=_extract(board, chosen),
        prepared=tuple(
            (fact.label, getattr(board, fact.name)) for fact in facts_of(Board)
            if fact.name in ("prepared_by", "prepared_for", "revision") and getattr(board, fact.name)
        ),
        made=made,
        summary=summary(assessment),
        counts=_counts(assessment.lanes),
        lanes=tuple(_page(by_name[found.lane], found, drawn.get(found.lane)) for found in assessment.lanes),
        findings=grouped_findings(assessment.lanes),
        budgets=tuple(
            budget_page(one, bars.get(one.lane, "")) for one in budgets if one.lane in {lane.name for lane in chosen}
        ),
        settings=settings_sheet(board, [lane.name for lane in chosen] if len(chosen) < len(board.lanes) else None),
        entries=tuple(entries_in_use(board, chosen)),
        limits=tuple(row for profile in _profiles(board, chosen) for row in _limits(profile)),
        assumptions=ASSUMPTIONS,
        answers=tuple((one, one.board_sha256 not in ("", design_sha256(board))) for one in board.answers),
        sections=tuple(section for section in SECTIONS if section not in without),
        extras=extras,
        length_unit=length_column()[0],
    )


def _extract(board: Board, chosen: Sequence[Lane]) -> str:
    if len(chosen) == len(board.lanes):
        return ""
    return f"An extract: {len(chosen)} of {len(board.lanes)} lanes, and what belongs to these."


def _counts(lanes: Sequence[LaneAssessment]) -> tuple[tuple[Verdict, int], ...]:
    verdicts = [lane.margin.verdict for lane in lanes]
    return tuple((verdict, verdicts.count(verdict)) for verdict in VERDICTS)


def _page(lane: Lane, found: LaneAssessment, pictures: LanePictures | None) -> LanePage:
    return LanePage(
        row=_row(found),
        facts=tuple(_facts(lane, found)),
        spans=tuple(
            (
                span.from_, span.to, show(span.loss_db, "dB", digits=3), show(span.return_loss_db, "dB", digits=3),
                show(span.delay_s, "s", digits=3),
            )
            for span in found.spans
        ),
        findings=tuple((finding.severity, finding.text) for finding in found.findings),
        judged_by=found.margin.judged_by,
        pictures=pictures,
    )  # fmt: skip


def _row(found: LaneAssessment) -> LaneRow:
    margin = found.margin
    return LaneRow(
        name=found.lane,
        profile=found.profile,
        length=in_column(found.length_m),
        loss=f"{found.loss_db:.1f}",
        height=f"{found.eye.height_v * 1e3:.1f}",
        width=f"{found.eye.width_ui:.3f}",
        height_margin="" if margin.height_v is None else f"{margin.height_v * 1e3:+z.1f}",
        width_margin="" if margin.width_ui is None else f"{margin.width_ui:+z.3f}",
        verdict=margin.verdict,
        sign=SIGNS[margin.verdict],
    )


def _facts(lane: Lane, found: LaneAssessment) -> list[tuple[str, str]]:
    eye, taps = found.eye, found.equalizer.dfe_taps_v
    rows = [
        ("From, to", f"{lane.transmitter}, {lane.receiver}"),
        ("Rate", f"{show(found.rate_bps, 'bit/s')}, Nyquist {show(found.nyquist_hz, 'Hz')}"),
        ("Loss at Nyquist", show(found.loss_db, "dB", digits=3)),
        ("Delay", show(found.delay_s, "s", digits=4)),
        ("Bit error ratio", ratio_text(eye.ber)),
        ("Eye height", show(eye.height_v, "V", digits=3)),
        ("Eye width", f"{eye.width_ui:.3f} UI ({show(eye.width_s, 's', digits=3)})"),
        ("Symbols", _symbols(eye)),
        ("Worst-case height", f"{show(eye.worst_case_height_v, 'V', digits=3)} without noise and jitter"),
        ("Baseline wander", show(found.baseline_wander_v, "V", digits=2)),
    ]
    if found.margin.mask_v is not None:
        rows.append(("Off the mask", f"{show(found.margin.mask_v, 'V', digits=3)}; negative: it enters it"))
    if found.equalizer.ctle_dc_gain_db is not None:
        rows.append(("Receiver's equalizer", f"{found.equalizer.ctle_dc_gain_db:g} dB DC gain"))
    if taps:
        rows.append(("Decision feedback", ", ".join(show(tap, "V", digits=2) for tap in taps)))
    if found.equalizer.preset is not None:
        rows.append(("Transmitter's preset", found.equalizer.preset))
    return [*rows, *map(_skew_row, found.skew), *map(_channel_row, found.channel)]


def _skew_row(one: SkewResult) -> tuple[str, str]:
    """What the legs of one span's pair differ by."""
    return "Pair skew", (
        f"{show(one.skew_s, 's', digits=3)} from {one.from_} to {one.to}: {show(one.loss_db, 'dB', digits=2)} at "
        f"Nyquist; conversion loss {show(one.conversion_loss_db, 'dB', digits=3)} at {show(one.at_hz, 'Hz', digits=3)}"
    )


def _channel_row(one: ChannelResult) -> tuple[str, str]:
    """The channel against one limit over frequency."""
    where = "" if one.at_hz is None else f" at {show(one.at_hz, 'Hz', digits=3)}"
    bound = "at least" if one.measure in AT_LEAST else "at most"
    judged = "" if one.judged else ", not applied"
    label = MEASURE_WORDS[one.measure]
    limit = f"{bound} {show(one.limit, one.unit, digits=3)}{judged}"
    return label[:1].upper() + label[1:], f"{show(one.value, one.unit, digits=3)}{where} ({limit})"


def _symbols(eye: EyeResult) -> str:
    """What the symbols count as."""
    return "as the line code sends them" if eye.statistics == "coded" else "independent bits"


def _profiles(board: Board, lanes: Sequence[Lane]) -> list[Profile]:
    ids = dict.fromkeys(lane.profile or board.profile for lane in lanes)
    return [profile_of(board, one) for one in ids]


def _limits(profile: Profile) -> list[LimitRow]:
    """Every number of a profile that has a source."""
    title = f"{profile.title} ({profile.revision})" if profile.revision else profile.title
    rows = [
        LimitRow(
            title, label[:1].upper() + label[1:], show(one.value, unit) if unit else ratio_text(one.value), one.source,
            STATUS_WORDS[one.status],
        )
        for label, unit, one in numbers_of(profile)
    ]  # fmt: skip
    if profile.reference is not None:
        reference = profile.reference
        rows.append(LimitRow(title, "Reference receiver", "", reference.source, STATUS_WORDS[reference.status]))
    return rows
