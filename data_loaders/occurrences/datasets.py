"""Titles and citations of data sets, from the metadata documents of an archive (Ecological
Metadata Language).
"""

from dataclasses import dataclass
from pathlib import PurePosixPath
from xml.etree.ElementTree import Element

from data_loaders.archives import Archive
from data_loaders.darwin_core import Descriptor, parse_xml
from service.errors import BadFile


@dataclass(frozen=True, slots=True)
class DatasetText:
    """How a data set is to be cited. Empty where its publisher does not say."""

    title: str = ""
    citation: str = ""
    licence: str = ""
    identifier: str = ""
    url: str = ""


def read_datasets(
    archive: Archive, descriptor: Descriptor
) -> tuple[DatasetText, dict[str, DatasetText]]:
    """Metadata of the archive itself, and of the data sets of a download by key
    (``dataset/<key>.xml``).
    """
    own = _read(archive, descriptor.metadata) if descriptor.metadata else DatasetText()
    parts: dict[str, DatasetText] = {}
    for name in archive.names:
        path = PurePosixPath(name)
        if path.parent.name == "dataset" and path.suffix == ".xml":
            parts[path.stem] = _read(archive, name)
    return own, parts


def _read(archive: Archive, name: str) -> DatasetText:
    file = f"{archive.path.name}/{name}"
    root = parse_xml(archive.read(name), file=file)
    if _local(root) != "eml":
        raise BadFile(file, f"its root is {_local(root)!r} where data set metadata has 'eml'.")
    dataset = next((child for child in root if _local(child) == "dataset"), root)
    link = next(
        (_words(element) for element in dataset.iter() if _local(element) == "alternateIdentifier"),
        "",
    )
    return DatasetText(
        title=_child(dataset, "title"),
        citation=next(
            (_words(element) for element in root.iter() if _local(element) == "citation"), ""
        ),
        licence=_licence(dataset),
        identifier=root.get("packageId", "").strip() or link,
        url=link if link.startswith("http") else "",
    )


def _licence(dataset: Element) -> str:
    rights = next((child for child in dataset if _local(child) == "intellectualRights"), None)
    if rights is None:
        return ""
    link = next(
        (element.get("url", "") for element in rights.iter() if _local(element) == "ulink"), ""
    )
    return link or _words(rights)


def _child(element: Element, name: str) -> str:
    return next((_words(child) for child in element if _local(child) == name), "")


def _words(element: Element) -> str:
    return " ".join(" ".join(element.itertext()).split())


def _local(element: Element) -> str:
    return str(element.tag).rsplit("}", 1)[-1]
