"""A table as people send it, delimited text or an Excel workbook, read into rows of text.

The one reader for stock lists, plans in rows and lists kept by hand. Text may be UTF-8, UTF-16 or
Windows-1252, with or without a byte order mark, or UTF-8 with single lines that are not; the
delimiter is found out. Cells come back exactly as they are, blank rows included.
Headings are known by their words in any case and in camel case: ``scientificName``,
``BOTANICAL_NAME`` and ``Latin name`` all say that a column has botanical names.
"""

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

from service.errors import BadRequest, TooLarge
from service.input.table_values import MAX_ROWS, TOP_ROWS, Fitness, Table

_DELIMITERS = (",", ";", "\t", "|")
_SINGLE_COLUMN = "\x1f"  # the unit separator: no text holds it, so each line is one cell
_SAMPLED_LINES = 200
_SHOWN_LINES = 12
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_DELIMITER_NAMES = {"\t": "tab", ",": "comma", ";": "semicolon", "|": "bar"}


def read_table(
    content: bytes,
    *,
    fitness: Fitness | None = None,
    sheet: str | None = None,
    pointer: str = "",
) -> Table:
    """Read a table from the bytes of a file.

    Args:
        fitness: tells headings from other rows; of several delimiters or sheets the one is taken
            under which a top row has most headings. Without it, rows of one width decide.
        sheet: title of the sheet to read, in any case.

    Raises:
        BadRequest: neither text in a known encoding nor a workbook; names the row.
        TooLarge: more rows than the limit, or a workbook that unpacks to too much.
    """
    if content.startswith(b"PK\x03\x04"):
        from service.input.workbook import read_workbook  # openpyxl is slow to import

        return read_workbook(content, fitness=fitness, sheet=sheet, pointer=pointer)
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise BadRequest(
            "This is a workbook in the old .xls form, or one with a password.",
            pointer=pointer,
            next_step="Save it as .xlsx without a password, or as CSV UTF-8.",
        )
    if sheet is not None:
        raise BadRequest(
            "A text file has no sheets.", pointer="sheet", next_step="Leave out the sheet."
        )
    return _read_text(content, fitness, pointer)


def check_rows(rows: int, pointer: str) -> None:
    """Refuse a table of more rows than the limit.

    Raises:
        TooLarge: it has more.
    """
    if rows > MAX_ROWS:
        raise TooLarge(f"The table has {rows:,} rows, which", MAX_ROWS, pointer=pointer)


def _read_text(content: bytes, fitness: Fitness | None, pointer: str) -> Table:
    text, encoding, notes = _decoded(content, pointer)
    if "\0" in text:
        row = text[: text.index("\0")].count("\n") + 1
        raise BadRequest(
            f"Row {row} holds a NUL character: this is not a text file.",
            pointer=pointer,
            next_step="Export it as CSV UTF-8.",
        )
    delimiter = _stated_delimiter(text) or _delimiter(text, fitness)
    rows, lines = _rows(text, delimiter, pointer)
    check_rows(len(rows), pointer)
    single = delimiter == _SINGLE_COLUMN
    shown = "one column" if single else f"separated by {_DELIMITER_NAMES[delimiter]}"
    return Table(
        rows,
        lines,
        f"{encoding}, {shown}",
        content.startswith(codecs.BOM_UTF8),
        notes,
    )


def _decoded(content: bytes, pointer: str) -> tuple[str, str, tuple[str, ...]]:
    """Text, its encoding for a person, and notes."""
    for mark, encoding in _MARKS:
        if content.startswith(mark):
            body = content[len(mark) :]
            if encoding == "utf-8":
                text, _, notes = _utf8_or_windows(body, pointer)
                return text, "UTF-8 with byte order mark", notes
            return _strict(body, encoding, "UTF-16", pointer), "UTF-16", ("read as UTF-16",)
    sample = content[:4096]
    if sample.count(0) > len(sample) // 4:  # western text in UTF-16: every other byte is zero
        encoding = "utf-16-be" if sample[:1] == b"\0" else "utf-16-le"
        text = _strict(content, encoding, "UTF-16", pointer)
        return text, "UTF-16 without byte order mark", ("read as UTF-16",)
    return _utf8_or_windows(content, pointer)


def _utf8_or_windows(content: bytes, pointer: str) -> tuple[str, str, tuple[str, ...]]:
    try:
        return content.decode("utf-8"), "UTF-8", ()
    except UnicodeDecodeError:
        pass
    pieces: list[str] = []
    strays: list[int] = []
    also_utf8 = False
    for number, line in enumerate(content.splitlines(keepends=True), 1):
        try:
            pieces.append(line.decode("utf-8"))
            also_utf8 = also_utf8 or not line.isascii()
        except UnicodeDecodeError:
            pieces.append(_windows(line, number, content, pointer))
            strays.append(number)
    shown = ", ".join(map(str, strays[:_SHOWN_LINES]))
    more = f" and {len(strays) - _SHOWN_LINES} more" if len(strays) > _SHOWN_LINES else ""
    which = f"line{'s' if len(strays) > 1 else ''} {shown}{more}"
    note = f"read as Windows-1252, not being UTF-8: {which}; check names with accents"
    return (
        "".join(pieces),
        "UTF-8 and Windows-1252 mixed" if also_utf8 else "Windows-1252",
        (note,),
    )


def _windows(line: bytes, number: int, content: bytes, pointer: str) -> str:
    try:
        return line.decode("cp1252")
    except UnicodeDecodeError as error:
        before = sum(len(line) for line in content.splitlines(keepends=True)[: number - 1])
        raise _unreadable(before + error.start, number, "Windows-1252", pointer) from error


def _strict(content: bytes, encoding: str, shown: str, pointer: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        row = content[: error.start].count(b"\n") + 1
        raise _unreadable(error.start, row, shown, pointer) from error


def _unreadable(byte: int, row: int, encoding: str, pointer: str) -> BadRequest:
    return BadRequest(
        f"The text cannot be read: byte {byte} in row {row} is neither UTF-8 nor {encoding}.",
        pointer=pointer,
        next_step="Export it as CSV UTF-8.",
    )


def _stated_delimiter(text: str) -> str | None:
    """The delimiter of a first line such as ``sep=;``, which spreadsheets write and read."""
    first = text[:8].split("\n", 1)[0].rstrip("\r").casefold().strip('"')
    stated = first.removeprefix("sep=")
    return stated if first.startswith("sep=") and stated in _DELIMITERS else None


def _delimiter(text: str, fitness: Fitness | None) -> str:
    """The delimiter under which a top row has most headings, then the one that cuts most rows into
    the same number of columns. A text whose heading no delimiter cuts has one column.
    """
    lines = [line for line in text.splitlines()[:_SAMPLED_LINES] if line.strip()]
    best = max(_DELIMITERS, key=lambda delimiter: _fit(lines, delimiter, fitness))
    if fitness is None:
        return best
    headings, agreeing, width, _ = _fit(lines, best, fitness)
    if headings and width == 1:
        return _SINGLE_COLUMN
    if not headings and agreeing * 2 <= len(lines):
        return _SINGLE_COLUMN
    return best


def _fit(
    lines: Sequence[str], delimiter: str, fitness: Fitness | None
) -> tuple[int, int, int, bool]:
    """Headings in the best top row, rows that agree on a width above one, that width (or that of
    the heading), and whether it is the comma.
    """
    rows = list(csv.reader(lines, delimiter=delimiter))
    widths = Counter(len(cells) for cells in rows if len(cells) > 1)
    width, agreeing = max(widths.items(), key=lambda item: (item[1], item[0]), default=(1, 0))
    headings = 0
    if fitness is not None:
        heading = max(rows[:TOP_ROWS], key=fitness, default=[])
        headings = fitness(heading)
        width = len(heading) if headings else width
    return headings, agreeing, width, delimiter == ","


def _rows(text: str, delimiter: str, pointer: str) -> tuple[list[list[str]], list[int]]:
    csv.field_size_limit(10_000_000)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[list[str]] = []
    lines: list[int] = []
    line = 1
    try:
        for cells in reader:
            rows.append(cells)
            lines.append(line)
            line = reader.line_num + 1
    except csv.Error as error:
        raise BadRequest(
            f"Row {line} cannot be read: {error}.",
            pointer=pointer,
            next_step="Export it as CSV UTF-8.",
        ) from error
    return rows, lines


Role = Literal["botanical", "common", "label", "genus", "species", "cultivar", "code"]
"""What the cells of a column are. ``label`` is a name of any kind with whatever else is on the tag;
``code`` is the shop's own number of the item.
"""

_KEYS: dict[Role, str] = {
    "botanical": (
        "scientificname botanicalname latinname botanicname scientific botanical latin botanic"
        " taxon taxonname taxa binomial speciesname genusspecies genusandspecies"
    ),
    "common": "commonname common commonnames vernacularname vernacular vernacularnames englishname",
    "label": (
        "label plantname plant plants productname itemname name variety varietyname product title"
        " itemdescription productdescription plantdescription item items description desc"
        " itemdesc article material plantlabel labels names description1 itemdescription1"
    ),
    "genus": "genus",
    "species": "species specificepithet epithet",
    "cultivar": "cultivar cultivarname cv",
    "code": (
        "sku itemcode itemnumber itemno itemid code productcode productid stockcode stocknumber"
        " plantcode plantid articlenumber partnumber upc barcode handle id"
    ),
}  # fmt: skip
"""Headings without spaces and in lower case, the surest first."""

_RANKED: dict[str, tuple[Role, int]] = {
    key: (role, rank)
    for role, keys in _KEYS.items()
    for rank, key in enumerate(dict.fromkeys(keys.split()))
}
_LOOSE_RANK = 100
_BOTANICAL_WORDS = frozenset({"scientific", "botanical", "latin", "botanic", "taxon"})
_COMMON_WORDS = frozenset({"common", "vernacular"})
_THINGS = frozenset({"plant", "variety", "product", "item", "article", "stock", "material"})
_NAMINGS = frozenset({"name", "names", "description", "desc", "title", "label"})
_HEADING_WORDS = frozenset(
    """scientific botanical latin botanic taxon genus species variety cultivar common vernacular
    english plant plants of and or the""".split()  # noqa: SIM905
)
_OTHER_MATTERS = frozenset(
    """code id number no nr sku price cost qty quantity count size group type category class family
    author authorship url link image status note notes source origin weight tax vendor date
    customer supplier company store shop contact""".split()  # noqa: SIM905
)
"""Words of a heading whose cells are about something else than the plant's name."""


def heading_words(heading: str) -> tuple[str, ...]:
    """The words of a heading, in lower case.

    >>> heading_words("scientificName"), heading_words("Item\\nDESCRIPTION (web)")
    (('scientific', 'name'), ('item', 'description', 'web'))
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return tuple(re.sub(r"[\W_]+", " ", apart).casefold().split())


_LONGEST_HEADING = 80


def role_of(heading: str) -> tuple[Role, int] | None:
    """What a heading says of its column and how surely, 0 the surest; None where it says nothing
    that is looked for.

    >>> role_of("Botanical_Name"), role_of("Qty")
    (('botanical', 1), None)
    """
    return _role_of(heading) if len(heading) <= _LONGEST_HEADING else None


@lru_cache(maxsize=1_000)  # the top rows are looked at under each delimiter
def _role_of(heading: str) -> tuple[Role, int] | None:
    words = heading_words(heading)
    key = "".join(words)
    if key in _RANKED:
        return _RANKED[key]
    plain = set(words)
    if plain & _OTHER_MATTERS or len(words) > 5:
        return None
    # "Common cattail" is a plant: a word such as common needs another that says it is a heading.
    if not plain & _NAMINGS and not plain <= _HEADING_WORDS:
        return None
    if plain & _BOTANICAL_WORDS:
        return "botanical", _LOOSE_RANK
    if plain & _COMMON_WORDS:
        return "common", _LOOSE_RANK
    return ("label", _LOOSE_RANK) if plain & _THINGS and plain & _NAMINGS else None


def naming_headings(row: Sequence[str]) -> int:
    """How many cells of a row are headings of columns with names of plants."""
    roles = (role_of(cell) for cell in row if cell.strip())
    return sum(role is not None and role[0] != "code" for role in roles)


def same_heading(first: str, second: str) -> bool:
    """Whether two headings have the same words."""
    return heading_words(first) == heading_words(second) != ()
