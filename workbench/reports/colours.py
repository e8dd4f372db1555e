"""Colours of the window and of reports, light and dark, in one place."""

from typing import NamedTuple


class Theme(NamedTuple):
    """Colours as "#rrggbb": surfaces from back to front, ink from strong to faint, and what carries meaning."""

    name: str
    desk: str
    sheet: str
    raised: str
    line: str
    ink: str
    quiet: str
    faint: str
    accent: str
    accent_ink: str
    passed: str
    marginal: str
    failed: str
    traces: tuple[str, str, str, str]

    @property
    def verdicts(self) -> dict[str, str]:
        """The ink of each verdict; neutral where nothing is judged."""
        return {"pass": self.passed, "not judged": self.quiet, "marginal": self.marginal, "fail": self.failed}


LIGHT = Theme(
    name="light", desk="#e9e7e2", sheet="#fbfaf8", raised="#ffffff", line="#cfcac1", ink="#1f2328", quiet="#565d66",
    faint="#8a9099", accent="#0b6e8f", accent_ink="#ffffff", passed="#00785a", marginal="#9a6a00", failed="#b8432f",
    traces=("#0072b2", "#d55e00", "#009e73", "#a04f88"),
)  # fmt: skip
DARK = Theme(
    name="dark", desk="#15181b", sheet="#1d2125", raised="#262b30", line="#3a4148", ink="#e8e6e1", quiet="#aab0b7",
    faint="#767d85", accent="#5db7d3", accent_ink="#0e1214", passed="#4cc6a0", marginal="#e6b34c", failed="#ef8a72",
    traces=("#56b4e9", "#e69f00", "#2bc59a", "#cc79a7"),
)  # fmt: skip
"""Trace colours are those of M. Okabe and K. Ito, "Color universal design", 2008, shaded for contrast on the sheet."""
