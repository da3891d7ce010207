"""What a person filled in on the page, and the list or plan that it makes."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from service.checks.plan.request import Plan
from service.errors import BadRequest
from service.input.acts import read_acts
from service.input.json_document import parse_json
from service.input.place import read_position
from service.input.plan import read_plan
from service.input.plan_table import read_plan_table
from service.input.stock_table import StockTable, has_heading, read_stock
from service.input.table import decoded_text
from service.values.vocabulary import ACTS, Act

Kind = Literal["plan", "table", "labels"]

_PLACE_NUMBERS = ("depth_cm", "area_m2")
_PLACE_CHOICES = ("outlet", "overflow", "flood_prone", "bank_contact", "lined", "visited")
PLACE_QUESTIONS: dict[str, str] = {
    "outlet": "Does water leave it in ordinary weather?",
    "overflow": "Can a storm send water over the rim?",
    "flood_prone": "Can high water of a stream or lake reach it?",
    "bank_contact": "Does soil join it to the ground outside?",
    "lined": "Does a liner or wall close it off from the ground?",
    "visited": "Do water birds, stock, anglers or boats come to it?",
}


@dataclass(frozen=True, slots=True)
class PageForm:
    """The fields of the page, as text. Empty is not stated.

    Attributes:
        plants: a list, a table or a plan document, pasted or from a file.
        also: other states to hold a list against.
        at: longitude and latitude.
        place: facts of the one pond, stream or bog.
        workbook: an Excel workbook that was opened in place of the plants.
    """

    plants: str = ""
    state: str = ""
    county: str = ""
    zip_code: str = ""
    at: str = ""
    also: str = ""
    acts: tuple[str, ...] = ()
    place: Mapping[str, str] = field(default_factory=dict)
    workbook: bytes = field(default=b"", repr=False)

    @property
    def kind(self) -> Kind:
        """What the plants are written as."""
        return "table" if self.workbook else kind_of(self.plants)

    @property
    def content(self) -> bytes:
        """The plants as the bytes of a file."""
        return self.workbook or self.plants.encode()

    @property
    def states(self) -> tuple[str, ...]:
        """The state of the site and the others, each once, in the order given."""
        others = [part.strip() for part in self.also.replace(";", ",").split(",")]
        return tuple(dict.fromkeys(each for each in (self.state, *others) if each))


def form_of(fields: Mapping[str, Sequence[str]], uploaded: bytes = b"") -> PageForm:
    """The form from the fields of a request; an uploaded file goes before what was pasted.

    Raises:
        BadRequest: the file is no text.
    """

    def one(name: str) -> str:
        return next((value.strip() for value in fields.get(name, ()) if value.strip()), "")

    workbook = uploaded if uploaded.startswith(b"PK\x03\x04") else b""
    names = ("kind", *_PLACE_NUMBERS, *_PLACE_CHOICES)
    return PageForm(
        plants=decoded_text(uploaded, "file")
        if uploaded.strip() and not workbook
        else "\n".join(fields.get("plants", ())),
        state=one("state"),
        county=one("county"),
        zip_code=one("zip"),
        at=one("at"),
        also=one("also"),
        acts=tuple(dict.fromkeys(fields.get("act", ()))),
        place={name: one(f"place_{name}") for name in names if one(f"place_{name}")},
        workbook=workbook,
    )


def kind_of(text: str) -> Kind:
    """A plan document begins with a brace, a table with a heading that names the label; all else
    is one plant a line.
    """
    if text.lstrip("\ufeff \r\n\t").startswith("{"):
        return "plan"
    return "table" if text.strip() and has_heading(text.encode()) else "labels"


def stock_of(form: PageForm) -> StockTable:
    """The plants as a stock list.

    Raises:
        BadRequest: there are none, or they cannot be read.
    """
    if not form.content.strip():
        raise BadRequest(
            "No plant is given.",
            pointer="plants",
            next_step="Write or paste one plant a line, or open a file.",
        )
    if form.kind == "table":
        return read_stock(form.content)
    labels = (
        [each.label for each in plan_of(form).plantings]
        if form.kind == "plan"
        else _lines(form.plants)
    )
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\r\n").writerows([["label"], *([label] for label in labels)])
    # Lines without a heading are numbered from the first.
    return replace(read_stock(buffer.getvalue().encode()), first_row=1)


def plan_of(form: PageForm) -> Plan:
    """The plants as a planting plan.

    Raises:
        BadRequest: there are none, the site is missing, or nothing in it can be read.
    """
    if not form.content.strip():
        raise BadRequest(
            "No plant is given.",
            pointer="plants",
            next_step="Write or paste one plant a line, or open a file.",
        )
    acts = acts_of(form)
    if form.kind == "plan":
        document = parse_json(form.plants.encode())
        if "site" not in document:
            document["site"] = _site(form)
        if acts and "acts" not in document:
            document["acts"] = list(acts)
        return read_plan(document)
    if form.kind == "table" and _has_plan_columns(form):
        return replace(read_plan_table(form.content, site=_site(form)), acts=acts or None)
    labels = (
        [label for label in read_stock(form.content).labels if label]
        if form.kind == "table"
        else _lines(form.plants)
    )
    return read_plan(
        {
            "site": _site(form),
            "places": [_place(form)] if form.place.get("kind") else [],
            "plantings": [{"label": label} for label in labels],
            **({"acts": list(acts)} if acts else {}),
        }
    )


def acts_of(form: PageForm) -> tuple[Act, ...]:
    """The acts ticked, each once.

    Raises:
        UnknownValue: one is not an act.
    """
    ticked = read_acts(form.acts, default=None)
    return tuple(act for act in ACTS if act in ticked)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _site(form: PageForm) -> dict[str, Any]:
    site: dict[str, Any] = {"state": form.state, "county": form.county, "zip": form.zip_code}
    site = {name: value for name, value in site.items() if value}
    if form.at:
        site["geometry"] = {"type": "Point", "coordinates": list(read_position(form.at, "at"))}
    if not site:
        raise BadRequest(
            "No place is given.",
            pointer="state",
            next_step="Choose a state, or give a ZIP code or a position.",
        )
    return site


def _place(form: PageForm) -> dict[str, Any]:
    kind = form.place["kind"]
    place: dict[str, Any] = {"name": f"the {kind}", "kind": kind}
    place |= {
        name: form.place[name] == "yes"
        for name in _PLACE_CHOICES
        if form.place.get(name) in ("yes", "no")
    }
    for name in _PLACE_NUMBERS:
        if name in form.place:
            try:
                place[name] = json.loads(form.place[name])
            except json.JSONDecodeError:
                place[name] = form.place[name]  # refused by the document with its place
    return place


def _has_plan_columns(form: PageForm) -> bool:
    header = " ".join(read_stock(form.content).header).casefold()
    return any(word in header for word in ("place", "site_", "holding", "crown_depth"))
