"""What a compiled table says about a name in words -> columns: whether the name is open, and which
other taxa it may mean. Read once, by the conversion; the words stay as a note for people.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

_DOUBT = re.compile(
    r"\b(?:ask|shared|also|any|usually|loosely|misapplied|misidentified|often|sometimes|doubtful"
    r"|confused|unnamed|genus name alone|properly|in part|separate|separated|complex|lumped|merged"
    r"|as published|trade use|older use"
    r"|uk use|us use|sense|split off|parentage|hybrid|different|sold as|another)\b",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"(?<![\w.])(?P<genus>[A-Z][a-z]{2,}|[A-Z]\.)(?:\s(?:×\s)?(?P<species>[a-z][a-z-]{3,}))?"
    r"(?:\s(?P<mark>subsp\.|var\.)\s(?P<below>[a-z-]+))?"
)


@dataclass(frozen=True, slots=True)
class NoteReading:
    """Attributes:
    doubtful: the name alone does not confirm the taxon.
    genus_alone: the name is a genus name used by itself.
    mentions: genera and names that the note speaks of, to be looked up.
    gist: the note without the phrases that only name the other taxa, or the taxon itself.
    """

    doubtful: bool = False
    genus_alone: bool = False
    mentions: tuple[str, ...] = ()
    gist: str = ""


_SILENT = NoteReading()


@lru_cache(maxsize=4_096)
def read_note(note: str) -> NoteReading:
    """Read a note phrase by phrase.

    ``selection of ...`` and ``not ...`` say nothing about other taxa.
    """
    if not note:
        return _SILENT
    mentions: list[str] = []
    doubtful = False
    genus = ""
    for phrase in re.split(r"[;:]\s*", note):
        if phrase.startswith(("selection of ", "not ")):
            continue
        doubtful = doubtful or bool(_DOUBT.search(phrase))
        for found in _NAME.finditer(phrase):
            genus = _expanded(found["genus"], genus)
            words = [genus, found["species"], found["mark"], found["below"]]
            mentions.append(" ".join(word for word in words if word))
    gist = "; ".join(
        phrase
        for phrase in re.split(r";\s*", note)
        if not phrase.startswith(("shared name", "also ", "selection of "))
    )
    return NoteReading(doubtful, "genus name alone" in note, tuple(dict.fromkeys(mentions)), gist)


def _expanded(genus: str, previous: str) -> str:
    return previous if genus.endswith(".") and previous.startswith(genus[0]) else genus
