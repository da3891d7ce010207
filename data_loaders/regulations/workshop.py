"""The list workshop: check a list file, compare two, read one as text, and see what to verify
next.
"""

from collections.abc import Sequence
from pathlib import Path

from data_loaders.geography.packaged import packaged_counties
from data_loaders.plants.taxa import plant_id_of, tidy
from data_loaders.regulations.list_check import check_list_file
from data_loaders.regulations.list_schema import Problem, Severity
from data_loaders.regulations.list_text import show_list
from data_loaders.regulations.list_todo import TodoItem, TodoKind, todo
from data_loaders.regulations.listfile import ListFile, TermModel, read_list_file
from service.errors import BadFile, UnknownValue
from service.regulation.changes import ListChanges, compare
from service.regulation.law import Entry, ListClass, ListVersion, Term
from service.values.vocabulary import CountyFips, Jurisdiction, ListId

__all__ = [
    "Problem",
    "Severity",
    "TodoItem",
    "TodoKind",
    "check_list_file",
    "diff_list_files",
    "list_version",
    "show_list",
    "todo",
]


def diff_list_files(before: Path, after: Path) -> ListChanges:
    """What the second file changes against the first.

    Raises:
        BadFile: one of them cannot be read.
        BadRequest: they are two lists.
    """
    return compare(
        list_version(read_list_file(before), before.name),
        list_version(read_list_file(after), after.name),
    )


def list_version(model: ListFile, file: str = "") -> ListVersion:
    """A list file as a version of law, without a store: plants go by the slug of their accepted
    name.

    Raises:
        BadFile: a county is not known.
    """
    return ListVersion(
        list_id=ListId(model.list_id),
        jurisdiction=Jurisdiction(model.jurisdiction),
        title=model.title,
        authority=model.authority,
        citation=model.citation,
        kind=model.kind,
        how_known=model.how_known,
        completeness=model.completeness,
        url=model.url,
        effective_from=model.effective_from,
        amended=model.amended,
        superseded_on=model.superseded_on,
        read_url=model.read_url,
        read_copy_date=model.read_copy_date,
        missing=model.missing,
        note=model.note,
        classes=tuple(
            ListClass(
                name=rule.name,
                acts=rule.acts,
                how_known=rule.how_known,
                acts_known=rule.acts_known,
                duty=rule.duty,
                permit=rule.permit,
                permit_for=rule.permit_for,
                summary=rule.summary,
                every_aquatic_plant=rule.every_aquatic_plant,
                open_definition=rule.open_definition,
                terms=_terms(rule.terms, model, file),
            )
            for rule in model.classes
        ),
        entries=tuple(
            Entry(
                class_name=entry.class_name,
                plant_id=plant_id_of(tidy(entry.accepted_name)),
                accepted_name=tidy(entry.accepted_name),
                rank=entry.rank,
                how_known=entry.how_known,
                name_as_listed=entry.name_as_listed,
                common_as_listed=entry.common_as_listed,
                scope=entry.scope,
                exceptions=entry.exceptions,
                area=entry.area,
                condition=entry.condition,
                terms=_terms(entry.all_terms, model, file),
                read_url=entry.read_url,
            )
            for entry in model.entries
        ),
    )


def _terms(terms: Sequence[TermModel], model: ListFile, file: str) -> tuple[Term, ...]:
    return tuple(
        Term(
            kind=term.kind,
            words=term.words,
            acts=term.acts,
            taxa=tuple(plant_id_of(tidy(taxon)) for taxon in term.taxa),
            cultivars=term.cultivars,
            counties=tuple(_fips(county, model, file) for county in term.counties),
            on=term.on,
        )
        for term in terms
    )


def _fips(county: str, model: ListFile, file: str) -> CountyFips:
    try:
        return packaged_counties().find(Jurisdiction(model.jurisdiction), county).fips
    except UnknownValue as error:
        raise BadFile(file or model.list_id, error.detail, next_step=error.next_step) from error
