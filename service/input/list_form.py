"""The form of the list room: what a person pasted or opened, and the places it goes to."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from service.errors import BadRequest
from service.input.person import read_acts, read_jurisdictions, read_state
from service.input.stock_table import StockTable, has_heading, read_stock
from service.values.vocabulary import ACTS, Act, Jurisdiction

_ZIP_START = b"PK\x03\x04"
MOST_CHOSEN = 20_000
"""Names chosen by hand in one list."""


@dataclass(frozen=True, slots=True)
class ListForm:
    """The fields as text. Empty is not stated.

    Attributes:
        plants: pasted: one plant a line, or a table with a heading.
        file: an opened file, in place of what was pasted.
        to: states that the plants go to.
        origin: the state they are shipped from.
        column, sheet: which column names the plants, and in which sheet of a workbook.
        chosen: by number of the line, the name that a person who saw the plant gave it.
    """

    plants: str = ""
    file: bytes = field(default=b"", repr=False)
    to: tuple[str, ...] = ()
    origin: str = ""
    acts: tuple[str, ...] = ()
    column: str = ""
    sheet: str = ""
    chosen: Mapping[int, str] = field(default_factory=dict)

    @property
    def places(self) -> tuple[Jurisdiction, ...]:
        """The states, each once.

        Raises:
            BadRequest: none is given, or one is not known.
        """
        places = read_jurisdictions(self.to, "to")
        if not places:
            raise BadRequest(
                "No state is given.",
                pointer="to",
                next_step="Choose at least one state that the plants go to.",
            )
        return places

    @property
    def from_state(self) -> Jurisdiction | None:
        """The state shipped from; None where it is not stated."""
        return read_state(self.origin, "from") if self.origin else None

    @property
    def chosen_acts(self) -> tuple[Act, ...]:
        """The acts ticked, each once, in the order of the vocabulary; selling if none is."""
        ticked = read_acts(self.acts, default=None)
        return tuple(act for act in ACTS if act in ticked) or ("sell",)


def list_form(fields: Mapping[str, Sequence[str]], file: bytes = b"") -> ListForm:
    """The form from the fields of a request.

    Raises:
        BadRequest: the chosen names cannot be read.
    """

    def first(name: str) -> str:
        return next((value.strip() for value in fields.get(name, ()) if value.strip()), "")

    return ListForm(
        plants="\n".join(fields.get("plants", ())),
        file=file,
        to=tuple(dict.fromkeys(fields.get("to", ()))),
        origin=first("from"),
        acts=tuple(dict.fromkeys(fields.get("act", ()))),
        column=first("column"),
        sheet=first("sheet"),
        chosen=_chosen(first("chosen")),
    )


def _chosen(text: str) -> dict[int, str]:
    if not text:
        return {}
    try:
        document = json.loads(text)
        chosen = {int(number): str(name) for number, name in document.items()}
    except (ValueError, AttributeError, RecursionError) as error:
        raise BadRequest(
            "The chosen names cannot be read.",
            pointer="chosen",
            next_step='Write them as {"12": "Iris versicolor"}.',
        ) from error
    if len(chosen) > MOST_CHOSEN or any(len(name) > 2_000 for name in chosen.values()):
        raise BadRequest("There are too many chosen names.", pointer="chosen")
    return chosen


def stock_of(form: ListForm) -> StockTable:
    """The plants as a stock list, with the chosen names in place.

    Raises:
        BadRequest: there are none, or they cannot be read.
        TooLarge: more rows or columns than are taken.
    """
    content = form.file or form.plants.encode()
    if not content.strip():
        raise BadRequest(
            "No plant is given.",
            pointer="plants",
            next_step="Write or paste one plant a line, or open a file.",
        )
    column, sheet = form.column or None, form.sheet or None
    is_table = content.startswith(_ZIP_START) or column or has_heading(content)
    if is_table or form.file:
        table = read_stock(content, column=column, sheet=sheet)
    else:
        table = _pasted_lines(form.plants)
    return _with_chosen(table, form.chosen) if form.chosen else table


def _pasted_lines(plants: str) -> StockTable:
    labels = [line.strip() for line in plants.splitlines() if line.strip()]
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\r\n").writerows([["label"], *([label] for label in labels)])
    # Lines without a heading are numbered from the first.
    return replace(read_stock(buffer.getvalue().encode()), first_row=1)


def _with_chosen(table: StockTable, chosen: Mapping[int, str]) -> StockTable:
    """The table with the names that a person gave after seeing the plant."""
    names = tuple(
        replace(name, label=chosen[number], common="") if number in chosen else name
        for number, name in enumerate(table.names, start=table.first_row)
    )
    return replace(table, names=names)
