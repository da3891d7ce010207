"""Under which heading a place in a document stands: which class, and whether it lists at all."""

import re
from dataclasses import dataclass

from data_loaders.regulations.reading.classes import ClassFinder
from data_loaders.regulations.reading.cues import ENDS_CLASS, is_about_animals, takes_section_out
from data_loaders.regulations.reading.document import PSEUDO_LEVEL
from data_loaders.regulations.reading.passages import short


@dataclass(frozen=True, slots=True)
class _Section:
    level: int
    class_name: str | None
    out: str = ""
    lead_in: bool = False


class Sections:
    """The headings and lead-ins above the present place, from the outermost in."""

    def __init__(self, classes: ClassFinder) -> None:
        self._classes = classes
        self._open: list[_Section] = []

    @property
    def class_name(self) -> str | None:
        """The class that the place is under; None where the document does not show it."""
        if self._classes.only is not None:
            return self._classes.only
        named = (
            section.class_name for section in reversed(self._open) if section.class_name is not None
        )
        return next(named, None)

    @property
    def out(self) -> str:
        """Why nothing here is a listing; empty where it may be."""
        return next((section.out for section in reversed(self._open) if section.out), "")

    def heading(self, text: str, level: int) -> None:
        """A heading; one of no level only counts where it names a class or ends one."""
        named = self._classes.named_by(text)
        is_out = not named and (takes_section_out(text) or is_about_animals(text))
        ends = is_out or bool(ENDS_CLASS.match(text))
        self.end_lead_in()
        if 0 < level < PSEUDO_LEVEL or named or ends:
            depth = level or PSEUDO_LEVEL
            self._open = [section for section in self._open if section.level < depth]
            if ends and not named:
                # What ends a class ends it whatever the level that its heading had.
                self._open = [section for section in self._open if section.class_name is None]
            self._open.append(_Section(depth, named, f"under {short(text)!r}" if is_out else ""))
        else:
            self._open = [
                section for section in self._open if not self._is_loose_exception(section)
            ]

    def lead_in(self, text: str) -> None:
        """A sentence that opens a list, such as "The following are Class A weeds:"."""
        last = re.split(r"(?<=[.;])\s", text)[-1]
        self.end_lead_in()
        named = self._classes.named_by(last)
        if named:
            self._open = [section for section in self._open if section.level < PSEUDO_LEVEL]
            self._open.append(_Section(PSEUDO_LEVEL, named))
        elif takes_section_out(last):
            out = f"after {short(last)!r}"
            self._open.append(_Section(PSEUDO_LEVEL, None, out, lead_in=True))

    def end_lead_in(self) -> None:
        """What a lead-in took out ends here."""
        self._open = [section for section in self._open if not section.lead_in]

    def _is_loose_exception(self, section: _Section) -> bool:
        return bool(section.out) and section.level >= PSEUDO_LEVEL
