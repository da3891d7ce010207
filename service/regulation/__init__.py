"""Law: what the lists held say of an act with a plant in a place on a day.

``find`` answers for one taxon, ``find_widest`` for all that a label may mean, ``ship_all`` for
lanes between states. ``LawBook`` holds every version of every list; ``Taxonomy`` makes the
``Subject`` of a plant.
"""

from service.regulation.changes import changes_between
from service.regulation.coverage import coverage_table
from service.regulation.finding import Citation, Finding, OwnRule, Question, find
from service.regulation.law import LawBook, ListVersion
from service.regulation.shipping import Lane, ship, ship_all
from service.regulation.subject import Subject, Taxonomy
from service.regulation.widest import Naming, find_widest

__all__ = [
    "Citation",
    "Finding",
    "Lane",
    "LawBook",
    "ListVersion",
    "Naming",
    "OwnRule",
    "Question",
    "Subject",
    "Taxonomy",
    "changes_between",
    "coverage_table",
    "find",
    "find_widest",
    "ship",
    "ship_all",
]
