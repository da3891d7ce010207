"""Lists of one's own into the store: an ordinance, an association's rule, a buyer's list, or new
list files of law.

    report = load_own_list(store, Path("maple_county.csv"), jurisdiction="US-WI", county="Dane",
    title="Pond plants", kind="ordinance",
                           acts=("sell", "plant"), dry_run=True)
    for row in report.rows: ...                    # what was understood, before anything is stored
    load_own_list(..., chosen={14: "Trapa natans", 15: ""})

An ``ordinance`` is law; an ``own-rule`` is none and stands apart in every answer.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Literal

from data_loaders.build import bytes_sha256, file_sha256
from data_loaders.geography.packaged import packaged_counties
from data_loaders.plants.taxa import plant_id_of
from data_loaders.regulations.from_tables import to_toml
from data_loaders.regulations.headers import Field, find_header, read_grid
from data_loaders.regulations.listfile import ListFile, read_list_file
from data_loaders.regulations.own_names import OwnListRow, RowKind
from data_loaders.regulations.own_rows import RowReader, Setting, check_chosen, entry_row
from data_loaders.regulations.own_store import Outcome, put
from service.errors import BadFile, BadRequest, UnknownValue
from service.names import Resolver
from service.store.database import Build
from service.store.library import Library
from service.values.vocabulary import ACTS, FEDERAL, JURISDICTION_NAMES, Act, Jurisdiction, ListId

OwnKind = Literal["ordinance", "own-rule"]


@dataclass(frozen=True, slots=True)
class OwnListReport:
    """What was understood of a list, and what became of it.

    Attributes:
        outcome: ``dry-run`` stored nothing; ``unchanged`` found the same list already loaded.
        written_as: encoding and delimiter, or the sheet.
        columns: field to the title of the column taken for it.
        passed_over: titles of columns that mean nothing here.
        model: the list as stored or as it would be; None where no row could be an entry.
    """

    file: str
    outcome: Outcome
    list_id: ListId
    title: str
    jurisdiction: Jurisdiction
    kind: OwnKind
    written_as: str = ""
    columns: Mapping[Field, str] = field(default_factory=dict)
    passed_over: tuple[str, ...] = ()
    rows: tuple[OwnListRow, ...] = ()
    notes: tuple[str, ...] = ()
    model: ListFile | None = field(default=None, repr=False)

    def of_kind(self, *kinds: RowKind) -> tuple[OwnListRow, ...]:
        """Rows of these kinds, in order."""
        return tuple(row for row in self.rows if row.kind in kinds)

    @property
    def counts(self) -> dict[RowKind, int]:
        """How many rows of each kind."""
        return dict(Counter(row.kind for row in self.rows))

    @property
    def doubtful(self) -> tuple[OwnListRow, ...]:
        """Rows that a person has to look at; none of them is stored."""
        return self.of_kind("doubtful-name", "unreadable")


@dataclass(frozen=True, slots=True)
class ListFileLoad:
    """What became of one list file."""

    file: str
    list_id: ListId
    version: date | None
    entries: int
    outcome: Outcome


def load_own_list(
    target: Path,
    file: Path,
    *,
    jurisdiction: str,
    title: str,
    kind: OwnKind,
    acts: Sequence[Act],
    mapping: Mapping[str, str] | None = None,
    dry_run: bool = False,
    chosen: Mapping[int, str] | None = None,
    county: str = "",
    class_name: str = "Listed",
    list_id: str = "",
    authority: str = "",
    citation: str = "",
    url: str = "",
    effective_from: date | None = None,
    how_known: Literal["read", "partly-read", "memory"] | None = None,
    resolver: Resolver | None = None,
) -> OwnListReport:
    """Read a list kept by hand and, unless ``dry_run``, store what is sure of it. Doubtful and
    unreadable rows are reported, not stored.

    Args:
        file: ``.csv`` (or other text), ``.xlsx``, or a ``.toml`` list file.
        jurisdiction: a state; for a rule of one's own that holds everywhere, ``US``.
        acts: that the list restricts, where a row does not say.
        mapping: field to column title; see ``headers.FIELDS``.
        chosen: row number to accepted name, as a person decided; an empty name leaves the row out.
        county: where the whole list holds, by name or FIPS code; several separated by ``;``.
        how_known: whether the rows were checked against the text; by default an own rule is its own
            text, an ordinance is unverified.
        resolver: of the store, where one is at hand.

    Raises:
        BadFile, BadRequest, UnknownValue, StoreMissing: nothing was stored.
    """
    place = _checked(jurisdiction, kind, acts, title)
    names = resolver or Library(Build(target)).resolver
    known: Literal["read", "partly-read", "memory"] = how_known or (
        "read" if kind == "own-rule" else "memory"
    )
    setting = Setting(
        place, tuple(act for act in ACTS if act in acts), class_name, county, known, chosen or {}
    )
    plain = OwnListReport(
        file.name, "dry-run", ListId(list_id or _list_id(place, kind, title)), title, place, kind
    )
    if file.suffix.lower() == ".toml":
        report = _from_list_file(plain, read_list_file(file), setting, names)
    else:
        report = _from_table(plain, file, setting, names, mapping)
        model = _model(
            report,
            authority=authority,
            citation=citation,
            url=url,
            effective_from=effective_from,
            how_known=known,
        )
        report = replace(report, model=model)
    if dry_run or report.model is None:
        return report
    content = to_toml(report.model).encode()
    return replace(
        report, outcome=put(target, [(report.model, file.name, bytes_sha256(content))])[0]
    )


def load_list_files(target: Path, files: Sequence[Path]) -> tuple[ListFileLoad, ...]:
    """Put list files of law, any version of any list, into the store: all of them or none.

    A new ``effective_from`` of a list already loaded is a new version beside the old; the same
    version is replaced where the file differs, and left alone where it does not.

    Raises:
        BadFile: names file, entry and field; or two files hold one version; or a file would turn a
            loaded list into another.
    """
    read = [(read_list_file(path), path.name, file_sha256(path)) for path in files]
    seen: dict[tuple[str, date | None], str] = {}
    for model, name, _ in read:
        key = (model.list_id, model.effective_from)
        if key in seen:
            raise BadFile(
                name,
                f"it holds the same version of {model.list_id} as {seen[key]}.",
                place="effective_from",
            )
        seen[key] = name
    outcomes = put(target, read)
    return tuple(
        ListFileLoad(name, ListId(model.list_id), model.effective_from, len(model.entries), outcome)
        for (model, name, _), outcome in zip(read, outcomes, strict=True)
    )


def _checked(jurisdiction: str, kind: str, acts: Sequence[Act], title: str) -> Jurisdiction:
    if jurisdiction not in JURISDICTION_NAMES:
        raise UnknownValue("Jurisdiction", jurisdiction, ["US", "an ISO 3166-2 code such as US-OH"])
    if kind not in ("ordinance", "own-rule"):
        raise UnknownValue("Kind", kind, ["ordinance", "own-rule"])
    if kind == "ordinance" and jurisdiction == FEDERAL:
        raise BadRequest(
            "An ordinance belongs to a county or a town, so to a state.",
            next_step="Give the state, and the county.",
        )
    for act in acts:
        if act not in ACTS:
            raise UnknownValue("Act", act, ACTS)
    if not title.strip():
        raise BadRequest(
            "The list has no title.", next_step="Give it the title by which answers shall name it."
        )
    return Jurisdiction(jurisdiction)


def _list_id(jurisdiction: Jurisdiction, kind: OwnKind, title: str) -> str:
    slug = re.sub(r"-+", "-", plant_id_of(title))[:56].strip("-") or "list"
    return f"{jurisdiction.lower()}-{'local' if kind == 'ordinance' else 'own'}-{slug}"


_NEAR_ENOUGH = 0.85
"""A spelling that is taken for a plant's name in a heading row: "Common name" is as near to a plant
as 0.8, and is a heading."""


def _from_table(
    plain: OwnListReport,
    file: Path,
    setting: Setting,
    resolver: Resolver,
    mapping: Mapping[str, str] | None,
) -> OwnListReport:
    grid = read_grid(file)

    def is_plant(text: str) -> bool:
        resolution = resolver.resolve(text)
        if resolution.match == "spelling":
            return resolution.candidates[0].score >= _NEAR_ENOUGH
        return resolution.confirmed or resolution.match == "genus"

    header = find_header(grid, file.name, mapping, is_plant)
    rows = RowReader(header, setting, resolver, packaged_counties()).read(
        grid.rows[header.last + 1 :]
    )
    return replace(
        plain,
        written_as=grid.written_as,
        columns=header.understood,
        passed_over=header.passed_over,
        rows=_without_repeats(rows),
        notes=grid.notes,
    )


def _from_list_file(
    plain: OwnListReport, given: ListFile, setting: Setting, resolver: Resolver
) -> OwnListReport:
    """A list file of one's own: what it says of itself stands; its names are put to the resolver
    like any other.
    """
    if (given.kind, given.jurisdiction) != (plain.kind, plain.jurisdiction):
        raise BadFile(
            plain.file,
            f"it says of itself that it is of kind {given.kind} in {given.jurisdiction}, not"
            f" {plain.kind} in {plain.jurisdiction}.",
        )
    acts = {rule.name: rule.acts for rule in given.classes}
    rows = _without_repeats(
        entry_row(number, entry, acts[entry.class_name], resolver, setting.chosen)
        for number, entry in enumerate(given.entries, 1)
    )
    check_chosen(setting.chosen, rows)
    entries = tuple(row.entry for row in rows if row.entry is not None)
    open_rows = any(row.kind == "doubtful-name" for row in rows)
    model = given.model_copy(
        update={"entries": entries, "completeness": "partial" if open_rows else given.completeness}
    )
    return replace(
        plain,
        list_id=ListId(given.list_id),
        title=given.title,
        written_as="TOML list file",
        rows=rows,
        model=model if entries else None,
    )


def _without_repeats(rows: Iterable[OwnListRow]) -> tuple[OwnListRow, ...]:
    """Rows, a second one that says the same as an earlier one left out."""
    first: dict[tuple[object, ...], int] = {}
    kept: list[OwnListRow] = []
    for row in rows:
        if row.kind == "entry" and row.entry is not None:
            key = (
                row.accepted_name,
                row.class_name,
                row.acts,
                row.entry.area,
                row.entry.exceptions,
                row.entry.condition,
            )
            if key in first:
                row = replace(
                    row, kind="left-out", entry=None, say=f"Says the same as row {first[key]}."
                )
            else:
                first[key] = row.number
        kept.append(row)
    return tuple(kept)


def _model(
    report: OwnListReport,
    *,
    authority: str,
    citation: str,
    url: str,
    effective_from: date | None,
    how_known: Literal["read", "partly-read", "memory"],
) -> ListFile | None:
    """The list in the form of a list file; a class for each set of acts."""
    rows = [row for row in report.rows if row.entry is not None]
    if not rows:
        return None
    names = _class_names(rows)
    classes = [
        {"name": name, "acts": acts, "permit": "unknown", "duty": "unknown", "how_known": how_known}
        for (_, acts), name in names.items()
    ]
    entries = [
        row.entry.model_dump(by_alias=True) | {"class": names[row.class_name, row.acts]}
        for row in rows
        if row.entry
    ]
    return ListFile.model_validate(
        {
            "list_id": report.list_id,
            "jurisdiction": report.jurisdiction,
            "title": report.title,
            "authority": authority
            or ("" if report.kind == "own-rule" else "the county or town that made it"),
            "citation": citation or f"as given in {report.file}",
            "kind": report.kind,
            "url": url,
            "effective_from": effective_from,
            "how_known": how_known,
            "completeness": "partial" if report.doubtful else "complete",
            "note": f"Loaded from {report.file}."
            + (f" Rows not stored: {len(report.doubtful)}." if report.doubtful else ""),
            "classes": classes,
            "entries": entries,
        }
    )


def _class_names(rows: Iterable[OwnListRow]) -> dict[tuple[str, tuple[Act, ...]], str]:
    """A name for each class and set of acts; the acts join the name where one class has several
    sets.
    """
    pairs = dict.fromkeys((row.class_name, row.acts) for row in rows)
    sets = Counter(name for name, _ in pairs)
    return {
        (name, acts): name if sets[name] == 1 else f"{name} ({', '.join(acts) or 'acts not given'})"
        for name, acts in pairs
    }
