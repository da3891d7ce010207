"""Reading law: a document's names and classes, compared with a list.

``read_document`` takes a document apart whatever its format; ``read_list`` holds it against a list
file. Nothing here changes a list: ``write.py`` makes a new file of what a person took over.
"""

from data_loaders.regulations.reading.compare import read_list
from data_loaders.regulations.reading.document import Block, Document
from data_loaders.regulations.reading.formats import kind_of, read_document
from data_loaders.regulations.reading.values import (
    Confirmed,
    ListReading,
    Missing,
    SetAside,
    Unknown,
    Unseen,
)
from data_loaders.regulations.reading.vocabulary import Vocabulary

__all__ = [
    "Block",
    "Confirmed",
    "Document",
    "ListReading",
    "Missing",
    "SetAside",
    "Unknown",
    "Unseen",
    "Vocabulary",
    "kind_of",
    "read_document",
    "read_list",
]
