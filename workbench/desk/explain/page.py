"""An explanation as the page below its formula: numbers put in, inputs that lead on, range, checks. No widget."""

from collections.abc import Sequence
from html import escape

from workbench.engine.figures.entry import FigureInput
from workbench.engine.figures.explaining import Explanation
from workbench.reports.explained import place_text, value_text

FIGURE, FIELD, LANE = "figure", "field", "lane"
"""What a link leads to: another figure of the same, a field of the catalogue, a figure of the lane behind an answer."""


def heading_of(one: Explanation) -> str:
    """The figure's place and value."""
    return f"{one.path} = {value_text(one.value, one.unit)}"


def page_html(one: Explanation, *, to_lane: bool = False, others: Sequence[str] = ()) -> str:
    """Everything but the formula itself.

    Args:
        one: the figure.
        to_lane: whether a lane's figure behind an answer can be followed.
        others: what was shown with it in the same place, each by its name.
    """
    parts = [f"<p>{escape(one.meaning)}</p>"]
    if others:
        parts.append(f"<p><span class='quiet'>Shown with it:</span> {' '.join(map(_linked, others))}</p>")
    if one.numbers:
        parts.append(f"<p class='quiet'>With its numbers</p><p>{escape(one.numbers)}</p>")
    if one.method:
        parts.append(f"<p class='quiet'>Method</p><p>{escape(one.method)}</p>")
    if one.inputs:
        rows = "".join(_row(each, to_lane=to_lane) for each in one.inputs)
        parts.append(f"<p class='quiet'>Inputs; a link leads to what it names</p><table>{rows}</table>")
    inside = "inside" if one.inside else "<b>outside</b>"
    parts.append(f"<p class='quiet'>Range</p><p>{escape(one.holds)}; it lies {inside}.</p>")
    parts += [f"<p>{escape(text)}</p>" for text in one.doubts]
    checks = "".join(
        f"<li>{escape(each.source)}; tolerance: {escape(each.tolerance)}<br>"
        f"<span class='quiet'>{escape(each.test)}</span></li>"
        for each in one.checks
    )
    parts.append(f"<p class='quiet'>Checked against</p><ul>{checks}</ul>")
    parts.append(f"<p class='quiet'>How far it can be off</p><p>{escape(one.off)}</p>")
    return "".join(parts)


def link_of(one: FigureInput, *, to_lane: bool = False) -> str:
    """Where an input leads: "figure:PATH", "field:SECTION/NAME", "lane:PATH" where that may be; "" nowhere."""
    if one.origin == "figure":
        return f"{FIGURE}:{one.where.split(', ')[0]}"
    if one.origin == "lane" and to_lane and " " not in one.where:
        return f"{LANE}:{one.where}"
    if one.origin in ("catalogue", "default"):
        section, _, rest = one.where.partition("/")
        name = rest.rsplit("/", 1)[0]
        return f"{FIELD}:{section}/{name}" if name else ""
    return ""


def _row(one: FigureInput, *, to_lane: bool) -> str:
    value = escape(value_text(one.value, one.unit))
    shown = _place(one, to_lane=to_lane)
    if one.origin == "figure":
        shown = "".join(map(_linked, one.where.split(", ")))
    return (
        f"<tr><td><i>{escape(one.symbol)}</i>&nbsp;=&nbsp;</td><td>{value}&nbsp;&nbsp;</td>"
        f"<td>{escape(one.meaning)}&nbsp;&nbsp;</td><td>{shown}</td></tr>"
    )


def _linked(path: str) -> str:
    return f"<a href='{FIGURE}:{escape(path)}'>{escape(path)}</a> " if path else ""


def _place(one: FigureInput, *, to_lane: bool) -> str:
    words, link = escape(place_text(one)), link_of(one, to_lane=to_lane)
    return f"<a href='{escape(link, quote=True)}'>{words}</a>" if link else words
