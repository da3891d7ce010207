"""Which format a document is in, by its content, and the reader for it."""

from collections.abc import Callable

from data_loaders.regulations.reading.document import Document, DocumentKind
from data_loaders.regulations.reading.docx import read_docx
from data_loaders.regulations.reading.html import read_html
from data_loaders.regulations.reading.markup import read_xml
from data_loaders.regulations.reading.pdf import read_pdf
from data_loaders.regulations.reading.plain import decoded, read_text
from data_loaders.regulations.reading.rtf import read_rtf
from service.errors import BadFile

MAX_BYTES = 40 << 20

ENDINGS: dict[DocumentKind, str] = {
    "html": ".html",
    "pdf": ".pdf",
    "xml": ".xml",
    "docx": ".docx",
    "rtf": ".rtf",
    "text": ".txt",
}


def kind_of(content: bytes, file: str = "") -> DocumentKind:
    """The format, by its first bytes; the name decides only what these leave open.

    Raises:
        BadFile: a format that is not read here.
    """
    start = content[:1024].lstrip(b"\xef\xbb\xbf \r\n\t")
    if b"%PDF-" in content[:1024]:
        return "pdf"
    if start.startswith(b"{\\rtf"):
        return "rtf"
    if start.startswith(b"PK\x03\x04"):
        if b"word/" in content:
            return "docx"
        raise BadFile(file, "it is an archive or workbook, not a DOCX document.")
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        raise BadFile(
            file,
            "it is an old binary Office document.",
            next_step="Save it as DOCX, RTF, PDF or text.",
        )
    head = decoded(content[:8192]).lower()
    if "<!doctype html" in head or "<html" in head:
        return "html"
    if start.startswith(b"<?xml") or (start.startswith(b"<") and file.lower().endswith(".xml")):
        return "xml"
    if file.lower().endswith((".html", ".htm", ".xhtml")) or (
        start.startswith(b"<") and "</" in head
    ):
        return "html"
    if b"\x00" in content[:4096] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadFile(
            file,
            "it is not a format that is read here.",
            next_step="HTML, PDF, XML, RTF, DOCX and plain text are.",
        )
    return "text"


def read_document(content: bytes, file: str, *, charset: str = "") -> Document:
    """A document as blocks of text.

    Raises:
        BadFile: empty, too large, damaged, or a format that is not read here.
    """
    if not content.strip():
        raise BadFile(file, "it is empty.")
    if len(content) > MAX_BYTES:
        raise BadFile(file, f"it is larger than {MAX_BYTES >> 20} MB.")
    kind = kind_of(content, file)
    if kind == "html":
        return read_html(content, file, charset)
    if kind == "text":
        return read_text(content)
    readers: dict[DocumentKind, Callable[[bytes, str], Document]] = {
        "pdf": read_pdf,
        "xml": read_xml,
        "docx": read_docx,
        "rtf": read_rtf,
    }
    return readers[kind](content, file)
