"""Whether a lane needs a conditioner at all, and where it has several whether one would do."""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from workbench.board.edits.changes import Controls, Without, stages_of
from workbench.board.model import Board, Stage
from workbench.parts.conditioners.controls import Settings, first_words
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assess
from workbench.studies.setting_search.settings import stage_choices


class Alone(msgspec.Struct, frozen=True, kw_only=True):
    """A lane with one of its stages left, at the best of the settings that were tried."""

    ref: str
    settings: Settings
    figures: LaneFigures


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """What a lane does without conditioners.

    Attributes:
        lane: its name.
        devices: those that it passes through.
        passive: its figures without any.
        alone: for a lane with several stages, each of them alone.
        said: the answer in a sentence.
    """

    lane: str
    devices: tuple[str, ...]
    passive: LaneFigures
    alone: tuple[Alone, ...]
    said: str


class NeedJobs:
    """The jobs that tell the needs of some lanes.

    Args:
        board: the board.
        lanes: their names.
        which: the settings that a stage left alone is tried at; see `DeviceChoices.varied`.
        first: the number of the first job.
    """

    def __init__(self, board: Board, lanes: Sequence[str], which: str, first: int) -> None:
        self.jobs: list[Assess] = []
        self._tried: list[tuple[str, str, Settings | None]] = []
        self._first = first
        for lane in board.lanes:
            if lane.name in lanes:
                self._ask(board, lane.name, which)

    def _ask(self, board: Board, name: str, which: str) -> None:
        lane = next(one for one in board.lanes if one.name == name)
        places = stages_of(lane)
        self._add(name, "", None, (Without(name, places),))
        for at in places if len(places) > 1 else ():
            stage = lane.path[at]
            assert isinstance(stage, Stage)
            others = Without(name, tuple(place for place in places if place != at))
            choices = stage_choices(board, name, stage)
            for settings in choices.varied(which):
                self._add(name, stage.device, settings, (choices.change(settings), others))

    def _add(self, lane: str, ref: str, settings: Settings | None, changes: tuple[Controls | Without, ...]) -> None:
        self.jobs.append(Assess(number=self._first + len(self.jobs), changes=changes, lanes=(lane,)))
        self._tried.append((lane, ref, settings))

    def answers(self, board: Board, results: Mapping[int, Any]) -> tuple[Need, ...]:
        """The needs of the lanes all of whose jobs are done."""
        found: dict[str, list[tuple[str, Settings | None, LaneFigures | None]]] = {}
        for number, (lane, ref, settings) in enumerate(self._tried, self._first):
            known = results.get(number)
            found.setdefault(lane, []).append((ref, settings, known[0] if known else None))
        return tuple(
            _need(board, lane, tried) for lane, tried in found.items() if all(one is not None for _, _, one in tried)
        )


def _need(board: Board, lane: str, tried: Sequence[tuple[str, Settings | None, LaneFigures | None]]) -> Need:
    passive = next(figures for ref, _, figures in tried if not ref)
    assert passive is not None
    best: dict[str, Alone] = {}
    for ref, settings, figures in tried:
        if settings is None or figures is None:
            continue
        if ref not in best or figures.margin_guards > best[ref].figures.margin_guards:
            best[ref] = Alone(ref=ref, settings=settings, figures=figures)
    path = next(one.path for one in board.lanes if one.name == lane)
    devices = tuple(element.device for element in path if isinstance(element, Stage))
    alone = tuple(best.values())
    return Need(lane=lane, devices=devices, passive=passive, alone=alone, said=_said(lane, passive, alone))


def _said(lane: str, passive: LaneFigures, alone: Sequence[Alone]) -> str:
    without = f"normalized margin {passive.margin_guards:+z.2f} ({passive.verdict}) without"
    if passive.verdict == "pass":
        return f"{lane} needs no conditioner: {without}"
    if passive.verdict == "not judged":
        return f"{lane} has an open eye with no conditioner, and no known limit that it could miss: {without}"
    needs = "is marginal without one" if passive.verdict == "marginal" else "needs one"
    if not alone:
        return f"{lane} {needs}: {without}"
    best = max(alone, key=lambda one: one.figures.margin_guards)
    stands = f"{best.figures.margin_guards:+z.2f} ({best.figures.verdict}) at {first_words(best.settings)}"
    if best.figures.verdict in ("pass", "not judged"):
        return f"{lane} {needs}, and one is enough: {without}, {best.ref} alone {stands}"
    return f"{lane} {needs}, and one is not enough: {without}, the better one alone, {best.ref}, {stands}"
