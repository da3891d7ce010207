"""What a document lists: its names one by one, each with its class, or with why it is set aside."""

import re
from collections.abc import Sequence
from dataclasses import replace

from data_loaders.regulations.reading.classes import ClassFinder
from data_loaders.regulations.reading.cues import (
    ENDS_CLASS,
    LISTING_VERB,
    incorporated,
    is_about_animals,
    taken_out,
    takes_section_out,
)
from data_loaders.regulations.reading.dates import days_in
from data_loaders.regulations.reading.document import PSEUDO_LEVEL, Block, Document, one_line
from data_loaders.regulations.reading.lines import ENUMERATOR, without_number
from data_loaders.regulations.reading.scan import Found, GenusContext, scan, unhyphenated
from data_loaders.regulations.reading.sections import (
    Sections,
    around,
    common_beside,
    is_named_genus,
    is_prose,
    lone_genus,
    shares_its_piece,
    stands_alone,
)
from data_loaders.regulations.reading.values import (
    Incorporation,
    Listing,
    Listings,
    PlacedDay,
    Where,
)
from data_loaders.regulations.reading.vocabulary import Vocabulary
from service.names import vernacular_form

_MOST_HEADING_WORDS = 16
_STRUCTURED = 5
"""Listings in rows and items from which prose counts only where it says that it lists."""
_CLASS_COLUMN = re.compile(
    r"(?i)\b(class|category|status|rating|rank|tier|designation|list|priority|regulatory|type)\b"
)
_COMMON_COLUMN = re.compile(r"(?i)\b(common|english|vernacular)\b")


def find_listings(document: Document, vocabulary: Vocabulary, classes: Sequence[str]) -> Listings:
    """Read a document for what it lists.

    Args:
        classes: names of the list's classes, to be recognised in headings.
    """
    reader = _Reader(document, vocabulary, ClassFinder(classes))
    reader.read()
    return reader.found


class _Reader:
    def __init__(self, document: Document, vocabulary: Vocabulary, classes: ClassFinder) -> None:
        self.blocks = [
            replace(block, cells=tuple(unhyphenated(cell, vocabulary) for cell in block.cells))
            for block in document.blocks
        ]
        self.vocabulary = vocabulary
        self.classes = classes
        self.genera = GenusContext()
        self.sections = Sections(classes)
        self.columns: tuple[str, ...] = ()
        self.found = Listings()

    def read(self) -> None:
        for place, block in enumerate(self.blocks):
            names_struck = self._struck(block)
            kept = self._scan(block.text, block, trusted=True) if names_struck else []
            if names_struck and all(listing.sort == "genus" for listing in kept):
                continue  # what is left of a row is the common name of what is struck
            if any(block.cells):
                self._block(place, block)
        self._weigh_prose()

    def _under(self, text: str, level: int) -> None:
        self.genera.heading = ""
        self.sections.heading(text, level)

    # Blocks
    # ----------------------------------------------------------------------------------------------

    def _block(self, place: int, block: Block) -> None:
        text = one_line(block.text)
        for day in days_in(text):
            self.found.days.append(PlacedDay(day, around(text, day.start, day.end), block.place))
        reference = incorporated(text)
        if reference:
            self.found.incorporated.append(
                Incorporation(reference, around(text, 0, 60), block.place)
            )
        if block.kind == "row":
            self._row(block)
        elif block.kind == "heading":
            self._as_heading(place, block)
        elif block.kind == "line":
            self._line(place, block)
        elif block.kind == "item":
            self._item(block)
        else:
            self._paragraph(block)

    def _as_heading(self, place: int, block: Block) -> None:
        text = one_line(block.text)
        names = self._scan(block.text, block, trusted=True)
        if any(name.sort != "genus" for name in names) and not self.classes.named_by(text):
            self._note(block.text, names, block, "heading")
            return
        genus = lone_genus(text, names) or self._strange_genus(place, text)
        if genus:
            self.genera.heading = genus
            return
        self._under(text, block.level)

    def _line(self, place: int, block: Block) -> None:
        text = one_line(block.text)
        names = self._scan(block.text, block, trusted=True)
        if any(name.sort != "genus" for name in names):
            self._item(block)
            return
        genus = lone_genus(text, names) or self._strange_genus(place, text)
        if genus and self._heads_species(place, genus):
            self.genera.heading = genus
            return
        bare = ENUMERATOR.sub("", text)
        is_name = self._common(bare) is not None or bool(genus)
        words = len(text.split())
        named = self.classes.named_by(text)
        if named and words <= _MOST_HEADING_WORDS and not is_name:
            self._under(text, PSEUDO_LEVEL)
        elif text.endswith(":"):
            self.sections.lead_in(text)
        elif not is_name and (
            ENDS_CLASS.match(text)
            or (words <= 8 and (takes_section_out(text) or is_about_animals(text)))
        ):
            self._under(text, PSEUDO_LEVEL)
        else:
            self._item(block)

    def _strange_genus(self, place: int, text: str) -> str:
        """A genus that nobody knows, by the abbreviated names under it."""
        word = text.strip(" .:;,-–—")
        if not re.fullmatch(r"[A-Z][a-z]{3,}", word) or not self._heads_species(place, word):
            return ""
        return word

    def _heads_species(self, place: int, genus: str) -> bool:
        """Whether the next block names a species of the genus."""
        following = next((block for block in self.blocks[place + 1 :] if any(block.cells)), None)
        if following is None:
            return False
        bare = without_number(one_line(following.text))
        return bool(
            re.match(rf"(?:{re.escape(genus)}|{genus[0]}[a-z]{{0,2}}\.)\s+[×x]?\s?[a-z]", bare)
        )

    def _item(self, block: Block) -> None:
        text = block.text
        names = self._scan(text, block, trusted=True)
        run_in = self._run_in(text, names)
        if names and not self._only_common(text, names, block.italic):
            self._note(text, names, block, "prose" if is_prose(text, names) else "item", run_in)
            if text.rstrip().endswith(":"):
                self.sections.lead_in(one_line(text))
            return
        if text.rstrip().endswith(":"):
            self.sections.lead_in(one_line(text))
            return
        self._commons(text, block, "item")

    def _only_common(self, text: str, names: Sequence[Found], italic: frozenset[str]) -> bool:
        """Whether a genus alone is the common name of a plant here: "Hydrilla"."""
        return all(name.sort == "genus" for name in names) and not any(
            stands_alone(text, name) or is_named_genus(text, name) or name.printed in italic
            for name in names
        )

    def _paragraph(self, block: Block) -> None:
        text = block.text
        names = self._scan(text, block)
        run_in = self._run_in(text, names)
        if not names:
            self.sections.end_lead_in()
        if text.rstrip().endswith((":", "—", "–")):
            self._note(text, names, block, "prose", run_in)
            self.sections.lead_in(one_line(text))
            return
        if names:
            self._note(text, names, block, "prose", run_in)
        if LISTING_VERB.search(text) or self.classes.only or run_in:
            self._commons_in_prose(text, names, block)

    def _run_in(self, text: str, names: Sequence[Found]) -> str | None:
        """The class that a block opens with: "Class A: ...", "(2) Restricted. ..."."""
        head = text[: names[0].start] if names else text
        match = re.match(r"(?s)(.{0,120}?)(?:[:—–]|\.(?=\s|$))", head)
        if match is None:
            return None
        bare = ENUMERATOR.sub("", one_line(match.group(1)))
        if not bare or len(bare.split()) > _MOST_HEADING_WORDS or self._common(bare) is not None:
            return None
        named = self.classes.named_by(bare)
        if named and len(self.classes.names) > 1:
            self._under(bare, PSEUDO_LEVEL)
        return named

    def _row(self, block: Block) -> None:
        if block.heads:
            self.columns = block.cells
            return
        cells = block.cells
        named = self._class_of_row(cells)
        before = len(self.found.listings)
        common = self._common_cell(cells)
        full = any(
            name.sort != "genus" for cell in cells for name in self._scan(cell, block, trusted=True)
        )
        for place, cell in enumerate(cells):
            if not cell or (
                named and self.classes.named_by(cell) == named and len(cell.split()) < 6
            ):
                continue
            names = self._scan(cell, block, trusted=True)
            names = [
                name
                for name in names
                if name.sort != "genus" or (not full and stands_alone(cell, name))
            ]
            if _COMMON_COLUMN.search(self._column(place)) and all(
                name.sort == "genus" for name in names
            ):
                continue
            self._note(cell, names, block, "row", named, common=common, whole=block.text)
        if len(self.found.listings) == before:
            for cell in cells:
                if cell and self._commons(cell, block, "row", named):
                    break

    def _column(self, place: int) -> str:
        return self.columns[place] if place < len(self.columns) else ""

    def _class_of_row(self, cells: Sequence[str]) -> str | None:
        for place, cell in enumerate(cells):
            if _CLASS_COLUMN.search(self._column(place)) and self.classes.named_by(cell):
                return self.classes.named_by(cell)
        return next(
            (
                named
                for cell in cells
                if 0 < len(cell.split()) <= 8
                and (named := self.classes.named_by(cell, loose=False)) is not None
            ),
            None,
        )

    def _common_cell(self, cells: Sequence[str]) -> str:
        for place, cell in enumerate(cells):
            if _COMMON_COLUMN.search(self._column(place)):
                return one_line(cell)
        return next((one_line(cell) for cell in cells if cell and self._common(cell)), "")

    # Names
    # ----------------------------------------------------------------------------------------------

    def _scan(self, text: str, block: Block, *, trusted: bool = False) -> list[Found]:
        return scan(text, self.vocabulary, self.genera, italic=block.italic, trusted=trusted)

    def _struck(self, block: Block) -> bool:
        """Set aside the names that are struck through; whether there are any."""
        before = len(self.found.listings)
        for text in block.struck:
            for name in scan(text, self.vocabulary, self.genera, trusted=True):
                if name.sort != "genus":
                    context = around(text, name.start, name.end)
                    self._add(
                        name, block, "item", self.sections.class_name, context, "struck through"
                    )
        return len(self.found.listings) > before

    def _note(
        self,
        text: str,
        names: Sequence[Found],
        block: Block,
        where: Where,
        named: str | None = None,
        *,
        common: str = "",
        whole: str = "",
    ) -> None:
        full = where in ("item", "row") and any(name.sort != "genus" for name in names)
        marks = self.classes.mentions(text) if where in ("prose", "item") else []
        for name in names:
            if name.sort == "genus" and (
                full
                or shares_its_piece(text, name, names)
                or not (
                    stands_alone(text, name)
                    or is_named_genus(text, name)
                    or name.printed in block.italic
                )
            ):
                continue
            before = [mark for start, mark in marks if start < name.start]
            behind = [mark for start, mark in marks if start >= name.end]
            class_name = named or (before[-1] if before else None) or self.sections.class_name
            if where == "item" and not before and len(set(behind)) == 1 and len(names) == 1:
                class_name = behind[0]
            out = taken_out(text, name.start, name.end) or self.sections.out
            self._add(
                name,
                block,
                where,
                class_name,
                around(whole or text, name.start, name.end) if not whole else one_line(whole),
                out,
                common or common_beside(text, name),
            )

    def _add(
        self,
        found: Found,
        block: Block,
        where: Where,
        class_name: str | None,
        context: str,
        out: str,
        common: str = "",
    ) -> None:
        self.found.listings.append(
            Listing(
                found.name,
                found.printed,
                found.sort,
                found.known,
                where,
                block.place,
                context,
                class_name,
                common,
                out,
            )
        )

    def _common(self, text: str) -> str | None:
        """The common name that a whole text is, if it is one."""
        bare = re.sub(r"\s*\([^)]*\)", "", ENUMERATOR.sub("", one_line(text))).strip(" .;,:*†")
        for part in (bare, re.split(r",|;|\bor\b", bare)[0].strip(" .;,:")):
            if len(part) > 3 and vernacular_form(part) in self.vocabulary.vernacular:
                return part
        return None

    def _commons(self, text: str, block: Block, where: Where, named: str | None = None) -> bool:
        common = self._common(text)
        if common is None:
            return False
        start = max(0, text.find(common))
        out = taken_out(text, start, start + len(common)) or self.sections.out
        self._add_common(
            common, block, where, named or self.sections.class_name, one_line(text), out
        )
        return True

    def _commons_in_prose(self, text: str, names: Sequence[Found], block: Block) -> None:
        """Common names that stand between commas, in a sentence that lists."""
        if names:
            return
        place = 0
        for piece in re.split(r"[,;:.()]|\band\b|\bor\b|\n", text):
            start = text.find(piece, place)
            place = start + len(piece)
            bare = " ".join(piece.split()).strip(" \"“”'")
            if len(bare) > 5 and vernacular_form(bare) in self.vocabulary.vernacular:
                out = taken_out(text, start, place) or self.sections.out
                context = around(text, start, place)
                self._add_common(bare, block, "prose", self.sections.class_name, context, out)

    def _add_common(
        self, name: str, block: Block, where: Where, class_name: str | None, context: str, out: str
    ) -> None:
        self.found.listings.append(
            Listing(name, name, "common", True, where, block.place, context, class_name, name, out)
        )

    def _weigh_prose(self) -> None:
        """Where a document has its list in rows and items, a name in its prose is a mention unless
        the sentence lists.
        """
        listings = self.found.listings
        structured = sum(
            listing.where in ("row", "item") and not listing.set_aside for listing in listings
        )
        if structured < _STRUCTURED:
            return
        self.found.listings = [
            replace(listing, set_aside="mentioned in prose beside the list")
            if listing.where == "prose"
            and not listing.set_aside
            and not LISTING_VERB.search(listing.context)
            else listing
            for listing in listings
        ]
