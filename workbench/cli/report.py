"""`link-margin report` and `link-margin sheet`: what is handed over, as HTML, PDF or plain files."""

import argparse
import datetime
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import (
    CommandOffer,
    Commands,
    Parser,
    add_explain,
    add_independent,
    add_lengths,
    named_command,
    print_explained,
    symbols_of,
)
from workbench.cli.boards import lanes_of, load_board
from workbench.cli.progress import ProgressLine
from workbench.cli.statuses import NOT_ALL_PASS, PASSED
from workbench.errors import ReportError
from workbench.reports.pages.made import ReportOrigin, made_of
from workbench.reports.storing import write_report
from workbench.wording import any_of, quoted

if TYPE_CHECKING:
    # The engine comes with them, and help starts without it.
    from workbench.board.reading import LoadedBoard
    from workbench.engine.assessment import Assessment
    from workbench.engine.memo import Memo
    from workbench.engine.symbols import Symbols
    from workbench.reports.pages.changes import ChangesPage
    from workbench.reports.pages.handover import Extras
    from workbench.reports.pages.pictures import LanePictures
    from workbench.reports.pages.settings_sheet import SettingsSheet
    from workbench.reports.pages.working import AnswerShown, Appendix
    from workbench.studies.budget import BudgetAnswer, LaneBudget
    from workbench.studies.comparison.comparing import CompareAnswer
    from workbench.studies.pool.jobs import Basis
    from workbench.studies.remedies.answer import LaneRemedies, RemedyAnswer
    from workbench.studies.variation.tolerances import Tolerance

SECTIONS = ("lanes", "pictures", "budget", "findings", "studies", "settings", "catalogue", "sources", "working")
MANUAL_ENDINGS = (".html",)
REPORT_ENDINGS, SHEET_ENDINGS = (".html", ".pdf"), (".html", ".pdf", ".csv", ".txt", ".json")

_REPORT = """\
examples:
  link-margin report shelf.board.json -o section.html
  link-margin report shelf.board.json -o shelf.pdf --lane D0 D7
  link-margin report shelf.board.json -o short.pdf --without pictures catalogue
  link-margin report shelf.board.json -o shelf.html --remedies --since shelf-b.board.json

The file needs nothing else to be read: no network, no second file.

exit status: 0 every lane passes, 1 at least one does not, 2 the input could not be read or the report not written
"""
_SHEET = """\
examples:
  link-margin sheet shelf.board.json
  link-margin sheet shelf.board.json -o settings.pdf
  link-margin sheet shelf.board.json -o settings.csv

exit status: 0 done, 2 the input could not be read or the sheet not written
"""


def report(asked: argparse.Namespace) -> int:
    """Assess a board and write a report of it.

    Raises:
        WorkbenchError: the board can't be read, a lane is not there, or the report can't be drawn or written.
    """
    from workbench.engine.assess import assess_board  # noqa: PLC0415 - help starts without the engine
    from workbench.engine.memo import Memo  # noqa: PLC0415 - as above
    from workbench.reports.pages.handover import handover  # noqa: PLC0415 - as above

    path = _target(asked.output, REPORT_ENDINGS)
    loaded = load_board(asked.file)
    names = lanes_of(loaded.board, asked.lane) if asked.lane else tuple(lane.name for lane in loaded.board.lanes)
    symbols, memo = symbols_of(asked), Memo()
    with ProgressLine(sys.stderr) as progress:
        found = assess_board(
            loaded.board, sha256=loaded.sha256, lanes=names, symbols=symbols, progress=progress.show, memo=memo
        )
    pictures = [] if "pictures" in asked.without else _drawn(loaded, names, symbols, memo)
    short = names if asked.budget == "all" else tuple(one.lane for one in found.lanes if one.margin.verdict != "pass")
    budget = None if "budget" in asked.without or not short else _budgets(_basis(loaded, symbols), short)
    budgets = () if budget is None else budget.lanes
    bars = {} if "pictures" in asked.without else _bars(budgets)
    content = handover(
        loaded.board, found, made=_made(asked.file, loaded), pictures=pictures, budgets=budgets, bars=bars,
        extras=_extras(asked, loaded, found, memo, budget), without=asked.without,
    )  # fmt: skip
    if path.suffix.lower() == ".pdf":
        _load_toolkit()
        from workbench.desk.drawing.paper import report_pdf  # noqa: PLC0415 - with the toolkit

        report_pdf(content, path)
    else:
        from workbench.reports.pages.as_html import report_html  # noqa: PLC0415 - with its template engine

        write_report(report_html(content).encode(), path)
    sys.stdout.write(f"wrote {quoted(str(path))}: {content.summary}\n")
    return PASSED if all(lane.margin.verdict == "pass" for lane in found.lanes) else NOT_ALL_PASS


def sheet(asked: argparse.Namespace) -> int:
    """Print or write the settings sheet of a board.

    Raises:
        WorkbenchError: the board can't be read or the sheet not written.
    """
    from workbench.reports.pages.settings_sheet import settings_sheet, settings_text  # noqa: PLC0415 - help is quick

    loaded = load_board(asked.file)
    content = settings_sheet(loaded.board)
    if asked.explain:
        print_explained(asked, "Settings sheet", content, loaded.board)
        return PASSED
    if asked.output is None:
        sys.stdout.write(settings_text(content))
        return PASSED
    path = _target(asked.output, SHEET_ENDINGS)
    made = _made(asked.file, loaded)
    if path.suffix.lower() == ".pdf":
        _load_toolkit()
        from workbench.desk.drawing.paper import sheet_pdf  # noqa: PLC0415 - with the toolkit

        sheet_pdf(content, made, path)
    else:
        write_report(_sheet_text(content, made, path.suffix.lower()).encode(), path)
    sys.stdout.write(f"wrote {quoted(str(path))}\n")
    return PASSED


def written_page(changes: "ChangesPage", output: str, file: str, sha256: str) -> None:
    """Write a comparison of two boards as HTML or PDF, and say so.

    Args:
        changes: its content.
        output: the file, whose name says the kind.
        file, sha256: the second board's.

    Raises:
        ReportError: the name says no kind, or the page can't be drawn or written.
    """
    path = _target(output, REPORT_ENDINGS)
    if path.suffix.lower() == ".pdf":
        _load_toolkit()
        from workbench.desk.drawing.paper import changes_pdf  # noqa: PLC0415 - with the toolkit

        changes_pdf(changes, made_of(Path(file).name, sha256, datetime.date.today()), path)
    else:
        from workbench.reports.pages.as_html import changes_html  # noqa: PLC0415 - with its template engine

        write_report(changes_html(changes).encode(), path)
    sys.stdout.write(f"wrote {quoted(str(path))}: {changes.title}\n")


def manual(asked: argparse.Namespace) -> int:
    """Write the manual.

    Raises:
        WorkbenchError: it can't be written.
    """
    from workbench.cli.reference import command_pages  # noqa: PLC0415 - loads every command
    from workbench.reports.pages.manual import manual_html  # noqa: PLC0415 - with its template engine

    path = _target(asked.output, MANUAL_ENDINGS)
    write_report(manual_html(commands=command_pages()).encode(), path)
    sys.stdout.write(f"wrote {quoted(str(path))}\n")
    return PASSED


def _sheet_text(content: "SettingsSheet", made: ReportOrigin, ending: str) -> str:
    if ending == ".html":
        from workbench.reports.pages.as_html import sheet_html  # noqa: PLC0415 - with its template engine

        return sheet_html(content, made)
    from workbench.reports.pages.settings_sheet import settings_csv, settings_json, settings_text  # noqa: PLC0415 - as above

    return {".csv": settings_csv, ".txt": settings_text, ".json": settings_json}[ending](content)


def _extras(
    asked: argparse.Namespace, loaded: "LoadedBoard", found: "Assessment", memo: "Memo", budget: "BudgetAnswer | None"
) -> "Extras":  # fmt: skip
    """What a report has beside its lanes: remedies and changes where they are asked for, the appendix always."""
    from workbench.reports.pages.changes import changes_page  # noqa: PLC0415 - help starts without the engine
    from workbench.reports.pages.handover import Extras  # noqa: PLC0415 - as above
    from workbench.reports.pages.remedies import remedy_page  # noqa: PLC0415 - as above
    from workbench.reports.wording import worst_lane  # noqa: PLC0415 - as above

    short = [one.lane for one in found.lanes if one.margin.verdict in ("fail", "marginal")]
    names, symbols = [one.lane for one in found.lanes], symbols_of(asked)
    wanted = names if asked.corners else short
    remedies = _remedies(_basis(loaded, symbols), wanted, asked.corners) if asked.remedies and wanted else None
    shown = () if remedies is None else tuple(remedy_page(one) for one in remedies.lanes if not _passes(one))
    compared = None if asked.since is None else _changes(load_board(asked.since), loaded, symbols, names)
    changes = None if compared is None else changes_page(compared, loaded.board.guard)
    worst = worst_lane(found.lanes)
    if "working" in asked.without or worst is None:
        return Extras(shown, changes)
    from workbench.engine.figures.explaining import case_of  # noqa: PLC0415 - as above
    from workbench.reports.pages.working import appendix_of  # noqa: PLC0415 - as above

    answers = _answers_shown(loaded, worst.lane, budget, remedies, compared)
    appendix = appendix_of(case_of(loaded.board, worst.lane, symbols=symbols, memo=memo), answers)
    drawn = asked.output.lower().endswith(".pdf")  # a web page sets its formulas itself
    return Extras(shown, changes, appendix, _formulas(appendix) if drawn else ())


def _passes(one: "LaneRemedies") -> bool:
    """Whether there was nothing to look for: the lane passes, at the corners too."""
    return one.lane.verdict == "pass" and not one.offers


def _answers_shown(
    loaded: "LoadedBoard", lane: str, budget: "BudgetAnswer | None", remedies: "RemedyAnswer | None",
    compared: "CompareAnswer | None",
) -> "list[AnswerShown]":  # fmt: skip
    """What a report shows beside its lanes, with the figures of it that its appendix tells."""
    from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - help starts without the engine
    from workbench.reports.pages.budgets import budget_figures  # noqa: PLC0415 - as above
    from workbench.reports.pages.changes import change_figures  # noqa: PLC0415 - as above
    from workbench.reports.pages.remedies import remedy_figures  # noqa: PLC0415 - as above
    from workbench.reports.pages.working import AnswerShown  # noqa: PLC0415 - as above

    board, found = loaded.board, list[AnswerShown]()
    if budget is not None:
        found.append(AnswerShown(ExplainedAnswer("Margin budget", budget, board), budget_figures(budget, lane)))
    if remedies is not None:
        found.append(AnswerShown(ExplainedAnswer("Recommendations", remedies, board), remedy_figures(remedies)))
    if compared is not None:
        found.append(AnswerShown(ExplainedAnswer("What changed", compared, board), change_figures(compared)))
    return found


def _formulas(appendix: "Appendix") -> tuple[str, ...]:
    _load_toolkit()
    from workbench.desk.drawing.plates import formula_svg  # noqa: PLC0415 - with the toolkit

    return tuple("" if one.formula is None else formula_svg(one.symbol, one.formula) for one in appendix.entries)


def _basis(loaded: "LoadedBoard", symbols: "Symbols") -> "Basis":
    from workbench.studies.pool.jobs import Basis  # noqa: PLC0415 - help starts without the engine

    return Basis(board=loaded.board, sha256=loaded.sha256, symbols=symbols)


def _remedies(basis: "Basis", names: Sequence[str], corners: "Sequence[Tolerance]") -> "RemedyAnswer":
    from workbench.studies.pool.running import Effort  # noqa: PLC0415 - help starts without the engine
    from workbench.studies.remedies.search import remedy_study  # noqa: PLC0415 - as above

    with ProgressLine(sys.stderr, "assessments of remedies") as progress:
        effort = Effort(watch=lambda advance: progress.show(advance.done, advance.total, advance.left_s))
        return remedy_study(basis, lanes=names, tolerances=tuple(corners), effort=effort)


def _changes(
    before: "LoadedBoard", after: "LoadedBoard", symbols: "Symbols", names: Sequence[str]
) -> "CompareAnswer":
    from workbench.studies.comparison.comparing import compare_boards  # noqa: PLC0415 - help starts without the engine
    from workbench.studies.pool.running import Effort  # noqa: PLC0415 - as above

    first, second = _basis(before, symbols), _basis(after, symbols)
    with ProgressLine(sys.stderr, "assessments of changes") as progress:
        effort = Effort(watch=lambda advance: progress.show(advance.done, advance.total, advance.left_s))
        return compare_boards(first, second, lanes=names, effort=effort)


def _drawn(
    loaded: "LoadedBoard", names: tuple[str, ...], symbols: "Symbols", memo: "Memo"
) -> "list[LanePictures]":
    _load_toolkit()
    from workbench.desk.drawing.plates import lane_pictures  # noqa: PLC0415 - with the toolkit

    with ProgressLine(sys.stderr, "lanes drawn") as progress:
        done = iter(range(len(names)))

        def drawing(name: str) -> None:
            del name
            progress.show(next(done), len(names))

        return lane_pictures(loaded.board, names, drawing, symbols=symbols, memo=memo)


def _bars(budgets: "tuple[LaneBudget, ...]") -> dict[str, str]:
    if not budgets:
        return {}
    _load_toolkit()
    from workbench.desk.drawing.plates import budget_svg  # noqa: PLC0415 - with the toolkit

    return {one.lane: budget_svg(one) for one in budgets}


def _budgets(basis: "Basis", names: tuple[str, ...]) -> "BudgetAnswer":
    """The margin budgets of lanes, their devices set as they are: every setting of each would take minutes."""
    from workbench.studies.budget import budget_study  # noqa: PLC0415 - as above
    from workbench.studies.pool.running import Effort  # noqa: PLC0415 - as above

    with ProgressLine(sys.stderr, "assessments of margin budgets") as progress:
        effort = Effort(watch=lambda advance: progress.show(advance.done, advance.total, advance.left_s))
        return budget_study(basis, lanes=names, settings=False, effort=effort)


def _load_toolkit() -> None:
    """Load and prepare what draws.

    Raises:
        ReportError: the toolkit can't be loaded here.
    """
    try:
        from workbench.desk.drawing.plates import prepare  # noqa: PLC0415 - only who draws loads it

        prepare()
    except ImportError as error:
        raise ReportError(
            f"pictures and PDF need a system library that is missing ({error}); README says which packages bring it, "
            "or omit pictures with --without pictures and write HTML"
        ) from error


def _target(output: str, endings: tuple[str, ...]) -> Path:
    path = Path(output)
    if path.suffix.lower() not in endings:
        raise ReportError(f"{quoted(output)} says no kind of report; let the name end with {any_of(endings)}")
    return path


def _made(file: str, loaded: "LoadedBoard") -> ReportOrigin:
    return made_of(Path(file).name, loaded.sha256, datetime.date.today())


def _tolerance(typed: str) -> "Tolerance":
    from workbench.studies.variation.tolerances import tolerance_from_text  # noqa: PLC0415 - help starts without it

    return tolerance_from_text(typed)


def _add_report(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "report", _REPORT)
    offered.add_argument("file", metavar="FILE", help="board file")
    offered.add_argument("-o", "--output", metavar="OUT", required=True, help="file to write, .html or .pdf")
    offered.add_argument("--lane", metavar="NAME", nargs="+", action="extend", help="only these lanes, in this order")
    add_independent(offered)
    add_lengths(offered)
    offered.add_argument(
        "--without", metavar="SECTION", nargs="+", action="extend", choices=SECTIONS, default=[],
        help=f"sections to leave out: {', '.join(SECTIONS)}",
    )  # fmt: skip
    offered.add_argument(
        "--budget", choices=("short", "all"), default="short",
        help="margin budgets of the lanes that do not pass, or of all, which takes minutes (short)",
    )  # fmt: skip
    offered.add_argument("--remedies", action="store_true", help="with what would make lanes pass, which takes minutes")
    offered.add_argument(
        "--corners", metavar="WHAT=RANGE", nargs="+", action="extend", default=[], type=_tolerance,
        help='with --remedies: tolerances at whose corners lanes have to pass too, such as "impedance=±10%%"',
    )  # fmt: skip
    offered.add_argument("--since", metavar="FILE", help="with what changed since another board file, and what it did")


def _add_sheet(commands: "Commands[Parser]") -> None:
    offered = named_command(commands, "sheet", _SHEET)
    offered.add_argument("file", metavar="FILE", help="board file")
    offered.add_argument(
        "-o", "--output", metavar="OUT", help="file to write: .html, .pdf, .csv, .txt or .json (print it)"
    )
    add_explain(offered)
    offered.set_defaults(json=False)


def _add_manual(commands: "Commands[Parser]") -> None:
    offered = named_command(
        commands, "manual",
        "exit status: 0 done, 2 the manual could not be written",
    )  # fmt: skip
    offered.add_argument("-o", "--output", metavar="OUT", default="workbench-manual.html", help="file to write, .html")


OFFERS = (
    CommandOffer("report", _add_report, report),
    CommandOffer("sheet", _add_sheet, sheet),
    CommandOffer("manual", _add_manual, manual),
)
