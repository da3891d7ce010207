"""The rooms of the page, as HTML, and what their scripts ask for.

A plant, the law loaded and a list answered at once work without script; drawing a place does not.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any, get_args
from urllib.parse import urlsplit

from markupsafe import Markup

from service.errors import NotFound, ReedgateError
from service.geography.counties import County
from service.input.list_form import ListForm
from service.names import Resolution
from service.output import words
from service.output.html.page_views import Agreeing, coverage_totals
from service.output.html.templating import templates
from service.output.maps.coverage import coverage_svg
from service.regulation.coverage import coverage_table
from service.regulation.law import Entry, ListVersion
from service.store.library import Library
from service.values.vocabulary import ACTS, JURISDICTION_NAMES, STATES, Jurisdiction, WaterKind
from service.values.words import STANDING_CAUTIONS

ROOMS: tuple[tuple[str, str], ...] = (
    ("/plant", "A plant"),
    ("/list", "A list"),
    ("/place", "A place"),
    ("/sites", "Many sites"),
    ("/law", "The law loaded"),
)
"""Address and title of each room, in the order of the menu."""
_MEDIA_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    "": "text/plain",
}
PLACE_QUESTIONS: dict[str, str] = {
    "outlet": "Does water leave it in ordinary weather?",
    "overflow": "Can a storm send water over the rim?",
    "flood_prone": "Can high water of a stream or lake reach it?",
    "bank_contact": "Does soil join it to the ground outside?",
    "lined": "Does a liner or wall close it off from the ground?",
    "visited": "Do water birds, stock, anglers or boats come to it?",
    "grazing_fish": "Does it hold carp, koi or goldfish?",
}
EXAMPLE = """Eichhornia crassipes (Water Hyacinth) bunch
Yellow flag iris
Pickerel rush, blue, 1 gal
Water celery, varieg. 4in
Blue flag iris - Iris versicolor
Parrot's feather
Hardy Lily 'Colorado' BR
Marsh marigold, Caltha palustris 1gal
"""
"""A list to try: names as they are on tags."""


@dataclass(frozen=True, slots=True)
class Tiles:
    """Where the ground of the maps is fetched from, if the operator names an address."""

    address: str = ""
    credit: str = ""


@dataclass(frozen=True, slots=True)
class PlaceAnswer:
    """What one jurisdiction says of a plant.

    Attributes:
        standing: how far the law of the jurisdiction is loaded, in a phrase.
    """

    jurisdiction: Jurisdiction
    groups: tuple[Agreeing, ...]
    standing: str = ""


@dataclass(frozen=True, slots=True)
class LookUp:
    """One plant in one or more states, answered.

    Attributes:
        facts: where it is native, where it is restricted; a sentence each.
    """

    label: str
    county: County | None
    resolution: Resolution
    answers: tuple[PlaceAnswer, ...]
    facts: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[Jurisdiction, ...]:
        return tuple(answer.jurisdiction for answer in self.answers)


@dataclass(frozen=True, slots=True)
class Asked:
    """The fields of a look-up, as given."""

    label: str = ""
    places: tuple[str, ...] = ()
    county: str = ""
    acts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Pages:
    """Writes the rooms over one library, for one day.

    Args:
        library: None for a page that shows nothing of the store.
    """

    library: Library | None
    on: date
    tiles: Tiles = Tiles()

    def start(self) -> str:
        """Where a person begins, by what they bring."""
        return self._render("start", loaded=coverage_totals(self._coverage()))

    def plant(self, asked: Asked, look_up: LookUp | None) -> str:
        """One plant, with the answer where it was asked."""
        return self._render("plant", asked=asked, look_up=look_up)

    def list(self, form: ListForm) -> str:
        """A list, to be filled in."""
        return self._render("list", form=form, example=EXAMPLE)

    def place(self) -> str:
        """A place, drawn and planted by the script."""
        return self._render("place")

    def sites(self) -> str:
        """Many sites, from a file."""
        return self._render("sites")

    def law(self) -> str:
        """How much law is loaded, state by state."""
        table = self._coverage()
        svg = Markup(coverage_svg(table, as_of=self.on.isoformat()))
        return self._render("law", table=table, loaded=coverage_totals(table), coverage=svg)

    def law_list(self, version: ListVersion) -> str:
        """One list, class by class."""
        entries: dict[str, list[Entry]] = {one.name: [] for one in version.classes}
        for entry in version.entries:
            entries.setdefault(entry.class_name, []).append(entry)
        return self._render("law_list", room="/law", version=version, entries=entries)

    def stock(self, context: Mapping[str, Any]) -> Iterable[str]:
        """An answered list for a browser without script, in pieces."""
        template = templates().get_template("page/stock.html.j2")
        return template.generate(self._common("/list") | dict(context))

    def closed(self) -> str:
        """What a tab sees that has no token yet: the frame, which asks for one."""
        return self._render("closed", closed=True)

    def error(self, error: ReedgateError) -> str:
        """What is wrong and what to do next."""
        return self._render("error", error=error, pointer=getattr(error, "pointer", ""))

    def _coverage(self) -> tuple[Any, ...]:
        assert self.library is not None
        return tuple(coverage_table(self.library.law, self.on))

    def _render(self, template: str, *, room: str = "", **context: Any) -> str:
        made = templates().get_template(f"page/{template}.html.j2")
        return made.render(self._common(room or f"/{template}") | context)

    def _common(self, room: str) -> dict[str, Any]:
        return {
            "acts": _NURSERY_ACTS,
            "build": self.library.build_id if self.library else "",
            "cautions": STANDING_CAUTIONS,
            "closed": False,
            "on": self.on if self.library else None,
            "room": room,
            "rooms": ROOMS,
            "script_words": script_words(self.tiles),
            "states": STATES,
            "static": static_address,
        }


_NURSERY_ACTS = ("sell", *(act for act in ACTS if act != "sell"))
"""Selling first: it is what most people come to ask."""


@cache
def script_words(tiles: Tiles) -> Markup:
    """Words that the scripts show, as JSON in a data block; ``<`` never ends it."""
    content = {
        "outcomes": words.OUTCOMES,
        "place_questions": PLACE_QUESTIONS,
        "states": [{"code": code, "name": JURISDICTION_NAMES[code]} for code in STATES],
        "tiles": tiles.address,
        "tiles_credit": tiles.credit,
        "water_kinds": list(get_args(WaterKind)),
    }
    return Markup(json.dumps(content, ensure_ascii=False).replace("<", "\\u003c"))


def static_file(path: str) -> tuple[bytes, str]:
    """A file that the page asks for, and its media type.

    Raises:
        NotFound: there is none.
    """
    content = _static_files().get(path)
    if content is None:
        raise NotFound(f"There is no file {path!r}.")
    suffix = path[path.rfind(".") :] if "." in path else ""
    return content, _MEDIA_TYPES.get(suffix, "application/octet-stream")


def static_address(path: str) -> str:
    """Where a file of the page is; changes with the content of any of them, so that each can be
    kept for good and scripts find each other beside themselves.
    """
    return f"/static/{static_version()}/{path}"


@cache
def static_version() -> str:
    """Twelve letters of a hash over every file of the page."""
    whole = hashlib.sha256()
    for path, content in sorted(_static_files().items()):
        whole.update(path.encode() + b"\0" + content)
    return whole.hexdigest()[:12]


@cache
def _static_files() -> Mapping[str, bytes]:
    return dict(_walk(files("service.output.html").joinpath("static"), ""))


def _walk(folder: Traversable, prefix: str) -> Iterable[tuple[str, bytes]]:
    for entry in folder.iterdir():
        path = f"{prefix}{entry.name}"
        if entry.is_dir():
            yield from _walk(entry, f"{path}/")
        elif path != "report.css":
            yield path, entry.read_bytes()


def tile_host(address: str) -> str:
    """The scheme and host that map tiles come from; empty without an address.

    >>> tile_host("https://tiles.example.org/{z}/{x}/{y}.png")
    'https://tiles.example.org'
    """
    parts = urlsplit(address)
    return f"{parts.scheme}://{parts.netloc.replace('{s}', '*')}" if parts.netloc else ""
