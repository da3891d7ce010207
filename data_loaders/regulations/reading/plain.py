"""Plain text."""

from data_loaders.regulations.reading.document import Document, tidy_text
from data_loaders.regulations.reading.lines import Line, blocks_of, split_columns


def read_text(content: bytes) -> Document:
    """A document of plain text."""
    return Document("text", blocks_of(lines_of(decoded(content))))


def decoded(content: bytes) -> str:
    """Text in UTF-8 or UTF-16 with its mark, else UTF-8, else Windows-1252."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8-sig"),
        (b"\xff\xfe", "utf-16"),
        (b"\xfe\xff", "utf-16"),
    ):
        if content.startswith(mark):
            return content.decode(encoding, errors="replace")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def lines_of(text: str) -> list[Line]:
    """The lines of a text, with the gaps between them."""
    lines: list[Line] = []
    gap = False
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\f", "\n\n")
    for number, raw in enumerate(text.split("\n"), 1):
        raw = raw.replace("\xa0", " ").replace("\xad", "").rstrip()
        if not raw.strip():
            gap = True
            continue
        cells = tuple((left, tidy_text(cell)) for left, cell in split_columns(raw))
        if cells:
            lines.append(Line(cells, f"line {number}", gap=gap))
            gap = False
    return lines
