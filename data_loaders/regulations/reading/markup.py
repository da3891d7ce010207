"""XML of statutes and codes: USLM, and state codes whose element names nobody knows beforehand."""

import re
from collections.abc import Iterator

from lxml import etree

from data_loaders.regulations.reading.document import Block, BlockKind, Document, one_line
from service.errors import BadFile

_HEADINGS_TEXT = """
    heading catchline head header title subtitle caption subhead crossheading hd name
"""
_HEADINGS = frozenset(_HEADINGS_TEXT.split())
_DELETED_TEXT = """
    del delete deleted deletedtext deletion s strike stricken strikethrough struck omitted
    removed repealed
"""
_DELETED = frozenset(_DELETED_TEXT.split())
_INLINE_TEXT = """
    i b u em emphasis e emph italic ital bold sub sup ref xref a span term ins add added
    smallcaps sc inline quotedtext date font
"""
_INLINE = frozenset(_INLINE_TEXT.split())
_SLANTED_TEXT = """
    i em emphasis e emph italic ital latin scientificname scientific
"""
_SLANTED = frozenset(_SLANTED_TEXT.split())
_CELLS = frozenset({"td", "th", "entry", "cell", "ent"})
_ROWS = frozenset({"tr", "row"})
_SKIPPED = frozenset({"meta", "metadata", "properties", "style", "script", "toc"})
_STATUS = ("status", "change", "changed", "revision", "action", "type", "class", "role")
_GONE = re.compile(r"(?i)^(deleted?|removed?|repealed|stricken|struck|strike(through)?|del)$")
_MOST_DEPTH = 200


def read_xml(content: bytes, file: str) -> Document:
    """A document of an XML file. Entities are not resolved and nothing is fetched.

    Raises:
        BadFile: not well-formed, or with entities of its own.
    """
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, remove_pis=True
    )
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise BadFile(file, f"the XML is not well-formed: {error}.") from error
    internal = root.getroottree().docinfo.internalDTD
    if internal is not None and any(True for _ in internal.iterentities()):
        raise BadFile(file, "the XML defines entities of its own; it is not read.")
    blocks = tuple(_blocks(root, 1))
    title = next((block.text for block in blocks if block.kind == "heading"), "")
    return Document("xml", blocks, title=title)


def _name(element: etree._Element) -> str:
    return etree.QName(element).localname.lower() if isinstance(element.tag, str) else ""


def _is_deleted(element: etree._Element) -> bool:
    return _name(element) in _DELETED or any(
        _GONE.match(value)
        for key, value in element.attrib.items()
        if etree.QName(key).localname.lower() in _STATUS and isinstance(value, str)
    )


def _blocks(element: etree._Element, depth: int) -> Iterator[Block]:
    name = _name(element)
    if not name or name in _SKIPPED or depth > _MOST_DEPTH:
        return
    if _is_deleted(element):
        text = one_line("".join(map(str, element.itertext())))
        if text:
            yield Block("paragraph", ("",), _place(element), struck=(text,))
        return
    children = [child for child in element if _name(child) and _name(child) not in _SKIPPED]
    if name in _ROWS:
        yield _row(element, [child for child in children if _name(child) in _CELLS] or children)
    elif _is_leaf(element, children):
        yield from _leaf(element, name, depth)
    elif _is_record(children):
        yield _row(element, children)
    else:
        yield from _container(element, children, depth)


def _is_leaf(element: etree._Element, children: list[etree._Element]) -> bool:
    """Whether its content is running text."""
    mixed = bool((element.text or "").strip()) or any(
        (child.tail or "").strip() for child in children
    )
    return not children or mixed or all(_name(child) in _INLINE | _DELETED for child in children)


def _is_record(children: list[etree._Element]) -> bool:
    """Fields of one thing: leaves with different names, none a heading."""
    names = [_name(child) for child in children]
    return (
        len(names) > 1
        and len(set(names)) == len(names)
        and not set(names) & (_HEADINGS | {"num", "enum", "content", "chapeau", "p", "text"})
        and all(_is_leaf(child, list(child)) and len(child) < 4 for child in children)
        and all(len(one_line("".join(map(str, child.itertext())))) < 200 for child in children)
    )


def _leaf(element: etree._Element, name: str, depth: int) -> Iterator[Block]:
    kept, struck, italic = _running(element)
    text = one_line(kept)
    if not text and not struck:
        return
    kind: BlockKind = "paragraph"
    if name in _HEADINGS and len(text) < 300:
        kind = "heading"
    elif name in ("item", "li", "listitem", "paragraph", "subparagraph", "clause"):
        kind = "item"
    level = min(max(1, depth - 1), 9) if kind == "heading" else 0
    yield Block(kind, (text,), _place(element), level=level, italic=italic, struck=struck)


def _container(
    element: etree._Element, children: list[etree._Element], depth: int
) -> Iterator[Block]:
    number = ""
    for child in children:
        if _name(child) in ("num", "enum", "number", "label", "designator"):
            number = one_line("".join(map(str, child.itertext())))
            continue
        for block in _blocks(child, depth + 1):
            if number and block.cells[0] and block.kind in ("paragraph", "item"):
                listed = _name(element) not in ("section", "chapter", "title", "part")
                kind: BlockKind = "item" if listed else block.kind
                yield Block(
                    kind,
                    (f"{number} {block.cells[0]}",),
                    block.place,
                    0,
                    False,
                    block.italic,
                    block.struck,
                )
                number = ""
            else:
                yield block
                number = "" if block.kind == "heading" else number


def _row(element: etree._Element, cells: list[etree._Element]) -> Block:
    texts: list[str] = []
    struck: tuple[str, ...] = ()
    italic: frozenset[str] = frozenset()
    for cell in cells:
        if _is_deleted(cell):
            struck += (one_line("".join(map(str, cell.itertext()))),)
            texts.append("")
            continue
        kept, gone, slanted = _running(cell)
        texts.append(one_line(kept))
        struck += gone
        italic |= slanted
    heads = bool(cells) and all(_name(cell) == "th" for cell in cells)
    return Block("row", tuple(texts), _place(element), heads=heads, italic=italic, struck=struck)


def _running(element: etree._Element) -> tuple[str, tuple[str, ...], frozenset[str]]:
    """Text kept, texts deleted, texts in italics or named as Latin."""
    struck: list[str] = []
    italic: set[str] = set()

    def text_of(element: etree._Element) -> str:
        own = element.text or ""
        for child in element:
            if _is_deleted(child):
                struck.append(one_line("".join(map(str, child.itertext()))))
            elif _name(child):
                own += text_of(child)
            own += child.tail or ""
        if _name(element) in _SLANTED and len(own.strip()) > 2:
            italic.add(one_line(own))
        return own

    kept = text_of(element)
    return kept, tuple(text for text in struck if text), frozenset(italic)


def _place(element: etree._Element) -> str:
    """``line 12, in section 3``: the line of the file and the nearest number above."""
    for above in (element, *element.iterancestors()):
        for child in above:
            if _name(child) in ("num", "enum", "number"):
                number = one_line("".join(map(str, child.itertext())))
                return f"line {element.sourceline}, in {_name(above)} {number}"
    return f"line {element.sourceline}"
