"""HTML: headings, lists, tables and paragraphs; what is struck through or hidden is left out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from lxml import etree, html

from data_loaders.regulations.reading.document import (
    PSEUDO_LEVEL,
    Block,
    BlockKind,
    Document,
    one_line,
    tidy_text,
)
from data_loaders.regulations.reading.lines import blocks_of
from data_loaders.regulations.reading.plain import decoded, lines_of
from service.errors import BadFile

_SKIPPED_TEXT = """
    script style noscript template svg nav footer button select option iframe object head
"""
_SKIPPED = frozenset(_SKIPPED_TEXT.split())
_HEADINGS = {f"h{level}": level for level in range(1, 7)}
_BREAKING_TEXT = """
    p div section article main aside header ul ol li dl dt dd blockquote address figure
    figcaption form fieldset center hr body html details caption legend summary
"""
_BREAKING = frozenset(_BREAKING_TEXT.split())
_STRIKING = frozenset({"del", "s", "strike"})
_SLANTED = frozenset({"i", "em", "cite", "dfn"})
_STRONG = frozenset({"b", "strong"})
_STRUCK_WORDS = re.compile(
    r"(?:^|[\s_-])(?:strike(?:through|out|d)?|stricken|struck|deleted?|repealed|line-through)(?:$|[\s_-])",
    re.IGNORECASE,
)
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_CHARSET = re.compile(rb"<meta[^>]+charset\s*=\s*[\"']?\s*([A-Za-z0-9_-]+)", re.IGNORECASE)
_LINE_THROUGH = re.compile(r"([^{}]+)\{[^{}]*line-through[^{}]*\}")
_HARD = "\v"
_LONG_CELL = 400
_MOST_DEPTH = 200


@dataclass
class _Reading:
    struck_selectors: frozenset[str]
    blocks: list[Block] = field(default_factory=list)
    text: str = ""
    struck: list[str] = field(default_factory=list)
    italic: list[str] = field(default_factory=list)
    plain_letters: bool = False
    kind: BlockKind = "paragraph"
    level: int = 0
    tables: int = 0
    paragraphs: int = 0


def read_html(content: bytes, file: str, charset: str = "") -> Document:
    """A document of an HTML page.

    Args:
        charset: as the server named it; empty if it did not.

    Raises:
        BadFile: there is no text in it.
    """
    text = _CONTROL.sub(" ", _text(content, charset))
    text = re.sub(r"^\s*<\?xml[^>]*\?>", "", text)
    try:
        root = html.document_fromstring(text, parser=html.HTMLParser(no_network=True))
    except (etree.ParserError, etree.XMLSyntaxError, ValueError) as error:
        raise BadFile(file, "there is no HTML text in it.") from error
    styles = " ".join(style.text or "" for style in root.iter("style"))
    reading = _Reading(_selectors(styles))
    body = root.find("body")
    _walk(body if body is not None else root, reading, 0, bold=False, slanted=False)
    _flush(reading)
    title = root.findtext(".//title") or ""
    return Document(
        "html",
        tuple(reading.blocks),
        title=one_line(title),
        whole="</html>" in text[-4096:].lower() or "<html" not in text[:4096].lower(),
        asks_for_login=any(control.get("type") == "password" for control in root.iter("input")),
    )


def _text(content: bytes, charset: str) -> str:
    named = charset.encode() or next(iter(_CHARSET.findall(content[:4096])), b"")
    if named and not content.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        encoding = named.decode("ascii", "ignore").lower()
        # Pages that say Latin-1 are in Windows-1252, as browsers take it.
        encoding = "cp1252" if encoding in ("iso-8859-1", "latin1", "ascii") else encoding
        try:
            return content.decode(encoding)
        except (LookupError, UnicodeDecodeError):
            pass
    return decoded(content)


def _selectors(styles: str) -> frozenset[str]:
    """Classes, ids and elements that a style sheet of the page strikes through."""
    found: set[str] = set()
    for selectors in _LINE_THROUGH.findall(styles):
        for selector in selectors.split(","):
            words = selector.split()
            if words:
                found.add(words[-1].split(":")[0])
    return frozenset(found)


def _is_struck(element: html.HtmlElement, tag: str, reading: _Reading) -> bool:
    if tag in _STRIKING:
        return True
    style = (element.get("style") or "").lower()
    names = element.get("class") or ""
    if "line-through" in style or (names and _STRUCK_WORDS.search(names)):
        return True
    selectors = reading.struck_selectors
    return bool(selectors) and (
        tag in selectors
        or any(f".{name}" in selectors or f"{tag}.{name}" in selectors for name in names.split())
        or f"#{element.get('id')}" in selectors
    )


def _is_hidden(element: html.HtmlElement) -> bool:
    style = re.sub(r"\s", "", element.get("style") or "").lower()
    return (
        element.get("hidden") is not None
        or "display:none" in style
        or element.get("role") in ("navigation", "search", "contentinfo", "banner")
    )


def _walk(
    element: html.HtmlElement, reading: _Reading, depth: int, *, bold: bool, slanted: bool
) -> None:
    tag = element.tag if isinstance(element.tag, str) else ""
    if not tag or tag in _SKIPPED or _is_hidden(element) or depth > _MOST_DEPTH:
        return
    if _is_struck(element, tag, reading):
        struck = one_line(element.text_content())
        if struck:
            reading.struck.append(struck)
        return
    if tag == "table":
        _flush(reading)
        _table(element, reading, depth)
        return
    if tag == "pre":
        _flush(reading)
        reading.blocks += blocks_of(lines_of(element.text_content()))
        return
    if tag == "br":
        reading.text += _HARD
        return
    breaks = tag in _BREAKING or tag in _HEADINGS
    if breaks:
        _flush(reading)
        reading.kind, reading.level = _kind(tag)
    bold = bold or tag in _STRONG
    slanted = slanted or tag in _SLANTED
    _take(element.text, reading, bold=bold, slanted=slanted)
    for child in element:
        _walk(child, reading, depth + 1, bold=bold, slanted=slanted)
        _take(child.tail, reading, bold=bold, slanted=slanted)
    if breaks:
        _flush(reading)


def _kind(tag: str) -> tuple[BlockKind, int]:
    if tag in _HEADINGS:
        return "heading", _HEADINGS[tag]
    if tag in ("caption", "legend", "summary", "figcaption"):
        return "heading", PSEUDO_LEVEL
    return ("item", 0) if tag in ("li", "dt", "dd") else ("paragraph", 0)


def _take(text: str | None, reading: _Reading, *, bold: bool, slanted: bool) -> None:
    if not text:
        return
    reading.text += text.replace("\v", " ")
    if slanted and len(text.strip()) > 2:
        reading.italic.append(one_line(text))
    if not bold and any(letter.isalpha() for letter in text):
        reading.plain_letters = True


def _flush(reading: _Reading) -> None:
    """What was gathered becomes a block; lines set apart by breaks become blocks of their own."""
    pieces = _pieces(reading.text)
    if pieces or reading.struck:
        reading.paragraphs += 1
        kind, level = reading.kind, reading.level
        if kind == "paragraph" and pieces and not reading.plain_letters:
            if len(" ".join(pieces)) < 160:
                kind, level = "heading", PSEUDO_LEVEL
        elif kind == "paragraph" and len(pieces) > 1:
            kind = "item"
        elif kind == "paragraph" and pieces and len(pieces[0]) < 90 and pieces[0][-1:] != ".":
            kind = "line"
        for place, piece in enumerate(pieces or [""]):
            reading.blocks.append(
                Block(
                    kind,
                    (piece,),
                    f"paragraph {reading.paragraphs}",
                    level=level,
                    italic=frozenset(reading.italic),
                    struck=tuple(reading.struck) if place == 0 else (),
                )
            )
    reading.text, reading.struck, reading.italic = "", [], []
    reading.kind, reading.level, reading.plain_letters = "paragraph", 0, False


def _pieces(text: str) -> list[str]:
    """The lines of a paragraph that breaks set apart; a name broken over two stays one."""
    pieces: list[str] = []
    for raw in text.split(_HARD):
        piece = one_line(tidy_text(raw))
        if not piece:
            continue
        if pieces and piece[:1].islower() and re.search(r"(?:^|[\s(])[A-Z][a-z]+-?$", pieces[-1]):
            pieces[-1] = f"{pieces[-1]}\n{piece}"
        else:
            pieces.append(piece)
    return pieces


# Tables
# --------------------------------------------------------------------------------------------------


def _table(table: html.HtmlElement, reading: _Reading, depth: int) -> None:
    reading.tables += 1
    number = reading.tables
    rows = list(_table_rows(table))
    columns = max((len(cells) for _, cells in rows), default=0)
    if any(_is_layout(cell) for _, cells in rows for cell in cells):
        for _, cells in rows:
            for cell in cells:
                _flush(reading)
                for child in [cell]:
                    _inside(child, reading, depth)
        return
    caption = table.find("caption")
    if caption is not None:
        _walk(caption, reading, depth + 1, bold=False, slanted=False)
    for place, (row, cells) in enumerate(rows, 1):
        _row(row, cells, columns, f"table {number}, row {place}", place == 1, reading, depth)


def _inside(cell: html.HtmlElement, reading: _Reading, depth: int) -> None:
    _take(cell.text, reading, bold=False, slanted=False)
    for child in cell:
        _walk(child, reading, depth + 1, bold=False, slanted=False)
        _take(child.tail, reading, bold=False, slanted=False)
    _flush(reading)


def _table_rows(
    table: html.HtmlElement,
) -> Iterator[tuple[html.HtmlElement, list[html.HtmlElement]]]:
    for row in table.iter("tr"):
        if next(row.iterancestors("table")) is table:
            cells = [cell for cell in row if cell.tag in ("td", "th")]
            if cells and not _is_hidden(row):
                yield row, cells


def _is_layout(cell: html.HtmlElement) -> bool:
    if cell.find(".//table") is not None:
        return True
    listed = cell.find(".//li") is not None or any(
        cell.find(f".//{tag}") is not None for tag in _HEADINGS
    )
    return listed or len(cell.text_content()) > _LONG_CELL


def _row(
    row: html.HtmlElement,
    cells: list[html.HtmlElement],
    columns: int,
    place: str,
    is_first: bool,
    reading: _Reading,
    depth: int,
) -> None:
    texts: list[str] = []
    struck: list[str] = []
    italic: list[str] = []
    row_struck = _is_struck(row, "tr", reading)
    for cell in cells:
        inner = _Reading(reading.struck_selectors)
        if row_struck or _is_struck(cell, "td", reading):
            inner.struck.append(one_line(cell.text_content()))
        else:
            _take(cell.text, inner, bold=False, slanted=False)
            for child in cell:
                if isinstance(child.tag, str) and child.tag in _BREAKING:
                    inner.text += _HARD
                _inline(child, inner, depth + 1)
                _take(child.tail, inner, bold=False, slanted=False)
        texts.append("\n".join(_pieces(inner.text)))
        struck += inner.struck
        italic += inner.italic
    filled = [text for text in texts if text]
    if not filled and not struck:
        return
    heads = all(cell.tag == "th" for cell in cells) and len(cells) > 1
    spanning = len(cells) == 1 and columns > 1
    kind: BlockKind = "row"
    if spanning or (len(cells) == 1 and cells[0].tag == "th"):
        kind = "heading"
    elif columns == 1:
        kind = "item"
    reading.blocks.append(
        Block(
            kind,
            (texts[0],) if kind != "row" else tuple(texts),
            place,
            level=PSEUDO_LEVEL if kind == "heading" else 0,
            heads=heads or (is_first and _names_columns(texts)),
            italic=frozenset(italic),
            struck=tuple(text for text in struck if text),
        )
    )


def _names_columns(texts: list[str]) -> bool:
    return any(
        re.fullmatch(r"(?i)(common|scientific|botanical|latin|species|plant)( names?)?:?", text)
        for text in texts
    )


def _inline(
    element: html.HtmlElement, inner: _Reading, depth: int, *, slanted: bool = False
) -> None:
    tag = element.tag if isinstance(element.tag, str) else ""
    if not tag or tag in _SKIPPED or _is_hidden(element) or depth > _MOST_DEPTH:
        return
    if _is_struck(element, tag, inner):
        inner.struck.append(one_line(element.text_content()))
        return
    if tag == "br":
        inner.text += _HARD
        return
    slanted = slanted or tag in _SLANTED
    _take(element.text, inner, bold=False, slanted=slanted)
    for child in element:
        if isinstance(child.tag, str) and child.tag in _BREAKING:
            inner.text += _HARD
        _inline(child, inner, depth + 1, slanted=slanted)
        _take(child.tail, inner, bold=False, slanted=slanted)
    if tag in _BREAKING:
        inner.text += _HARD
