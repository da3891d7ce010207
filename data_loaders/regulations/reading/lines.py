"""Lines of set text into blocks: items, rows, paragraphs, and lines that may be headings.

Plain text, PDF and RTF have no structure but how the lines stand; this is where it is read.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from data_loaders.regulations.reading.document import PSEUDO_LEVEL, Block, one_line

ENUMERATOR = re.compile(
    r"""^\s*(?:
        [•●▪◦·*–—-]\s+
        | \(?(?:\d{1,3}[a-z]{0,2}|[ivxIVX]{1,6}|[a-zA-Z]{1,2})[.)]
            (?:\s*\((?:\d{1,3}|[a-zA-Z]{1,2})\))*\s+
        | \((?:\d{1,3}[a-z]{0,2}|[ivxIVX]{1,6}|[a-zA-Z]{1,2})\)\s*
        | §+\s*[\d.:-]+\s+
    )""",
    re.VERBOSE,
)
_ABBREVIATED = re.compile(r"^\s*[A-Z]\.\s+[a-z]{4,}")
"""``M. spicatum`` looks like an item A, B, C and is a name."""
_COLUMNS = re.compile(r"\t+|\s*\|\s*| {2,}")
_SHORT = 90
_PROSE_WIDTH = 60


@dataclass(frozen=True, slots=True)
class Line:
    """A line as it was set.

    Attributes:
        cells: pieces with the place of their left edge; one for a plain line.
        strong: in bold, or larger than the body.
        gap: an empty line, or wide space, stands before it.
        row: it is a row of a table, whatever stands beside it.
    """

    cells: tuple[tuple[float, str], ...]
    place: str
    strong: bool = False
    gap: bool = False
    row: bool = False
    italic: frozenset[str] = frozenset()
    struck: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        return " ".join(text for _, text in self.cells)


@dataclass
class _Group:
    lines: list[Line] = field(default_factory=list)


def without_number(text: str) -> str:
    """A text without the number, letter or bullet of its item; ``M. spicatum`` stays."""
    return text.strip() if _ABBREVIATED.match(text) else ENUMERATOR.sub("", text).strip()


def split_columns(text: str) -> tuple[tuple[float, str], ...]:
    """A line of plain text cut at tabs, bars and runs of blanks."""
    cells: list[tuple[float, str]] = []
    place = 0
    for gap in [*_COLUMNS.finditer(text), None]:
        end = gap.start() if gap else len(text)
        if text[place:end].strip():
            cells.append((float(place), text[place:end].strip()))
        if gap:
            place = gap.end()
    if len(cells) > 1 and ENUMERATOR.fullmatch(f"{cells[0][1]} "):
        cells = [(cells[0][0], f"{cells[0][1]} {cells[1][1]}"), *cells[2:]]
    return tuple(cells)


def blocks_of(lines: Sequence[Line]) -> tuple[Block, ...]:
    """Blocks of the lines of a document, in order."""
    blocks: list[Block] = []
    for rows, group in _tables(_without_lonely_columns(lines)):
        blocks += _rows(group) if rows else _flow(group)
    return tuple(blocks)


def _without_lonely_columns(lines: Sequence[Line]) -> list[Line]:
    """Wide blanks make a table only where another line, with no gap between, has them too."""
    plain: list[Line] = []
    for together in _without_gaps(lines):
        rows = sum(len(line.cells) > 1 for line in together)
        for line in together:
            if rows == 1 and len(line.cells) > 1 and not line.row and not _near_rows(lines, line):
                line = replace(line, cells=((line.cells[0][0], line.text),))
            plain.append(line)
    return plain


def _without_gaps(lines: Sequence[Line]) -> Iterable[list[Line]]:
    together: list[Line] = []
    for line in lines:
        if together and line.gap:
            yield together
            together = []
        together.append(line)
    if together:
        yield together


def _near_rows(lines: Sequence[Line], line: Line) -> bool:
    """Whether a row stands next to it, over a gap."""
    place = lines.index(line)
    neighbours = [*lines[max(0, place - 1) : place], *lines[place + 1 : place + 2]]
    return any(len(neighbour.cells) > 1 for neighbour in neighbours)


def _tables(lines: Sequence[Line]) -> Iterable[tuple[bool, list[Line]]]:
    """Runs of rows and runs of plain lines; a single piece under a column is of the table too."""
    run: list[Line] = []
    rows = False
    for line in lines:
        is_row = line.row or len(line.cells) > 1 or (rows and _goes_on(run, line))
        if run and is_row != rows:
            yield rows, run
            run = []
        rows = is_row
        run.append(line)
    if run:
        yield rows, run


def _goes_on(run: Sequence[Line], line: Line) -> bool:
    """A single piece under a later column of the rows before it, or in small letters."""
    if line.gap or not line.cells:
        return False
    left = line.cells[0][0]
    return line.text[:1].islower() or any(
        abs(left - x) < 3 for row in run[-12:] for x, _ in row.cells[1:]
    )


def _rows(lines: Sequence[Line]) -> list[Block]:
    merged: list[Line] = []
    for line in lines:
        before = merged[-1] if merged else None
        if before is not None and not line.gap and not line.row and _is_rest_of_row(before, line):
            merged[-1] = _joined(before, line)
        else:
            merged.append(line)
    return [
        Block(
            "row",
            tuple(text for _, text in line.cells),
            line.place,
            heads=place == 0 and _names_columns(line),
            italic=line.italic,
            struck=line.struck,
        )
        for place, line in enumerate(merged)
    ]


def _names_columns(line: Line) -> bool:
    return any(
        re.fullmatch(r"(?i)(common|scientific|botanical|latin|species|plant)( names?)?", text)
        for _, text in line.cells
    )


def _is_rest_of_row(before: Line, line: Line) -> bool:
    """A name that goes on in the next line of its cell: small letters under a genus."""
    return all(text[:1].islower() or text[:1] == "(" for _, text in line.cells) or (
        len(line.cells) == 1 and line.text[:1].islower()
    )


def _joined(before: Line, line: Line) -> Line:
    cells = list(before.cells)
    for left, text in line.cells:
        nearest = min(range(len(cells)), key=lambda place: abs(cells[place][0] - left))
        cells[nearest] = (cells[nearest][0], f"{cells[nearest][1]}\n{text}")
    return replace(
        before,
        cells=tuple(cells),
        italic=before.italic | line.italic,
        struck=before.struck + line.struck,
    )


def _flow(lines: Sequence[Line]) -> list[Block]:
    groups: list[list[Line]] = []
    for line in lines:
        begins = line.gap or not groups or _begins_item(line.text)
        before = groups[-1][-1] if groups else None
        if before is not None and (
            line.strong != before.strong or before.text.rstrip().endswith(":")
        ):
            begins = True
        if begins:
            groups.append([line])
        else:
            groups[-1].append(line)
    return [block for group in groups for block in _of_group(group)]


def _begins_item(text: str) -> bool:
    return bool(ENUMERATOR.match(text)) and not _ABBREVIATED.match(text)


def _of_group(group: list[Line]) -> list[Block]:
    if len(group) > 1 and _one_a_line(group):
        return [_block(_lone_kind(line), [line]) for line in group]
    if len(group) == 1:
        return [_block(_lone_kind(group[0]), group)]
    if all(line.strong for line in group) and len(one_line(_text(group))) <= 2 * _SHORT:
        return [_block("heading", group)]
    return [_block("item" if _begins_item(group[0].text) else "paragraph", group)]


def _lone_kind(line: Line) -> str:
    text = line.text.strip()
    if line.strong and len(text) <= _SHORT and re.search(r"[^\W\d_]{3}", text):
        return "heading"
    if _begins_item(text):
        # A number before a word that ends like a heading is one: "(1) Prohibited."
        return "line" if len(text) < 60 else "item"
    if len(text) > _SHORT or (text.endswith(".") and len(text.split()) > 6):
        return "paragraph"
    return "line"


def _one_a_line(group: Sequence[Line]) -> bool:
    """Whether each line is an item of its own, and not a paragraph that was broken."""
    texts = [line.text for line in group]
    if any(text[:1].islower() or text.endswith("-") for text in texts):
        return False
    if any(text.startswith("(") and not _begins_item(text) for text in texts):
        return False
    if sum(text.rstrip().endswith((",", " and", " or", " the", " of")) for text in texts[:-1]):
        return all(text.rstrip().endswith(",") for text in texts[:-1])
    longest = max(len(text) for text in texts)
    return longest < _PROSE_WIDTH or len(texts) > 3


def _block(kind: str, group: Sequence[Line]) -> Block:
    return Block(
        kind,  # type: ignore[arg-type]
        (_text(group),),
        group[0].place,
        level=PSEUDO_LEVEL if kind == "heading" else 0,
        italic=frozenset().union(*(line.italic for line in group)),
        struck=tuple(text for line in group for text in line.struck),
    )


def _text(group: Sequence[Line]) -> str:
    return "\n".join(line.text.strip() for line in group)
