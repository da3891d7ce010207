"""Stock lists as nurseries and shops export them, made here byte by byte, and what somebody who
keeps such lists expects of each. People, shops and prices are invented.

The expectations were written before the reader. For each list:

- ``read``: row of the file, the botanical name or label that is read in it, and the common name
  that is read beside it. A row that is not named here is not answered, and is said to be so.
- ``means``: row, the accepted name that the line must come to (empty: none), and whether the name
  is confirmed.
- ``says``: words that a note on the list must have, where it was read in a way that is not plain.
"""

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from openpyxl import Workbook

Read = tuple[int, str, str]


@dataclass(frozen=True)
class MessyList:
    """A list and what is expected of it."""

    name: str
    content: bytes
    read: tuple[Read, ...]
    why: str
    means: Mapping[int, tuple[str, bool]] = field(default_factory=dict)
    says: tuple[str, ...] = ()
    sheet: str | None = None
    column: str | None = None
    plain: bool = False


def _book(fill: Callable[[Workbook], None]) -> bytes:
    book = Workbook()
    fill(book)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _availability(book: Workbook) -> None:
    sheet = book.active
    assert sheet is not None
    sheet.title = "Availability"
    sheet["A1"] = "Fernhollow Water Gardens"
    sheet.merge_cells("A1:E1")
    sheet["A2"] = "Plant availability, spring 2026 - prices subject to change"
    sheet.merge_cells("A2:E2")
    sheet.append([])
    sheet.append(["Plant", None, "Stock", None, None])
    sheet.merge_cells("A4:B4")
    sheet.merge_cells("C4:E4")
    sheet.append(["Botanical Name", "Common Name", "Pot", "Qty", "Each"])
    sheet.append(["FLOATING PLANTS"])
    sheet.merge_cells("A6:E6")
    sheet.append(["Eichhornia crassipes", "Water hyacinth", "bunch", 120, 3.5])
    sheet.append(["Pistia stratiotes", "Water lettuce", "bunch", 80, 2.75])
    sheet.append(["MARGINALS"])
    sheet.append(["Pontederia cordata", "Pickerelweed", "1 gal", 24, 9.5])
    sheet.append(["TOTAL", None, None, "=SUM(D7:D10)", None])
    sheet["E7"].number_format = '"$"#,##0.00'


def _formulas(book: Workbook) -> None:
    sheet = book.active
    assert sheet is not None
    sheet.append(["SKU", "Plant Name", "Genus part", "Price", "Qty", "Value"])
    sheet.append(["A1", "Trapa natans", "Trapa", 4, 2, "=D2*E2"])
    sheet.append(["A2", '=C3&" verticillata"', "Hydrilla", 4, 1, "=D3*E3"])
    sheet.append(["A3", "#REF!", "", 4, 1, "=D4*E4"])


def _several_sheets(book: Workbook) -> None:
    cover = book.active
    assert cover is not None
    cover.title = "Read me"
    cover["A1"] = "Wholesale list of Fernhollow Water Gardens"
    cover["A2"] = "Call before you order."
    floaters = book.create_sheet("Floaters")
    floaters.append(["Item Description", "Price"])
    floaters.append(["Water lettuce 4in", 2.75])
    marginals = book.create_sheet("Marginals")
    marginals.append(["Item Description", "Price"])
    marginals.append(["Yellow flag iris 1 gal", 9])
    hidden = book.create_sheet("Costs")
    hidden.append(["Item Description", "Cost"])
    hidden.append(["Giant salvinia", 1])
    hidden.sheet_state = "hidden"


_SEVERAL = _book(_several_sheets)

MESSY_LISTS: tuple[MessyList, ...] = (
    MessyList(
        "workbook with titles, a head in two rows and parts",
        _book(_availability),
        (
            (6, "FLOATING PLANTS", ""),
            (7, "Eichhornia crassipes", "Water hyacinth"),
            (8, "Pistia stratiotes", "Water lettuce"),
            (9, "MARGINALS", ""),
            (10, "Pontederia cordata", "Pickerelweed"),
        ),
        "The heading is the lower row, in which both names are. A part heading is asked like a"
        " label, since nobody can know that it is none; the total is not a plant.",
        {
            6: ("", False),
            7: ("Pontederia crassipes", True),
            8: ("Pistia stratiotes", True),
            10: ("Pontederia cordata", True),
        },
    ),
    MessyList(
        "camel case headings",
        b"itemCode,scientificName,commonName,unitPrice\r\n"
        b"HY-1,Hydrilla verticillata,hydrilla,$4.25\r\n"
        b"HY-2,Nymphaea odorata,N/A,$12.00\r\n",
        ((2, "Hydrilla verticillata", "hydrilla"), (3, "Nymphaea odorata", "")),
        "scientificName is a botanical name; N/A is an empty cell, not a name.",
        {2: ("Hydrilla verticillata", True), 3: ("Nymphaea odorata", True)},
    ),
    MessyList(
        "two name columns that agree, contradict, or are blank",
        b"Botanical Name,Common Name,Size\n"
        b"Eichornia crassipes,Water hyacinth,4in\n"
        b"Iris versicolor,Yellow flag,1gal\n"
        b",Water lettuce,cup\n"
        b"Typha latifolia,,1gal\n"
        b",,1gal\n",
        (
            (2, "Eichornia crassipes", "Water hyacinth"),
            (3, "Iris versicolor", "Yellow flag"),
            (4, "", "Water lettuce"),
            (5, "Typha latifolia", ""),
        ),
        "A misspelt botanical name that the common name bears out is sure; a blue flag that is sold"
        " as yellow flag is open; a blank side leaves the other as it is.",
        {
            2: ("Pontederia crassipes", True),
            3: ("Iris versicolor; Iris pseudacorus", False),
            4: ("Pistia stratiotes", True),
            5: ("Typha latifolia", True),
        },
    ),
    MessyList(
        "semicolons, Windows-1252, decimal commas",
        "Artikel;Latin Name;Topf;Preis\r\n1001;Nymphaea ×marliacea ‘Carnea’;2 l;12,50 €\r\n"
        "1002;Trapa natans;Stück;3,00 €\r\n".encode("cp1252"),
        ((2, "Nymphaea ×marliacea ‘Carnea’", ""), (3, "Trapa natans", "")),
        "A spreadsheet of a European desk: the comma in the price is no delimiter.",
        {3: ("Trapa natans", True)},
        says=("Windows-1252",),
    ),
    MessyList(
        "text export, all in quotes",
        b'"Dept","Item Description","On Hand"\r\n'
        b'"POND","Water poppy 4"" pot, yellow","12"\r\n'
        b'"POND","Parrot feather\r\nbunch of 6","30"\r\n',
        ((2, 'Water poppy 4" pot, yellow', ""), (3, "Parrot feather\nbunch of 6", "")),
        "A doubled quote is one inch mark; a break within quotes is within one cell, and the next"
        " row is row 3 of the list.",
        {3: ("Myriophyllum aquaticum", True)},
    ),
    MessyList(
        "blank rows and short rows",
        b"sku,plant,qty\n\n1,Trapa natans,2\n,,\n2,Azolla pinnata\n",
        ((3, "Trapa natans", ""), (5, "Azolla pinnata", "")),
        "Every row keeps its place.",
        {3: ("Trapa natans", True), 5: ("Azolla pinnata", True)},
    ),
    MessyList(
        "prices with currency and thousands",
        b'Product Name,Wholesale Price,Note\nSalvinia molesta,"US$ 1,250.00",-\n'
        b'Water lettuce,"-$3.50",- see back\n',
        ((2, "Salvinia molesta", ""), (3, "Water lettuce", "")),
        "The comma of the price is within quotes.",
        {2: ("Salvinia molesta", True)},
    ),
    MessyList(
        "N/A, dashes, a total and a second heading",
        b"Variety,Qty\nTrapa natans,4\nN/A,2\n-,1\nVariety,Qty\nHydrilla verticillata,3\nGRAND TOTAL,10\n",
        ((2, "Trapa natans", ""), (6, "Hydrilla verticillata", "")),
        "A printed list repeats its heading on each page; none of these is a plant's name.",
        {2: ("Trapa natans", True), 6: ("Hydrilla verticillata", True)},
    ),
    MessyList(
        "workbook whose names are formulas",
        _book(_formulas),
        ((2, "Trapa natans", ""),),
        "A formula that was never worked out gives no name: the row is said to be unanswered, with"
        " its reason; so is a cell that holds an error.",
        {2: ("Trapa natans", True)},
        says=("row 3", "formula"),
    ),
    MessyList(
        "workbook of several sheets",
        _SEVERAL,
        ((2, "Water lettuce 4in", ""),),
        "The first sheet with a heading that is understood; the others are named.",
        {2: ("Pistia stratiotes", True)},
        says=("'Floaters'", "Marginals"),
    ),
    MessyList(
        "workbook of several sheets, one asked for",
        _SEVERAL,
        ((2, "Yellow flag iris 1 gal", ""),),
        "--sheet names it, in any case.",
        {2: ("Iris pseudacorus", True)},
        sheet="marginals",
    ),
    MessyList(
        "tabs, as text pasted from a sheet",
        b"Latin name\tVernacular name\tForm\nTrapa natans\tWater chestnut\tseedling, bare root\n",
        ((2, "Trapa natans", "Water chestnut"),),
        "Tabs separate the columns; the comma belongs to the cell.",
        {2: ("Trapa natans", True)},
    ),
    MessyList(
        "Unicode text of a spreadsheet",
        "PLANT NAME\tQTY\r\nNymphaea ‘Gonnère’\t4\r\nHydrilla verticillata\t2\r\n".encode("utf-16"),
        ((2, "Nymphaea ‘Gonnère’", ""), (3, "Hydrilla verticillata", "")),
        "UTF-16 with a byte order mark.",
        {3: ("Hydrilla verticillata", True)},
        says=("UTF-16",),
    ),
    MessyList(
        "separator line above the heading",
        b"sep=;\r\nItem;Item Description;Price\r\nHW-001;Water hyacinth, bunch;3,50\r\n",
        ((3, "Water hyacinth, bunch", ""),),
        "sep= is a message to the spreadsheet. The item is a code here, so the description has the"
        " name.",
        {3: ("Pontederia crassipes", True)},
    ),
    MessyList(
        "genus and species apart",
        b"Genus,Species,Cultivar,Pot\nNelumbo,lutea,,3 gal\nNymphaea,odorata,Sulphurea,2 gal\n",
        ((2, "Nelumbo lutea", ""), (3, "Nymphaea odorata 'Sulphurea'", "")),
        "Three columns make one name.",
        {2: ("Nelumbo lutea", True)},
    ),
    MessyList(
        "a title that has the word plant in it",
        b"Plant list,,\nFernhollow Water Gardens,Plant department,2026\nCode,Common,Botanical\n"
        b"7,Water lettuce,Pistia stratiotes\n",
        ((4, "Pistia stratiotes", "Water lettuce"),),
        "The row with the most headings is the heading.",
        {4: ("Pistia stratiotes", True)},
    ),
    MessyList(
        "plain text, one plant a line",
        b"Trapa natans\nwater lettuce, large\n\nNymphaea odorata\n",
        ((1, "Trapa natans", ""), (2, "water lettuce, large", ""), (4, "Nymphaea odorata", "")),
        "No heading and one column: each line is a label, comma and all.",
        {1: ("Trapa natans", True), 4: ("Nymphaea odorata", True)},
        plain=True,
        says=("no heading",),
    ),
    MessyList(
        "a column asked for by name",
        b"Description,House Code Name,Qty\nblue pot,Trapa natans,2\n",
        ((2, "Trapa natans", ""),),
        "--column goes before what the headings say.",
        {2: ("Trapa natans", True)},
        column="house code name",
    ),
)
