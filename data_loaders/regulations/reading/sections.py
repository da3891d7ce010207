"""Under which heading a place in a document stands: which class, and whether it lists at all."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from data_loaders.regulations.reading.classes import ClassFinder
from data_loaders.regulations.reading.cues import ENDS_CLASS, is_about_animals, takes_section_out
from data_loaders.regulations.reading.document import PSEUDO_LEVEL, one_line
from data_loaders.regulations.reading.lines import ENUMERATOR
from data_loaders.regulations.reading.scan import Found

_CONTEXT = 60
"""Letters shown on either side of a name."""
_NEAR_THE_BEGINNING = 40
_EVERY = re.compile(r"(?i)^\s*(?:(?:non-?native|exotic|all|any)\s+)+")


def lone_genus(text: str, names: Sequence[Found]) -> str:
    bare = ENUMERATOR.sub("", text).strip(" .:;,-–—")
    bare = re.sub(r"(?i)^(the\s+)?genus\s+", "", bare)
    bare = re.sub(r"\s*\([^)]*\)$", "", bare)
    return next(
        (
            name.name
            for name in names
            if name.sort == "genus" and bare.lower() == name.printed.lower()
        ),
        "",
    )


def stands_alone(text: str, found: Found) -> bool:
    """Whether a genus without a species is a listing of its own, not the beginning of something."""
    before = _EVERY.sub("", ENUMERATOR.sub("", text[: found.start])).rstrip()
    after = text[found.end :].lstrip()
    return (not before or before[-1] in "(;|") and (not after or after[0] in "();,|.-–—\n")


def shares_its_piece(text: str, found: Found, names: Sequence[Found]) -> bool:
    """Whether a full name is in the same piece, between commas or semicolons."""
    first = max(text.rfind(sign, 0, found.start) for sign in ";,") + 1
    ends = [place for sign in ";," if (place := text.find(sign, found.end)) >= 0]
    last = min(ends, default=len(text))
    return any(name.sort != "genus" and first <= name.start < last for name in names)


def is_named_genus(text: str, found: Found) -> bool:
    """``the genus Salvinia``; ``Salvinia, all species``."""
    return bool(
        re.search(r"(?i)\bgen(?:us|era)\s+$", text[: found.start])
        or re.match(r"(?i)[\s,(]*(?:all|any)\s+(?:species|members|taxa)\b", text[found.end :])
        or re.match(r"(?i)[\s,]*\(all\)", text[found.end :])
    )


def is_prose(text: str, names: Sequence[Found]) -> bool:
    """A long sentence with a name in it, though it has a number in front."""
    if names and names[0].start < _NEAR_THE_BEGINNING:
        return False
    outside = len(text.split()) - sum(len(name.printed.split()) for name in names)
    return outside > 30 and len(names) < 3


def common_beside(text: str, found: Found) -> str:
    """The common name in brackets after a name, or before a name in brackets."""
    after = re.match(r"[^()\n;|]{0,40}\(([^()]{3,80})\)", text[found.end :])
    before = text[: found.start].rstrip()
    if before.endswith("("):
        piece = re.split(r"[;,:.|\n]", before[:-1])[-1]
        return ENUMERATOR.sub("", piece).strip()
    if after and not after.group(1)[:1].isdigit():
        return after.group(1).strip()
    rest = re.match(r"\s*[,–—-]\s*([a-z][A-Za-z' -]{3,50})", text[found.end :])
    return rest.group(1).strip() if rest else ""


def around(text: str, start: int, end: int) -> str:
    """A few words on either side of a place."""
    first, last = max(0, start - _CONTEXT), min(len(text), end + _CONTEXT)
    while first > 0 and not text[first - 1].isspace():
        first -= 1
    while last < len(text) and not text[last].isspace():
        last += 1
    said = one_line(text[first:last])
    return f"{'... ' if first else ''}{said}{' ...' if last < len(text) else ''}"


def short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."


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
