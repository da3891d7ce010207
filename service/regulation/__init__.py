"""Law: what the lists loaded say of an act with a plant in a place on a day.

``find`` answers for one taxon, ``find_for_name`` for all that a label may mean, ``ship_all`` for
shipping from one state to others, ``restricted_in`` for where a taxon is barred or limited,
``standing_of`` for how far the law of a state can be relied on here. ``LawBook`` holds every
version of every list; ``Taxonomy`` makes the ``Subject`` of a plant.
"""

from service.regulation.changes import changes_between
from service.regulation.coverage import StateStanding, coverage_table, standing_of
from service.regulation.finding import Citation, Finding, OwnRule, Question, find
from service.regulation.for_name import Naming, find_for_name
from service.regulation.law import LawBook, ListVersion
from service.regulation.restricted import restricted_in
from service.regulation.shipping import Lane, ship, ship_all
from service.regulation.subject import Subject, Taxonomy

__all__ = [
    "Citation",
    "Finding",
    "Lane",
    "LawBook",
    "ListVersion",
    "Naming",
    "OwnRule",
    "Question",
    "StateStanding",
    "Subject",
    "Taxonomy",
    "changes_between",
    "coverage_table",
    "find",
    "find_for_name",
    "restricted_in",
    "ship",
    "ship_all",
    "standing_of",
]
