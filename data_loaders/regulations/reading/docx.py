"""DOCX: paragraphs, headings by style, tables; struck and deleted runs left out."""

import zipfile
from io import BytesIO

from docx import Document as open_docx
from docx.opc.exceptions import PackageNotFoundError
from docx.oxml.ns import qn
from docx.oxml.text.run import CT_R
from docx.table import Table
from docx.text.paragraph import Paragraph
from docx.text.run import Run

from data_loaders.regulations.reading.document import (
    PSEUDO_LEVEL,
    Block,
    BlockKind,
    Document,
    tidy_text,
)
from service.errors import BadFile

MAX_UNPACKED_BYTES = 200 << 20


def read_docx(content: bytes, file: str) -> Document:
    """A document of a DOCX file.

    Raises:
        BadFile: damaged, or unpacks to more than the limit.
    """
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            if sum(member.file_size for member in archive.infolist()) > MAX_UNPACKED_BYTES:
                raise BadFile(file, "the document unpacks to more than is read here.")
        document = open_docx(BytesIO(content))
    except (zipfile.BadZipFile, PackageNotFoundError, KeyError, ValueError) as error:
        raise BadFile(file, "it is not a sound DOCX file.") from error
    blocks: list[Block] = []
    tables = 0
    for number, part in enumerate(document.iter_inner_content(), 1):
        if isinstance(part, Paragraph):
            blocks += _paragraph(part, f"paragraph {number}")
        else:
            tables += 1
            blocks += _table(part, f"table {tables}")
    title = document.core_properties.title or ""
    return Document("docx", tuple(blocks), title=title)


def _paragraph(paragraph: Paragraph, place: str) -> list[Block]:
    kept, struck, italic, bold = _runs(paragraph)
    text = tidy_text(kept)
    if not text and not struck:
        return []
    style = (paragraph.style.name or "") if paragraph.style is not None else ""
    kind: BlockKind = "paragraph"
    level = 0
    if style == "Title" or style.startswith("Heading"):
        kind = "heading"
        level = int(style[-1]) if style[-1:].isdigit() else 1
    elif bold and len(text) < 160:
        kind, level = "heading", PSEUDO_LEVEL
    elif style.startswith("List") or _is_numbered(paragraph):
        kind = "item"
    elif len(text) < 90 and not text.endswith("."):
        kind = "line"
    return [
        Block(kind, (part,), place, level=level, italic=italic, struck=struck)
        for part in (text.split("\n") if "\n" in text and kind != "heading" else [text])
    ]


def _is_numbered(paragraph: Paragraph) -> bool:
    properties = paragraph._p.pPr
    return properties is not None and properties.numPr is not None


def _runs(paragraph: Paragraph) -> tuple[str, tuple[str, ...], frozenset[str], bool]:
    """Text kept, texts struck, texts in italics, and whether all of it is bold."""
    kept = ""
    struck: list[str] = []
    italic: set[str] = set()
    bold: list[bool] = []
    for element in paragraph._p.iter(qn("w:r")):
        if not isinstance(element, CT_R):
            continue
        parent = element.getparent()
        run = Run(element, paragraph)
        moved_away = parent is not None and parent.tag in (qn("w:del"), qn("w:moveFrom"))
        if moved_away or run.font.strike or run.font.double_strike:
            struck.append(run.text or "".join(element.itertext()))
            continue
        if run.font.hidden:
            continue
        kept += run.text
        if run.text.strip():
            bold.append(bool(run.bold))
            if run.italic or run.font.small_caps:
                italic.add(run.text.strip())
    return (
        kept,
        tuple(text for text in struck if text.strip()),
        frozenset(italic),
        all(bold) if bold else False,
    )


def _table(table: Table, place: str) -> list[Block]:
    blocks: list[Block] = []
    for number, row in enumerate(table.rows, 1):
        cells: list[str] = []
        struck: list[str] = []
        italic: set[str] = set()
        seen: set[int] = set()
        for cell in row.cells:
            if id(cell._tc) in seen:
                continue
            seen.add(id(cell._tc))
            texts = []
            for paragraph in cell.paragraphs:
                kept, gone, slanted, _ = _runs(paragraph)
                texts.append(kept)
                struck += gone
                italic |= slanted
            cells.append(tidy_text("\n".join(texts)))
        filled = [cell for cell in cells if cell]
        where = f"{place}, row {number}"
        if not filled and not struck:
            continue
        if len(cells) == 1 and len(table.columns) > 1:
            blocks.append(Block("heading", (cells[0],), where, level=PSEUDO_LEVEL))
            continue
        blocks.append(
            Block(
                "row",
                tuple(cells),
                where,
                heads=number == 1,
                italic=frozenset(italic),
                struck=tuple(struck),
            )
        )
    return blocks
