"""Names and law as they are sent. The values are those of the domain; here is what the contract
calls otherwise, and what stands around them.
"""

from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from service.names import Candidate, OutsideName, ParsedLabel, Part, Resolution
from service.output.models.pieces import with_parts, written_once
from service.output.models.shape import Shape, may_be_left_out, usual, written
from service.regulation.coverage import StateStanding
from service.regulation.finding import Citation, Finding
from service.regulation.law import Entry, ListClass, ListVersion
from service.regulation.shipping import Lane
from service.store.catalogue import Source
from service.values.vocabulary import BuildId, ListId
from service.values.words import STANDING_CAUTIONS


def _entry_count(version: ListVersion) -> int:
    return len(version.entries)


_UNLESS_SAID = {
    "cultivar": None,
    "cultivar_known": None,
    "genus_only": False,
    "outside": None,
    "goods": "",
    "to_confirm": "",
}

usual(
    Shape(Citation, rename={"class_name": "class"}),
    Shape(Finding, without="gaps", optional={"own_rules": ()}),
    Shape(Lane, order="origin destination outcome verified reasons permit_authorities steps"),
    Shape(Candidate, without="genus", optional={"note": "", "source": ""}),
    Shape(Part, kinds={"kind": str}),
    Shape(
        OutsideName,
        name="Outside",
        rename={"genus_held": "genus_known"},
        without="known",
        also={"wetland_indicator": "wetland_indicator", "native_states": "native_states"},
        optional={"wetland_indicator": (), "native_states": None},
    ),
    Shape(
        Resolution,
        without="parsed hybrid steps",
        optional=_UNLESS_SAID,
    ),
    Shape(StateStanding, name="Standing"),
    Shape(
        ListClass,
        name="Class",
        order="name acts duty permit permit_for every_aquatic_plant summary how_known",
        without="acts_known open_definition terms",
    ),
    Shape(
        Entry,
        rename={"class_name": "class"},
        order="class plant_id accepted_name name_as_listed common_as_listed rank scope exceptions "
        "area condition how_known read_url",
        without="terms",
        kinds={"scope": tuple[str, ...]},
    ),
    Shape(
        ListVersion,
        name="List",
        order="list_id jurisdiction title authority citation kind url effective_from amended "
        "superseded_on how_known read_url read_copy_date completeness note entry_count",
        without="missing classes entries",
        kinds={"completeness": str},
        also={"entry_count": _entry_count},
        optional={"entry_count": 0},
    ),
)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What every answer carries.

    Attributes:
        store_build: content hash of all that the store was built from.
        as_of: the day that the answer is for.
    """

    store_build: BuildId
    as_of: date
    cautions: tuple[str, ...] = may_be_left_out(STANDING_CAUTIONS)


@dataclass(frozen=True, kw_only=True)
class NamesAnswer(Answer):
    """One label, with the label taken apart and the steps that were tried."""

    resolution: Resolution


@dataclass(frozen=True, kw_only=True)
class BulkNamesAnswer(Answer):
    """Many labels."""

    resolutions: tuple[Resolution, ...]


@dataclass(frozen=True, kw_only=True)
class StatusAnswer(Answer):
    """One label in one jurisdiction."""

    name: Resolution
    findings: tuple[Finding, ...]
    standings: tuple[StateStanding, ...] = may_be_left_out(())


@dataclass(frozen=True, kw_only=True)
class StockRow:
    """One line of a stock list.

    Attributes:
        row: row of the list, from 1; with a heading row, that is row 1.
        answered: whether the row gives a name; if not, nothing is answered.
        columns: the row's own cells under their headings, as they came; headings that repeat are
            numbered, and cells without one have the number of their column.
        text: a sentence for the shelf card of a line that is held back.
    """

    row: int
    name: Resolution
    answered: bool
    columns: dict[str, str]
    findings: tuple[Finding, ...]
    lanes: tuple[Lane, ...] = may_be_left_out(())
    text: str = may_be_left_out("")
    problem: str | None = may_be_left_out(None)


@dataclass(frozen=True, kw_only=True)
class StockAnswer(Answer):
    """A stock list, line by line."""

    lines: tuple[StockRow, ...]
    standings: tuple[StateStanding, ...] = may_be_left_out(())
    notes: tuple[str, ...] = may_be_left_out(())


@dataclass(frozen=True, kw_only=True)
class ListsAnswer(Answer):
    """The lists loaded.

    Attributes:
        total: lists over all pages.
    """

    lists: tuple[ListVersion, ...]
    total: int


@dataclass(frozen=True, kw_only=True)
class ListAnswer(Answer):
    """One list in its versions."""

    versions: tuple[ListVersion, ...]
    classes: tuple[ListClass, ...]


@dataclass(frozen=True, kw_only=True)
class EntriesAnswer(Answer):
    """The entries of the version of a list in force.

    Attributes:
        total: entries over all pages.
    """

    list_id: ListId
    effective_from: date | None
    entries: tuple[Entry, ...]
    total: int


@dataclass(frozen=True, kw_only=True)
class SourcesAnswer(Answer):
    """All that went into the store."""

    sources: tuple[Source, ...]


def _parts(answer: NamesAnswer) -> tuple[Part, ...]:
    return answer.resolution.parsed.parts


usual(
    Shape(
        NamesAnswer,
        order="... store_build as_of cautions",
        spread="resolution",
        also={"parts": _parts, "steps": "resolution.steps"},
        optional={**_UNLESS_SAID, "parts": (), "steps": ()},
    ),
    Shape(StockRow, name="StockLine"),
)


def written_finding(finding: Finding) -> bytes:
    """A finding as JSON, written once for all answers that have it."""
    return written_once(finding, _write_finding)


def _write_finding(finding: Finding) -> bytes:
    if not finding.citations:
        return written(finding)
    frame = written(replace(finding, citations=()))
    return b"".join(with_parts(frame, citations=map(written_once, finding.citations)))


def written_status(answer: StatusAnswer) -> bytes:
    """As ``written``, from findings and standings that were written before."""
    before, after = _status_frame(answer.store_build, answer.as_of, answer.cautions)
    parts = with_parts(
        after,
        findings=map(written_finding, answer.findings),
        standings=map(written_once, answer.standings),
    )
    return b"".join((before, written(answer.name), *parts))


@lru_cache(maxsize=64)
def _status_frame(
    store_build: BuildId, as_of: date, cautions: tuple[str, ...]
) -> tuple[bytes, bytes]:
    """What stands before and after the name, with no finding and no standing."""
    nobody = Resolution("", "none", False, (), ParsedLabel("", "", ()))
    frame = StatusAnswer(
        store_build=store_build, as_of=as_of, cautions=cautions, name=nobody, findings=()
    )
    before, _, after = written(frame).partition(written(nobody))
    return before, after
