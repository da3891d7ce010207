"""Names: what a plant label means, and how sure that is.

``Resolver`` is made once from the store's plants and names; ``resolve`` and ``resolve_all`` answer
for labels. ``parse_label`` takes a label apart without a catalogue. ``normal_form`` is the one form
for comparing scientific names.
"""

from service.names.lexicon import Lexicon
from service.names.near import edits_within, epithets_near, genus_keys, word_bound
from service.names.normal import fold, normal_form, printed_names, vernacular_form
from service.names.pair import together
from service.names.parser import parse_label
from service.names.resolver import Resolver
from service.names.values import (
    Candidate,
    Hybrid,
    HybridForm,
    NameKind,
    NameRecord,
    NameSense,
    NameSource,
    OutsideName,
    Parent,
    ParsedLabel,
    Part,
    PartKind,
    Relation,
    Resolution,
    ScientificName,
    SourcedName,
    Step,
    TaxonStatus,
    WetlandName,
)

__all__ = [
    "Candidate",
    "Hybrid",
    "HybridForm",
    "Lexicon",
    "NameKind",
    "NameRecord",
    "NameSense",
    "NameSource",
    "OutsideName",
    "Parent",
    "ParsedLabel",
    "Part",
    "PartKind",
    "Relation",
    "Resolution",
    "Resolver",
    "ScientificName",
    "SourcedName",
    "Step",
    "TaxonStatus",
    "WetlandName",
    "edits_within",
    "epithets_near",
    "fold",
    "genus_keys",
    "normal_form",
    "parse_label",
    "printed_names",
    "together",
    "vernacular_form",
    "word_bound",
]
