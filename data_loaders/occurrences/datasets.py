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
) -> tuple[DatasetText, dict[str, DatasetText], tuple[str, ...]]:
    """Metadata of the archive itself, of the data sets of a download by key
    (``dataset/<key>.xml``), and notes on documents that could not be read: metadata is optional.
    """
    notes: list[str] = []
    own = _read(archive, descriptor.metadata, notes) if descriptor.metadata else DatasetText()
    parts: dict[str, DatasetText] = {}
    for name in archive.names:
        path = PurePosixPath(name)
        if path.parent.name == "dataset" and path.suffix == ".xml":
            parts[path.stem] = _read(archive, name, notes)
    return own, parts, tuple(notes)


def _read(archive: Archive, name: str, notes: list[str]) -> DatasetText:
    try:
        root = parse_xml(archive.read(name), file=f"{archive.path.name}/{name}")
    except BadFile as error:
        notes.append(f"metadata passed over: {error.detail}")
        return DatasetText()
    if _local(root) != "eml":
        return _dublin_core(root, name, notes)
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


def _dublin_core(root: Element, name: str, notes: list[str]) -> DatasetText:
    """The title and rights that most other forms of metadata have, Dublin Core among them."""
    found: dict[str, str] = {}
    for element in root.iter():
        found.setdefault(_local(element), _words(element))
    title = found.get("title", "")
    notes.append(
        f"metadata {name} is not in the Ecological Metadata Language; "
        + (f"its title is {title!r}" if title else "passed over")
    )
    licence = found.get("license") or found.get("rights") or ""
    return DatasetText(
        title, found.get("bibliographicCitation", ""), licence, found.get("identifier", "")
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
