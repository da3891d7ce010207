"""The shapes of the answers. Each is made from domain values, once, at the edge."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated

from pydantic import AliasChoices, BaseModel, ConfigDict, Field

from service.names import Resolution
from service.regulation.finding import Finding
from service.regulation.law import Duty, InstrumentKind, Permit
from service.regulation.shipping import Lane
from service.values.vocabulary import Act, Coverage, HowKnown, Match, Outcome, Rank
from service.values.words import STANDING_CAUTIONS


class _Model(BaseModel):
    model_config = ConfigDict(from_attributes=True, populate_by_name=True)


class Answer(_Model):
    """What every answer carries."""

    store_build: Annotated[
        str, Field(description="content hash of all that the store was built from")
    ]
    as_of: Annotated[date, Field(description="the day that the answer is for")]
    cautions: tuple[str, ...] = STANDING_CAUTIONS


class CitationModel(_Model):
    """An entry of a list that applies to the plant."""

    list_id: str
    jurisdiction: str
    title: str
    citation: str
    authority: str
    class_name: Annotated[str, Field(serialization_alias="class")]
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    acts: tuple[Act, ...]
    duty: Duty
    permit: Permit
    effective_from: date | None
    url: str
    how_known: HowKnown
    read_copy_date: str
    outcome: Outcome


class OwnRuleModel(_Model):
    """A rule that is not law."""

    list_id: str
    title: str
    outcome: Outcome
    reason: str
    citation: CitationModel


class FindingModel(_Model):
    """What was found for one act in one jurisdiction."""

    outcome: Outcome
    act: Act
    jurisdiction: str
    coverage: Annotated[
        Coverage, Field(description="how completely the jurisdiction's lists are loaded")
    ]
    verified: Annotated[
        bool, Field(description="every fact that the outcome rests on was read in the text")
    ]
    reasons: tuple[str, ...]
    confirm_with: str
    citations: tuple[CitationModel, ...]
    lists_searched: tuple[str, ...]
    own_rules: tuple[OwnRuleModel, ...] = ()


class LaneModel(_Model):
    """One plant from one state to another."""

    origin: str
    destination: str
    outcome: Outcome
    verified: bool
    reasons: tuple[str, ...]
    permit_authorities: tuple[str, ...]
    steps: tuple[FindingModel, ...]


class CandidateModel(_Model):
    """A taxon that a label may mean."""

    plant_id: str
    accepted_name: str
    rank: Rank
    through: Annotated[str, Field(description="the stored name that it was reached through")]
    rule: str
    score: float
    note: str = ""
    source: str = ""


class PartModel(_Model):
    """A piece of a label."""

    kind: str
    text: str
    start: int
    end: int


class StepModel(_Model):
    """One thing that was tried."""

    rule: str
    tried: str
    found: int


class OutsideModel(_Model):
    """A plant that the label names and that the catalogue does not have."""

    name: str
    rank: Rank
    genus: str
    genus_known: Annotated[
        bool,
        Field(
            validation_alias=AliasChoices("genus_known", "genus_held"),
            description="the catalogue or a list has its genus, which is then asked for it",
        ),
    ]
    wetland_indicator: Annotated[
        tuple[str, ...],
        Field(description="National Wetland Plant List ratings over all regions, wettest first"),
    ] = ()
    native_states: Annotated[
        int | None,
        Field(description="in how many states a survey met it as native; null is not stated"),
    ] = None


class ResolutionModel(_Model):
    """What a label means, and how sure that is."""

    label: str
    match: Match
    confirmed: bool
    candidates: tuple[CandidateModel, ...]
    cultivar: str | None = None
    cultivar_known: bool | None = None
    genus_only: bool = False
    outside: Annotated[
        OutsideModel | None,
        Field(description="a plant that the catalogue does not have, where the label names one"),
    ] = None
    goods: Annotated[
        str, Field(description="the word by which the label names goods and not a plant")
    ] = ""
    to_confirm: str = ""


class ExplainedResolution(ResolutionModel):
    """A resolution with the label taken apart and the steps that were tried."""

    parts: tuple[PartModel, ...] = ()
    steps: tuple[StepModel, ...] = ()


class NamesAnswer(Answer, ExplainedResolution):
    """One label, explained."""


class BulkNamesAnswer(Answer):
    """Many labels."""

    resolutions: tuple[ResolutionModel, ...]


class StandingModel(_Model):
    """How far the law of a jurisdiction can be relied on here."""

    jurisdiction: str
    coverage: Coverage
    share_read: Annotated[
        float | None, Field(description="share of the entries seen in the text, 0 to 1")
    ]
    truncated: Annotated[int, Field(description="lists whose copy breaks off")]
    phrase: Annotated[str, Field(description="all of it for a person")]


class StatusAnswer(Answer):
    """One label in one jurisdiction."""

    name: ResolutionModel
    findings: tuple[FindingModel, ...]
    standings: tuple[StandingModel, ...] = ()


class StockLineModel(_Model):
    """One line of a stock list."""

    row: Annotated[
        int, Field(description="row of the list, from 1; with a heading row, that is row 1")
    ]
    name: ResolutionModel
    answered: Annotated[
        bool, Field(description="whether the row gives a name; if not, nothing is answered")
    ]
    findings: tuple[FindingModel, ...]
    lanes: tuple[LaneModel, ...] = ()
    text: Annotated[
        str, Field(description="a sentence for the shelf card of a line that is held back")
    ] = ""
    problem: str | None = None


class StockAnswer(Answer):
    """A stock list, line by line."""

    lines: tuple[StockLineModel, ...]
    standings: tuple[StandingModel, ...] = ()
    notes: tuple[str, ...] = ()


class ClassModel(_Model):
    """A class of a list."""

    name: str
    acts: tuple[Act, ...]
    duty: Duty
    permit: Permit
    permit_for: tuple[str, ...]
    every_aquatic_plant: bool
    summary: str
    how_known: HowKnown


class EntryModel(_Model):
    """An entry of a list."""

    class_name: Annotated[str, Field(serialization_alias="class")]
    plant_id: str
    accepted_name: str
    name_as_listed: str
    common_as_listed: str
    rank: Rank
    scope: tuple[str, ...]
    exceptions: str
    area: str
    condition: str
    how_known: HowKnown
    read_url: str


class ListModel(_Model):
    """A version of a list."""

    list_id: str
    jurisdiction: str
    title: str
    authority: str
    citation: str
    kind: InstrumentKind
    url: str
    effective_from: date | None
    amended: date | None
    superseded_on: date | None
    how_known: HowKnown
    read_url: str
    read_copy_date: str
    completeness: str
    note: str
    entry_count: int = 0


class ListsAnswer(Answer):
    """The lists loaded."""

    lists: tuple[ListModel, ...]
    total: Annotated[int, Field(description="lists over all pages")]


class ListAnswer(Answer):
    """One list in its versions."""

    versions: tuple[ListModel, ...]
    classes: tuple[ClassModel, ...]


class EntriesAnswer(Answer):
    """The entries of the version of a list in force."""

    list_id: str
    effective_from: date | None
    entries: tuple[EntryModel, ...]
    total: Annotated[int, Field(description="entries over all pages")]


class SourceModel(_Model):
    """A file or download that went into the store."""

    source_id: str
    kind: str
    title: str
    version: str
    licence: str
    citation: str
    url: str
    sha256: str
    rows_read: int
    rows_kept: int
    set_apart: dict[str, int]


class SourcesAnswer(Answer):
    """All that went into the store."""

    sources: tuple[SourceModel, ...]


def resolution_model(resolution: Resolution) -> ResolutionModel:
    """A resolution without its working."""
    return ResolutionModel.model_validate(resolution)


def explained(resolution: Resolution) -> dict[str, object]:
    """A resolution with its working, as fields of an answer."""
    return {
        **ResolutionModel.model_validate(resolution).model_dump(),
        "parts": tuple(PartModel.model_validate(part) for part in resolution.parsed.parts),
        "steps": tuple(StepModel.model_validate(step) for step in resolution.steps),
    }


def finding_models(findings: Iterable[Finding]) -> tuple[FindingModel, ...]:
    return tuple(FindingModel.model_validate(finding) for finding in findings)


def lane_models(lanes: Iterable[Lane]) -> tuple[LaneModel, ...]:
    return tuple(LaneModel.model_validate(lane) for lane in lanes)
