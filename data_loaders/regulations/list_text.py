"""A list version as text, to be read beside the statute."""

from collections.abc import Iterable
from textwrap import fill

from service.regulation.law import Completeness, Entry, ListClass, ListVersion, Term
from service.values.vocabulary import JURISDICTION_NAMES, HowKnown

_WIDTH = 100
_KNOWN: dict[HowKnown, str] = {
    "read": "read in the text",
    "partly-read": "read in part",
    "memory": "FROM MEMORY, not seen in the text",
}
_COMPLETENESS: dict[Completeness, str] = {
    "complete": "every entry of water and wet ground",
    "partial": "in part; what is missing is known not to be of water or wet ground",
    "truncated": "IN PART, entries may be missing",
    "none": "NONE OF ITS ENTRIES",
}
_PERMIT = {
    "yes": "a permit is a way",
    "no": "no permit is given",
    "unknown": "whether a permit is a way is not established",
}


def show_list(version: ListVersion) -> str:
    """Header, then class by class its acts and its entries, in the order of the list; what each
    term does, and how all is known.
    """
    numbered = tuple(enumerate(version.entries, 1))
    parts = [_header(version)]
    for rule in version.classes:
        parts.append(_class(rule))
        parts += [
            _entry(entry, number) for number, entry in numbered if entry.class_name == rule.name
        ]
    return "\n\n".join(parts) + "\n"


def _header(version: ListVersion) -> str:
    missing = f" ({version.missing.rstrip('.')})" if version.missing else ""
    loaded = f"{_COMPLETENESS[version.completeness]}{missing}"
    copy = (
        f", copy of {version.read_copy_date}" if version.read_copy_date else ", copy without a date"
    )
    lines = [
        version.title.upper(),
        f"{version.citation} ({version.kind}, {JURISDICTION_NAMES[version.jurisdiction]})",
        version.authority,
        _in_force(version),
        f"Loaded: {loaded}. Known: {_known(version.how_known)}"
        f"{copy if version.how_known != 'memory' else ''}.",
        version.url,
        f"Read at {version.read_url}"
        if version.read_url and version.read_url != version.url
        else "",
        f"List {version.list_id}, {len(version.entries)} entries.",
        f"Note: {version.note}" if version.note else "",
    ]
    return "\n".join(_wrapped(line, "") for line in lines if line)


def _in_force(version: ListVersion) -> str:
    begun = (
        f"In force from {version.effective_from.isoformat()}"
        if version.effective_from
        else "First day in force not established"
    )
    amended = f"; text as amended {version.amended.isoformat()}" if version.amended else ""
    ended = f"; superseded on {version.superseded_on.isoformat()}" if version.superseded_on else ""
    return f"{begun}{amended}{ended}."


def _known(how_known: HowKnown) -> str:
    return _KNOWN.get(how_known, how_known)


def _class(rule: ListClass) -> str:
    reach = " Reaches every aquatic plant." if rule.every_aquatic_plant else ""
    if rule.open_definition:
        reach = " Reaches plants by what they do, without a list."
    purposes = f" for {', '.join(rule.permit_for)} alone" if rule.permit_for else ""
    duty = "not established" if rule.duty == "unknown" else rule.duty
    lines = [
        f"{_acts(rule)}{reach} Duty: {duty}. Permit: {_PERMIT[rule.permit]}{purposes}.",
        rule.summary,
        *(_term(term) for term in rule.terms),
        f"[{_known(rule.how_known)}]",
    ]
    return "\n".join([f"== {rule.name} ==", *(_wrapped(line, "   ") for line in lines if line)])


def _acts(rule: ListClass) -> str:
    match bool(rule.acts), rule.acts_known:
        case True, True:
            return f"Restricts: {', '.join(rule.acts)}."
        case True, False:
            return f"Restricts: {', '.join(rule.acts)}; whether others too is not established."
        case False, True:
            return "Restricts none of the acts asked about."
        case _:
            return "Which acts it restricts is not established."


def _entry(entry: Entry, number: int) -> str:
    names = entry.name_as_listed or "(no scientific name in the list)"
    common = f", {entry.common_as_listed}" if entry.common_as_listed else ""
    same = "" if entry.accepted_name == entry.name_as_listed else f" = {entry.accepted_name}"
    rank = "" if entry.rank == "species" else f" ({entry.rank})"
    return "\n".join(
        [
            _wrapped(f"{number}. {names}{common}{same}{rank}", "   "),
            *(_wrapped(line, "      ") for line in _lines(entry)),
        ]
    )


def _lines(entry: Entry) -> Iterable[str]:
    for title, words in (
        ("Takes in", ", ".join(entry.scope)),
        ("Where", entry.area),
        ("Except", entry.exceptions),
        ("Condition", entry.condition),
    ):
        if words:
            yield f"{title}: {words}"
    yield from (_term(term) for term in entry.terms if term.kind != "note")
    yield f"[{_known(entry.how_known)}]" + (f" {entry.read_url}" if entry.read_url else "")


def _term(term: Term) -> str:
    details = [
        f"for {', '.join(term.acts)}" if term.acts else "",
        f"plants {', '.join(term.taxa)}" if term.taxa else "",
        f"cultivars {', '.join(term.cultivars)}" if term.cultivars else "",
        f"counties {', '.join(term.counties)}" if term.counties else "",
        f"day {term.on.isoformat()}" if term.on else "",
    ]
    said = "; ".join(detail for detail in details if detail)
    return f"-> {term.kind}{f' ({said})' if said else ''}: {term.words}"


def _wrapped(text: str, indent: str) -> str:
    return fill(
        text,
        _WIDTH,
        initial_indent=indent,
        subsequent_indent=f"{indent}   ",
        break_long_words=False,
        break_on_hyphens=False,
    )
