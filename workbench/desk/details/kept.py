"""Forms of the details that were shown lately: shown again they are only filled anew, not made anew."""

from collections.abc import Callable

from PySide6.QtWidgets import QVBoxLayout

from workbench.desk.details.pages import Section
from workbench.desk.details.section import SectionForm

MOST = 12
_Make = Callable[[Section], SectionForm]


class KeptForms:
    """Gives a form for each section of a page; those that are out of sight stay hidden in the layout.

    Args:
        stack: where forms stand; what follows them is left alone.
    """

    def __init__(self, stack: QVBoxLayout) -> None:
        self._stack = stack
        self._kept: list[SectionForm] = []

    def forget(self) -> None:
        """Keep no form: what they show is told otherwise from now on."""
        for form in self._kept:
            self._stack.removeWidget(form)
            form.hide()
            form.deleteLater()
        self._kept = []

    def show(self, sections: tuple[Section, ...], make: _Make) -> tuple[SectionForm, ...]:
        """Show the forms of some sections, in their order, and hide all others; `make` makes those that are missing."""
        shown = tuple(self._form_for(section, make) for section in sections)
        for form in self._kept:
            if form not in shown and not form.isHidden():
                form.rest()
                form.hide()
        for place, form in enumerate(shown):
            if self._stack.indexOf(form) != place:
                self._stack.insertWidget(place, form)
            form.show()
        others = [form for form in self._kept if form not in shown]
        self._kept = [*others[max(0, len(others) + len(shown) - MOST) :], *shown]
        for old in others[: max(0, len(others) + len(shown) - MOST)]:
            self._stack.removeWidget(old)
            old.deleteLater()
        return shown

    def _form_for(self, section: Section, make: _Make) -> SectionForm:
        for form in self._kept:
            if form.fits(section):
                form.show_section(section)
                return form
        form = make(section)
        self._kept.append(form)
        return form
