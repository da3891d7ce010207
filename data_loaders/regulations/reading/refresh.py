"""The addresses of the lists, fetched and read: what moved, list by list."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from data_loaders.regulations.listfile import ListFile
from data_loaders.regulations.reading.addresses import AddressRefused, sites_of
from data_loaders.regulations.reading.compare import read_list
from data_loaders.regulations.reading.copies import Copies, KeptCopy
from data_loaders.regulations.reading.document import Document
from data_loaders.regulations.reading.fetch import Fetcher, Known, Page, Unreachable
from data_loaders.regulations.reading.formats import ENDINGS, kind_of, read_document
from data_loaders.regulations.reading.stored import federal_list
from data_loaders.regulations.reading.values import ListReading
from data_loaders.regulations.reading.vocabulary import Vocabulary
from data_loaders.regulations.reading.write import Copy
from service.errors import BadFile
from service.store.library import Library

Status = Literal["unchanged", "changed", "unreachable", "not-understood", "no-address"]

_LEAST_SHARE = 0.2
"""Entries of a list of three or more that a page must show to be taken for the list (common
practice, no source).
"""


@dataclass(frozen=True, slots=True)
class Refreshed:
    """What a look at the address of one list found.

    Attributes:
        say: for a person.
        first: no earlier copy was kept, so that "changed" is against the list alone.
        moved_to: where the page has moved for good.
    """

    list_id: str
    status: Status
    say: str
    url: str = ""
    moved_to: str = ""
    first: bool = False
    model: ListFile | None = None
    document: Document | None = None
    reading: ListReading | None = None
    copy: Copy | None = None


def due_lists(models: Iterable[ListFile], months: int, on: date) -> list[ListFile]:
    """Lists that were not read, or whose reading is older than so many months."""
    return [model for model in models if _is_due(model, months, on)]


def _is_due(model: ListFile, months: int, on: date) -> bool:
    if model.how_known != "read" or not model.read_copy_date:
        return True
    year, month = (int(part) for part in f"{model.read_copy_date}-01"[:7].split("-"))
    return (on.year - year) * 12 + on.month - month > months


def refresh(
    models: Sequence[ListFile],
    library: Library,
    fetcher: Fetcher,
    copies: Copies,
    on: date,
    *,
    every: Sequence[ListFile] = (),
) -> Iterator[Refreshed]:
    """Look at the address of each list, one after the other; an address of two lists is asked
    once.

    Args:
        every: all loaded lists, whose sites are those that may be asked.
    """
    lists = [*models, *every]
    fetcher.sites = sites_of(url for model in lists for url in (model.url, model.read_url))
    federal = federal_list(lists)
    asked: dict[str, Page | Unreachable | AddressRefused] = {}
    earlier: dict[str, KeptCopy | None] = {}
    for model in sorted(models, key=lambda model: (model.jurisdiction, model.list_id)):
        url = (model.url or model.read_url).split("#", 1)[0]
        if not url:
            yield Refreshed(
                model.list_id, "no-address", "No address is known to look at.", model=model
            )
            continue
        if url not in asked:
            earlier[url] = copies.latest(url)
            asked[url] = _ask(url, fetcher, earlier[url])
        yield _look(model, url, asked[url], earlier[url], library, copies, on, federal)


def _ask(
    url: str, fetcher: Fetcher, before: KeptCopy | None
) -> Page | Unreachable | AddressRefused:
    try:
        return fetcher.fetch(url, before.known if before else None)
    except (Unreachable, AddressRefused) as error:
        return error


def _look(
    model: ListFile,
    url: str,
    page: Page | Unreachable | AddressRefused,
    before: KeptCopy | None,
    library: Library,
    copies: Copies,
    on: date,
    federal: ListFile | None,
) -> Refreshed:
    if isinstance(page, Unreachable | AddressRefused):
        return Refreshed(model.list_id, "unreachable", str(page), url, model=model)
    day = on.isoformat()
    if page.unchanged and before is not None:
        copies.seen_again(url, before, day)
        kept, content, charset = before, copies.content(before), before.charset
    else:
        content, charset = page.content, page.charset
        problem = _not_the_law(page)
        if problem:
            return Refreshed(
                model.list_id, "not-understood", problem, url, page.moved_to, model=model
            )
        try:
            ending = ENDINGS[kind_of(content, page.url)]
        except BadFile as error:
            return Refreshed(
                model.list_id, "not-understood", str(error), url, page.moved_to, model=model
            )
        kept = copies.keep(url, content, ending, Known(page.etag, page.last_modified), charset, day)
    same = before is not None and before.sha256 == kept.sha256
    return _read(
        model, url, page, content, charset, kept, same, before is None, library, on, federal
    )


def _not_the_law(page: Page) -> str:
    """Why a page that answered cannot be the law; empty if nothing speaks against it."""
    if page.content_type in ("application/json", "image/png", "image/jpeg", "image/gif"):
        return f"The address answers with {page.content_type}, not with a text."
    return ""


def _read(
    model: ListFile,
    url: str,
    page: Page,
    content: bytes,
    charset: str,
    kept: KeptCopy,
    same: bool,
    first: bool,
    library: Library,
    on: date,
    federal: ListFile | None,
) -> Refreshed:
    def found(status: Status, say: str, **more: object) -> Refreshed:
        return Refreshed(
            model.list_id,
            status,
            say,
            url,
            page.moved_to,
            first,
            model,
            **more,  # type: ignore[arg-type]
        )

    try:
        document = read_document(content, kept.file.rsplit("/", 1)[-1], charset=charset)
    except BadFile as error:
        return found("not-understood", f"The document cannot be read: {error}")
    reading = read_list(
        document, model, library, vocabulary=Vocabulary.of(library, model), federal=federal
    )
    problem = not_understood(model, document, reading)
    copy = Copy(kept.file.rsplit("/", 1)[-1], kept.sha256, on, url)
    if problem:
        return found("not-understood", problem, document=document, reading=reading, copy=copy)
    more = {"document": document, "reading": reading, "copy": copy}
    if same:
        open_points = " It still differs from the list here." if reading.differs else ""
        return found("unchanged", f"The document is as it was.{open_points}", **more)
    if not reading.differs:
        return found("unchanged", "The text lists what the list here has.", **more)
    return found("changed", _how(reading), **more)


def not_understood(model: ListFile, document: Document, reading: ListReading) -> str:
    """Why a reading cannot stand for the list; empty where it can."""
    if document.asks_for_login and not reading.confirmed:
        return "The page asks to sign in; the law is not on it."
    if not document.whole:
        return "The document breaks off before its end."
    entries = len(model.entries)
    if entries and not reading.names_found:
        return "No plant name is found: the page is another one, or its layout has changed."
    listed = len(reading.confirmed) + sum(
        bool(difference.perhaps or difference.by_reference) for difference in reading.not_in_text
    )
    if entries >= 3 and listed < _LEAST_SHARE * entries:
        return (
            f"Of {entries} entries {listed} are found: the page is another one, or its layout"
            " has changed."
        )
    return ""


def _how(reading: ListReading) -> str:
    parts = [
        _some(reading.missing_here, "in the text, missing here"),
        _some(reading.not_in_text, "here, not in the text"),
        _some(reading.class_differs, "in another class"),
        _some(reading.unknown_names, "not known"),
    ]
    return "; ".join(part for part in parts if part) + "."


def _some(rows: Sequence[object], words: str) -> str:
    if not rows:
        return ""
    names = [str(getattr(row, "name", "")) for row in rows]
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    return f"{len(names)} {words} ({', '.join(names[:4])}{more})"
