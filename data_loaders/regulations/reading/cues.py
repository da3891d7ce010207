"""Words that take a name out of the list: exceptions, former names, look-alikes, repeals."""

import re

_BEFORE = re.compile(
    r"""\b(?:
        except(?:ing|ed|ions?)?(?:\s+(?:for|that|of))? | exclud(?:e|es|ed|ing) | exclusion\s+of
        | (?:does|do|shall|is|are|did)\s+not\s+(?:include|apply|extend|cover|mean)
        | not\s+(?:including|include) | other\s+than | unless\s+it\s+is | but\s+not
        | former(?:ly)? | previously | no\s+longer | until\s+\d{4}
        | (?:not\s+(?:to\s+)?be\s+)?confused\s+with | mistaken\s+for | similar\s+to | resembl\w+
        | look[-\s]?alikes?(?:\s+(?:such\s+as|of))? | unlike | instead\s+of | in\s+place\s+of
        | exempt(?:s|ed|ing|ions?)? | (?<!being\s)removed | repealed | delet(?:e|es|ed|ing|ion)
        | striking | stricken | struck | delisted | alternatives?(?:\s+(?:such\s+as|to))?
        | not\s+(?:listed|regulated|prohibited|restricted)
        | native\s+(?:plants?|species|relatives?)(?:\s+such\s+as|\s+of|,)? | natives?\s+such\s+as
        | parasit\w+\s+on | feeds?\s+on | control\s+agents?\s+of
        | may\s+be\s+(?:sold|possessed|planted)
        | synonyms?:? | syn\.
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)
_AFTER = re.compile(
    r"""^[^.;|]{0,60}?(?:
        \b(?:is|are|was|were|has\s+been|have\s+been|which\s+was|which\s+were)\s+
            (?:not\s+(?:included|listed|regulated|prohibited|restricted)|no\s+longer
            |exempt(?:ed)?|excluded|excepted|removed|repealed|delisted|deleted|native)
        | \b(?:may|can)\s+be\s+(?:sold|possessed|planted|grown)
        | [(\[]\s*(?:removed|repealed|delisted|deleted|exempt|excluded|not\s+(?:listed|regulated))
    )""",
    re.IGNORECASE | re.VERBOSE,
)
_OUT_SECTION = re.compile(
    r"""\b(?:exempt(?:ed|ions?)?|except(?:ed|ions?)|excluded|exclusions?|delisted|removed|repealed
    |not\s+(?:listed|regulated|prohibited|restricted|included)|no\s+longer
    |alternatives?|native\s+(?:plants?|species|look-?alikes?)|look-?alikes?|may\s+be\s+sold
    |does\s+not\s+(?:include|apply)|do\s+not\s+(?:include|apply)|formerly|previously
    |under\s+(?:review|evaluation|consideration)|watch\s+list|references?|literature)\b""",
    re.IGNORECASE | re.VERBOSE,
)
_ANIMALS = re.compile(
    r"""\b(?:fish(?:es)?|mussels?|snails?|mollus[ck]s?|animals?|invertebrates?|crustaceans?|crayfish(?:es)?
    |reptiles?|amphibians?|birds?|mammals?|insects?|pathogens?|diseases?|fungi|vertebrates?|worms?)\b""",
    re.IGNORECASE | re.VERBOSE,
)
_PLANTS = re.compile(r"\b(?:plants?|weeds?|algae|flora|vegetation)\b", re.IGNORECASE)
LISTING_VERB = re.compile(
    r"""\b(?:prohibit\w*|unlawful|illegal|no\s+person\s+(?:shall|may)|shall\s+not|may\s+not|designated?
    |declared?|listed|following|restricted|noxious|invasive|quarantine\w*|regulated|means?|includes?
    |consists?|injurious|nuisance|pest|banned|class)\b""",
    re.IGNORECASE | re.VERBOSE,
)
ENDS_CLASS = re.compile(
    r"""^\W*(?:[(\dA-Za-z.)§\s-]{0,12}\s)?(?:notes?|definitions?|penalt(?:y|ies)|exempt\w*|exceptions?|histor(?:y|ical)
    |sources?|references?|authority|enforcement|permits?|purpose|related|contact|effective|see\s+also|appendix
    |animals?|fish(?:es)?|mollus[ck]s?|mussels?|insects?|violations?|amendments?|repeal\w*|fees?|severability)\b""",
    re.IGNORECASE | re.VERBOSE,
)
INCORPORATES = re.compile(
    r"""(?:federal\s+noxious\s+weed(?:s)?(?:\s+(?:list|act|regulations?))?|7\s+C\.?\s?F\.?\s?R\.?\s+(?:§+\s*|part\s+|parts\s+)?360(?:\.200)?)""",
    re.IGNORECASE | re.VERBOSE,
)
_INCORPORATING = re.compile(
    r"""\b(?:incorporat\w*|adopt\w*|by\s+reference|includ\w*|listed\s+(?:in|under|on|by)|designated\s+(?:in|under|by)|as\s+(?:set\s+forth|defined|provided))""",
    re.IGNORECASE | re.VERBOSE,
)


def taken_out(text: str, start: int, end: int) -> str:
    """The words that say that the name from ``start`` to ``end`` is not listed; empty if none.

    A cue reaches to the end of its sentence or clause, or of the brackets around it.
    """
    before = _clause_before(text, start)
    found = list(_BEFORE.finditer(before))
    if found:
        last = found[-1]
        rest = before[last.end() :]
        if rest.count(")") <= rest.count("("):
            return " ".join(last.group().split())
        # The bracket with the cue is closed again before the name.
        outer = [
            cue for cue in found if before[cue.end() :].count(")") <= before[cue.end() :].count("(")
        ]
        if outer:
            return " ".join(outer[-1].group().split())
    after = _AFTER.match(text[end:])
    return " ".join(after.group().split())[-40:] if after else ""


def _clause_before(text: str, start: int) -> str:
    """What stands before a place in its own clause."""
    clause = text[max(0, start - 400) : start]
    for match in reversed(list(re.finditer(r"[.;:|](?=\s|$)", clause))):
        word = re.search(r"([^\W\d_]+)\.$", clause[: match.end()])
        is_stop = match.group() != "." or word is None or not _is_abbreviation(word.group(1))
        if is_stop and not (match.group() == ":" and _BEFORE.search(clause[: match.start()][-80:])):
            return clause[match.end() :]
    return clause


def _is_abbreviation(word: str) -> bool:
    return len(word) <= 2 or word.lower() in (
        "spp",
        "var",
        "ssp",
        "subsp",
        "syn",
        "auct",
        "eff",
        "sec",
    )


def takes_section_out(text: str) -> bool:
    """Whether a heading or a lead-in says that what follows is not listed."""
    return bool(_OUT_SECTION.search(text))


def is_about_animals(text: str) -> bool:
    return bool(_ANIMALS.search(text)) and not _PLANTS.search(text)


def incorporated(text: str) -> str:
    """The federal list where the words take it over by reference; empty if they do not."""
    found = INCORPORATES.search(text)
    if found and _INCORPORATING.search(text):
        return " ".join(found.group().split())
    return ""
