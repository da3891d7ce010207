"""A document of law as blocks of text in their order, whatever format it came in."""

import re
from dataclasses import dataclass, field
from typing import Literal

BlockKind = Literal["heading", "paragraph", "item", "row", "line"]
"""``line`` stands alone and may be a heading or an item; what it says decides."""

DocumentKind = Literal["html", "pdf", "xml", "docx", "rtf", "text"]

PSEUDO_LEVEL = 6
"""Level of what only looks like a heading: a line in bold, a row over all columns."""


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of the text that belongs together.

    Attributes:
        cells: the cells of a row; one text for anything else. Line ends are kept as they were set.
        place: where it stands, for a person: ``page 3, line 12``, ``table 2, row 5``.
        level: of a heading, 1 the highest.
        heads: the row names the columns of its table.
        italic: pieces set in italics, or in an element for Latin names.
        struck: pieces that are struck through; they are not in ``cells``.
    """

    kind: BlockKind
    cells: tuple[str, ...]
    place: str
    level: int = 0
    heads: bool = False
    italic: frozenset[str] = frozenset()
    struck: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        return " | ".join(cell for cell in self.cells if cell)


@dataclass(frozen=True, slots=True)
class Document:
    """A document read.

    Attributes:
        whole: False where the document shows that it breaks off.
        asks_for_login: it is a form to sign in rather than a text.
    """

    kind: DocumentKind
    blocks: tuple[Block, ...]
    title: str = ""
    whole: bool = True
    asks_for_login: bool = False
    notes: tuple[str, ...] = field(default=())


_BLANKS = re.compile(r"[^\S\n]+")


def tidy_text(text: str) -> str:
    """One blank between words, no soft hyphens, line ends kept."""
    text = text.replace("\xad", "").replace("​", "").replace("\r\n", "\n").replace("\r", "\n")
    text = _BLANKS.sub(" ", text.replace("\xa0", " "))
    return re.sub(r" ?\n ?", "\n", text).strip()


def one_line(text: str) -> str:
    return " ".join(text.split())
