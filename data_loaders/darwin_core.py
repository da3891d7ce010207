"""Darwin Core archives: what ``meta.xml`` says of the tables beside it (Darwin Core text guide,
TDWG).

Every attribute of the guide is honoured, with the guide's defaults. XML with entities or a document
type is refused.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType
from xml.etree.ElementTree import Element, ParseError

import defusedxml.ElementTree
from defusedxml import DefusedXmlException

from data_loaders.archives import Archive
from data_loaders.delimited import Dialect
from service.errors import BadFile

DESCRIPTOR = "meta.xml"
_NULL = "\\N"


@dataclass(frozen=True, slots=True)
class Table:
    """One table of an archive, core or extension.

    Attributes:
        row_type: last part of the class URI: ``Occurrence``, ``Taxon``, ``Distribution``.
        locations: member names that together hold the table.
        columns: term (last part of its URI, as spelled there) to column index.
        defaults: term to the value for rows whose cell is empty, or that have no such column.
        id_index: column of the record's id in the core, of the core record's id in an extension.
    """

    row_type: str
    locations: tuple[str, ...]
    dialect: Dialect
    columns: Mapping[str, int]
    defaults: Mapping[str, str]
    id_index: int | None = None


@dataclass(frozen=True, slots=True)
class Descriptor:
    """What ``meta.xml`` says.

    ``metadata`` is the member that describes the data set, empty when there is none.
    """

    core: Table
    extensions: tuple[Table, ...] = ()
    metadata: str = ""


def term_name(term: str) -> str:
    """Last part of a term's URI or prefixed name: ``dwc:year`` and
    ``http://rs.tdwg.org/dwc/terms/year`` are ``year``.
    """
    return term.strip().rstrip("/").replace("#", "/").replace(":", "/").rsplit("/", 1)[-1]


def cell_value(cell: str) -> str:
    """A cell without the white space around it; the null mark of database dumps is empty."""
    value = cell.strip(" \t\r\n")
    return "" if value == _NULL else value


def find_descriptor(archive: Archive) -> str | None:
    """Member name of the descriptor: at the root, or in the one folder that holds the archive."""
    found = [name for name in archive.names if PurePosixPath(name).name == DESCRIPTOR]
    if DESCRIPTOR in found:
        return DESCRIPTOR
    return found[0] if len(found) == 1 else None


def parse_xml(content: bytes, *, file: str) -> Element:
    """Root of an XML document from people one does not know.

    Raises:
        BadFile: not well formed, or it declares entities or reaches outside.
    """
    try:
        root: Element = defusedxml.ElementTree.fromstring(
            content.lstrip(b" \t\r\n"), forbid_dtd=True
        )
    except DefusedXmlException as error:
        raise BadFile(
            file, "it declares entities or a document type.", next_step="Do not use this file."
        ) from error
    except (ParseError, ValueError, LookupError) as error:
        raise BadFile(file, f"it is not well-formed XML ({error}).") from error
    return root


def read_descriptor(archive: Archive, name: str) -> Descriptor:
    """Read ``meta.xml``. Locations are relative to it.

    Raises:
        BadFile: not a descriptor; several or no core; a field without a term; a location that the
            archive lacks.
    """
    file = f"{archive.path.name}/{name}"
    root = parse_xml(archive.read(name), file=file)
    if _local(root) != "archive":
        raise BadFile(
            file, f"its root is {_local(root)!r} where a Darwin Core archive has 'archive'."
        )
    folder = PurePosixPath(name).parent
    cores = [child for child in root if _local(child) == "core"]
    if len(cores) != 1:
        raise BadFile(file, f"it has {len(cores)} cores where an archive has one.")
    metadata = root.get("metadata", "")
    inside = str(folder / metadata) if metadata else ""
    return Descriptor(
        core=_table(cores[0], archive, folder, file),
        extensions=tuple(
            _table(child, archive, folder, file) for child in root if _local(child) == "extension"
        ),
        metadata=inside if inside in archive else "",
    )


def _table(element: Element, archive: Archive, folder: PurePosixPath, file: str) -> Table:
    row_type = element.get("rowType", "")
    if not row_type:
        raise BadFile(file, f"its {_local(element)} states no rowType.")
    columns: dict[str, int] = {}
    defaults: dict[str, str] = {}
    id_index: int | None = None
    locations: list[str] = []
    for child in element:
        kind = _local(child)
        if kind in ("id", "coreid"):
            id_index = _index(child, file)
        elif kind == "field":
            _field(child, file, columns, defaults)
        elif kind == "files":
            locations += [
                _location(place, archive, folder, file)
                for place in child
                if _local(place) == "location"
            ]
    if not locations:
        raise BadFile(file, f"its {_local(element)} {term_name(row_type)} names no file.")
    return Table(
        row_type=term_name(row_type),
        locations=tuple(locations),
        dialect=_dialect(element, file),
        columns=MappingProxyType(columns),
        defaults=MappingProxyType(defaults),
        id_index=id_index,
    )


def _dialect(element: Element, file: str) -> Dialect:
    lines = element.get("ignoreHeaderLines", "0").strip() or "0"
    if not lines.isdecimal():
        raise BadFile(file, f"its ignoreHeaderLines is {lines!r} where a count is expected.")
    quote = _letters(element.get("fieldsEnclosedBy", '"'))
    if len(quote) > 1:
        raise BadFile(file, f"its fieldsEnclosedBy is {quote!r} where one letter is expected.")
    delimiter = _letters(element.get("fieldsTerminatedBy", ","))
    terminator = _letters(element.get("linesTerminatedBy", "\\n"))
    if not delimiter or not terminator:
        raise BadFile(file, "its fieldsTerminatedBy or linesTerminatedBy is empty.")
    return Dialect(
        delimiter=delimiter,
        quote=quote,
        terminator="\n" if terminator in ("\r\n", "\n") else terminator,
        encoding=element.get("encoding", "UTF-8").strip() or "UTF-8",
        header_lines=int(lines),
    )


def _letters(written: str) -> str:
    """Control characters are written as two letters in the descriptor."""
    for code, letter in (("\\t", "\t"), ("\\n", "\n"), ("\\r", "\r"), ("\\\\", "\\")):
        written = written.replace(code, letter)
    return written


def _field(element: Element, file: str, columns: dict[str, int], defaults: dict[str, str]) -> None:
    term = term_name(element.get("term", ""))
    if not term:
        raise BadFile(file, "it has a field without a term.")
    if element.get("index") is not None:
        columns.setdefault(term, _index(element, file))
    if element.get("default") is not None:
        defaults.setdefault(term, cell_value(element.get("default", "")))


def _index(element: Element, file: str) -> int:
    written = element.get("index", "").strip()
    if not written.isdecimal() or int(written) > 10_000:
        raise BadFile(file, f"its index {written!r} is not a column number.")
    return int(written)


def _location(element: Element, archive: Archive, folder: PurePosixPath, file: str) -> str:
    written = (element.text or "").strip()
    if "://" in written:
        raise BadFile(
            file,
            f"its table lies at {written}, outside the archive.",
            next_step="Fetch it and load it.",
        )
    name = str(folder / written)
    if name not in archive:
        raise BadFile(file, f"it names {written!r}, which the archive does not hold.")
    return name


def _local(element: Element) -> str:
    return str(element.tag).rsplit("}", 1)[-1]
