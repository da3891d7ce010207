"""PDF by its text layer: lines by their place on the page, struck-through text left out."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from statistics import median

from pdfminer.high_level import extract_pages
from pdfminer.layout import LAParams, LTChar, LTCurve, LTLayoutContainer, LTTextLine
from pdfminer.pdfdocument import PDFPasswordIncorrect
from pdfminer.pdfparser import PDFSyntaxError
from pdfminer.psexceptions import PSException

from data_loaders.regulations.reading.document import Document, tidy_text
from data_loaders.regulations.reading.lines import Line, blocks_of
from service.errors import BadFile

MAX_PAGES = 400
_COLUMN_TEXT = 35
"""Average letters of a line from which two pieces side by side are two columns of text, not two
cells (common practice, no source).
"""


@dataclass(frozen=True, slots=True)
class _Piece:
    x0: float
    y0: float
    x1: float
    y1: float
    text: str
    bold: bool
    size: float
    italic: frozenset[str]
    struck: tuple[str, ...]


def read_pdf(content: bytes, file: str) -> Document:
    """A document of the text layer of a PDF.

    Raises:
        BadFile: damaged, locked, or without a text layer.
    """
    lines: list[Line] = []
    try:
        pages = extract_pages(BytesIO(content), laparams=LAParams(), maxpages=MAX_PAGES)
        for number, page in enumerate(pages, 1):
            lines += _lines(page, number)
    except PDFPasswordIncorrect as error:
        raise BadFile(file, "the PDF is locked by a password.") from error
    except (PDFSyntaxError, PSException, ValueError, KeyError, TypeError, IndexError) as error:
        raise BadFile(file, f"the PDF is damaged: {type(error).__name__}.") from error
    if not lines:
        raise BadFile(
            file,
            "the PDF has no text layer, only pictures.",
            next_step="Take the text from the authority's page, or run text recognition first.",
        )
    return Document("pdf", blocks_of(lines), whole=b"%%EOF" in content[-2048:])


def _lines(page: LTLayoutContainer, number: int) -> list[Line]:
    strokes = list(_strokes(page))
    pieces = [piece for line in _text_lines(page) if (piece := _piece(line, strokes))]
    if not pieces:
        return []
    body = median(piece.size for piece in pieces)
    rows = _rows(pieces)
    ordered = _in_columns(rows) if _two_columns(rows) else rows
    lines: list[Line] = []
    below: float | None = None
    for place, row in enumerate(ordered, 1):
        top, bottom = max(box.y1 for box in row), min(box.y0 for box in row)
        height = top - bottom
        gap = below is None or not -2 * height < below - top < 0.75 * height
        lines.append(
            Line(
                tuple((piece.x0, piece.text) for piece in row),
                f"page {number}, line {place}",
                strong=all(piece.bold or piece.size > 1.15 * body for piece in row),
                gap=gap,
                italic=frozenset().union(*(piece.italic for piece in row)),
                struck=tuple(text for piece in row for text in piece.struck),
            )
        )
        below = bottom
    return [line for line in lines if line.text.strip() or line.struck]


def _text_lines(container: LTLayoutContainer | Iterable[object]) -> Iterator[LTTextLine]:
    for part in container:
        if isinstance(part, LTTextLine):
            yield part
        elif isinstance(part, Iterable):
            yield from _text_lines(part)


def _strokes(container: Iterable[object]) -> Iterator[tuple[float, float, float]]:
    """Thin horizontal lines: left, right, height above the page's foot."""
    for part in container:
        if isinstance(part, LTCurve) and part.height < 2 and part.width > 4:
            yield part.x0, part.x1, (part.y0 + part.y1) / 2
        elif isinstance(part, LTLayoutContainer):
            yield from _strokes(part)


def _piece(line: LTTextLine, strokes: list[tuple[float, float, float]]) -> _Piece | None:
    letters = [character for character in line if isinstance(character, LTChar)]
    if not letters:
        return None
    low, high = line.y0 + 0.25 * line.height, line.y0 + 0.65 * line.height
    crossing = [(x0, x1) for x0, x1, y in strokes if low < y < high]

    def is_struck(x: float) -> bool:
        return any(x0 - 1 <= x <= x1 + 1 for x0, x1 in crossing)

    kept, struck, italic = "", "", [""]
    x = line.x0
    for character in line:
        if isinstance(character, LTChar):
            x = (character.x0 + character.x1) / 2
        text = character.get_text()
        if crossing and is_struck(x):
            struck += text
            continue
        kept += text
        if isinstance(character, LTChar) and any(
            word in character.fontname.lower() for word in ("italic", "oblique")
        ):
            italic[-1] += text
        elif text.strip():
            italic.append("")
        elif italic[-1]:
            italic[-1] += text
    bold = sum("bold" in letter.fontname.lower() for letter in letters) > 0.9 * len(letters)
    return _Piece(
        line.x0,
        line.y0,
        line.x1,
        line.y1,
        tidy_text(kept),
        bold,
        median(letter.size for letter in letters),
        frozenset(text.strip() for text in italic if len(text.strip()) > 2),
        (tidy_text(struck),) if struck.strip() else (),
    )


def _rows(pieces: list[_Piece]) -> list[list[_Piece]]:
    """Pieces at one height, from left to right; rows from the top."""
    rows: list[list[_Piece]] = []
    for piece in sorted(pieces, key=lambda line: (-line.y1, line.x0)):
        middle = (piece.y0 + piece.y1) / 2
        if rows and rows[-1][0].y0 < middle < rows[-1][0].y1:
            rows[-1].append(piece)
        else:
            rows.append([piece])
    return [_merged(sorted(row, key=lambda line: line.x0)) for row in rows]


def _merged(row: list[_Piece]) -> list[_Piece]:
    """Pieces of one row, a number in front joined to what it numbers."""
    if len(row) > 1 and len(row[0].text) <= 5 and row[0].text.rstrip(".)").lstrip("(").isalnum():
        first, second = row[0], row[1]
        joined = _Piece(
            first.x0,
            second.y0,
            second.x1,
            second.y1,
            f"{first.text} {second.text}",
            second.bold,
            second.size,
            second.italic,
            first.struck + second.struck,
        )
        return [joined, *row[2:]]
    return row


def _two_columns(rows: list[list[_Piece]]) -> bool:
    pairs = [row for row in rows if len(row) == 2]
    if len(pairs) < 0.6 * len(rows) or len(pairs) < 6:
        return False
    return all(
        sum(len(row[side].text) for row in pairs) / len(pairs) >= _COLUMN_TEXT for side in (0, 1)
    )


def _in_columns(rows: list[list[_Piece]]) -> list[list[_Piece]]:
    split = median(row[1].x0 for row in rows if len(row) == 2) - 1
    left = [[box] for row in rows for box in row if box.x0 < split]
    right = [[box] for row in rows for box in row if box.x0 >= split]
    return left + right
