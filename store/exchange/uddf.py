"""UDDF, the Universal Dive Data Format, versions 3.0 to 3.3.1: dives, their gas, and the owner's kit they used.

Elements are matched by local name, as files come with and without a namespace. Source of names and values: the XML schemas 3.0.0 to
3.3.1. Files with a document type declaration are refused, which rules out entities of every sort.
"""

import re
from xml.etree.ElementTree import Element, TreeBuilder
from xml.sax import SAXException, SAXParseException
from xml.sax.handler import ContentHandler
from xml.sax.xmlreader import AttributesImpl

from defusedxml.common import DefusedXmlException
from defusedxml.sax import make_parser

from store.exchange.logbook import (
    LONGEST_NAME,
    MOST_DIVES,
    LogFile,
    LogFileError,
    LoggedDive,
    LoggedKit,
    Skipped,
    decimal,
    iso_day,
    listed,
    log_file,
    shown,
    tidy,
)
from store.vocabulary import Condition, ItemKind, Water

K = ItemKind

KINDS: dict[str, frozenset[ItemKind]] = {
    "body": frozenset(),
    "boots": frozenset({K.BOOTS}),
    "buoyancycontroldevice": frozenset({K.BUOYANCY_DEVICE}),
    "camera": frozenset({K.CAMERA_HOUSING}),
    "compass": frozenset(),
    "compressor": frozenset(),
    "divecomputer": frozenset({K.DIVE_COMPUTER}),
    "fins": frozenset({K.FINS}),
    "flash": frozenset({K.STROBE}),
    "gloves": frozenset({K.GLOVES, K.DRY_GLOVES}),
    "housing": frozenset({K.CAMERA_HOUSING}),
    "knife": frozenset({K.KNIFE}),
    "lead": frozenset({K.WEIGHTS}),
    "lens": frozenset(),
    "light": frozenset({K.CANISTER_LIGHT, K.HAND_LIGHT, K.VIDEO_LIGHT}),
    "mask": frozenset({K.MASK}),
    "rebreather": frozenset({K.REBREATHER}),
    "regulator": frozenset({K.REGULATOR}),
    "scooter": frozenset({K.SCOOTER}),
    "suit": frozenset(),
    "tank": frozenset({K.CYLINDER, K.TWINSET, K.STAGE}),
    "variouspieces": frozenset(),
    "videocamera": frozenset({K.CAMERA_HOUSING}),
    "watch": frozenset(),
}
"""What an element under `equipment`, or under a camera there, may be; a suit goes by `SUITS`."""

SUITS: dict[str, frozenset[ItemKind]] = {
    "dive-skin": frozenset({K.WETSUIT}),
    "wet-suit": frozenset({K.WETSUIT}),
    "dry-suit": frozenset({K.DRY_SUIT}),
    "": frozenset({K.DRY_SUIT, K.WETSUIT}),
}
"""By `suittype`, empty where it is not said; other types are kinds we do not know."""

WATERS = {
    "ocean-sea": Water.SALT,
    "lake-quarry": Water.FRESH,
    "river-spring": Water.FRESH,
    "pool": Water.POOL,
}
ICE = frozenset({Condition.ICE})

MOST_DEEP, LONGEST_TEXT = 60, 10_000
MOST_ELEMENTS, MOST_KEPT = 2_000_000, 30 * MOST_DIVES
_READ = frozenset(
    """uddf diver owner equipment equipmentconfiguration name suittype divesite site environment gasdefinitions mix o2
    profiledata repetitiongroup dive informationbeforedive informationafterdive equipmentused tankdata tankused link analysedo2
    datetime divenumber greatestdepth diveduration lowesttemperature""".split()
) | frozenset(KINDS)
"""Elements that are read. Whatever stands in any other, such as all samples of a profile, is passed over."""
_DECLARED = re.compile(rb"""<\?xml[^>]{0,200}?\sencoding\s*=\s*["']([^"']{0,60})["']""")
_ENCODINGS = re.compile(
    rb"utf-?8|us-ascii|ascii|iso-8859-\d{1,2}|latin-?1|windows-125\d|cp125\d", re.IGNORECASE
)


def read(content: bytes) -> LogFile:
    """Read a UDDF file. Raises LogFileError where it is none or cannot be trusted."""
    root = _tree(content)
    skipped = Skipped()
    version = root.get("version", "3")
    if not version.startswith("3"):
        skipped.add(
            "Version",
            f"the file is UDDF {shown(version)}; 3.0 to 3.3.1 are known here, so look over what came of it",
        )
    return _Log(root, skipped).read()


def _tree(content: bytes) -> Element:
    """Parse to a tree of the elements that are read, with local names."""
    declared = _DECLARED.match(content[:400].removeprefix(b"\xef\xbb\xbf").lstrip())
    if declared and not _ENCODINGS.fullmatch(declared[1]):
        raise LogFileError(
            "The file is in a character encoding that is not read here; save it in UTF-8 and send it again."
        )
    handler = _Handler()
    parser = make_parser()
    parser.forbid_dtd = True
    parser.setContentHandler(handler)
    try:
        parser.feed(content)  # in one piece: a token that spans many pieces would be scanned once for each
        parser.close()
    except DefusedXmlException as error:
        raise LogFileError(
            "The file declares a document type (DTD), which no dive log needs and which is not read for safety; export it without and send it again."
        ) from error
    except SAXParseException as error:
        raise LogFileError(
            f"The file breaks off or is not proper XML (line {error.getLineNumber()}); export it once more and send it again."
        ) from error
    except (SAXException, ValueError, LookupError) as error:
        raise LogFileError("The file is not proper XML; export it once more and send it again.") from error
    return handler.tree.close()


class _Handler(ContentHandler):
    """Builds the tree and holds the file to its bounds."""

    def __init__(self) -> None:
        super().__init__()
        self.tree = TreeBuilder()
        self._deep = self._passed_over = self._elements = self._kept = 0

    def startElement(self, name: str, attrs: AttributesImpl) -> None:  # noqa: N802  # the name is SAX's
        self._deep += 1
        if self._deep > MOST_DEEP:
            raise LogFileError(
                "The file is nested deeper than any UDDF; export it once more and send it again."
            )
        if len(attrs) and any(len(value) > LONGEST_TEXT for value in attrs.values()):
            raise LogFileError(
                "The file holds an attribute that is far too long; export it once more and send it again."
            )
        self._elements += 1
        if self._elements > MOST_ELEMENTS or self._kept > MOST_KEPT:
            raise LogFileError(
                "The file holds more than one log can; export fewer dives at a time and send them again."
            )
        if self._passed_over:
            self._passed_over += 1
            return
        local = name.rpartition(":")[2]
        if self._deep == 1 and local != "uddf":
            raise LogFileError(
                f"The file is XML but not UDDF (it begins with {shown(local)}); export it as UDDF and send it again."
            )
        if local not in _READ:
            self._passed_over = 1
            return
        self._kept += 1
        self.tree.start(local, {key: attrs[key] for key in ("id", "ref", "version") if key in attrs})

    def endElement(self, name: str) -> None:  # noqa: N802  # the name is SAX's
        self._deep -= 1
        if self._passed_over:
            self._passed_over -= 1
        else:
            self.tree.end(name.rpartition(":")[2])

    def characters(self, content: str) -> None:
        if not self._passed_over and not content.isspace():
            self.tree.data(content)


class _Log:
    """One file being read: what its ids stand for, and what could not be read."""

    def __init__(self, root: Element, skipped: Skipped) -> None:
        self._root, self._skipped = root, skipped
        self._kit = {piece.key: piece for piece in map(_piece, _pieces(root)) if piece.key}
        self._sets = {
            x.get("id", ""): _refs(x) for x in root.iterfind("diver/owner/equipment/equipmentconfiguration")
        }
        self._mixes = {x.get("id", ""): _text(x, "o2") for x in root.iterfind("gasdefinitions/mix")}
        self._sites = {x.get("id", ""): _text(x, "environment") for x in root.iterfind("divesite/site")}
        self._o2: dict[str, float | None] = {}
        self._unknown: dict[str, list[str]] = {}

    def read(self) -> LogFile:
        """Read all dives."""
        elements = self._root.findall("profiledata/repetitiongroup/dive")
        if len(elements) > MOST_DIVES:
            raise LogFileError(
                f"The file holds more than {MOST_DIVES} dives; split it and send the parts one by one."
            )
        read = [self._dive(element, number) for number, element in enumerate(elements, 1)]
        for ref, dives in self._unknown.items():
            self._skipped.add(
                listed(dives, 1),
                f"the kit or gas {shown(ref)} is not in the file's list of yours, so it is left out",
            )
        return log_file((dive for dive in read if dive), self._kit.values(), self._skipped)

    def _dive(self, dive: Element, place: int) -> LoggedDive | None:
        where = f"Dive {shown(dive.get('id') or str(place))}"
        written = _text(dive, "informationbeforedive/datetime")
        found = iso_day(written)
        if found is None:
            self._skipped.undated(where, written)
            return None
        on, clock = found
        started_at = self._skipped.start(where, on, clock)
        sites = [self._sites.get(ref, "") for ref in _refs(dive, "informationbeforedive/link")]
        seconds = self._value(where, dive, "duration", "informationafterdive/diveduration")
        return LoggedDive(
            started_at=started_at,
            on=started_at.date() if started_at else on,
            duration_s=None if seconds is None else round(seconds),
            max_depth_m=self._value(where, dive, "depth", "informationafterdive/greatestdepth"),
            min_temp_c=self._value(where, dive, "temperature", "informationafterdive/lowesttemperature"),
            o2_fraction=self._richest(where, dive),
            water=next((WATERS[site] for site in sites if site in WATERS), None),
            conditions=ICE if "under-ice" in sites else frozenset(),
            kit=self._used(where, dive),
            number=self._skipped.whole(
                where, "dive number", _text(dive, "informationbeforedive/divenumber"), 1_000_000
            ),
        )

    def _value(self, where: str, dive: Element, what: str, path: str) -> float | None:
        """Return a value of the dive in our unit, rounded: metres to 0.01, degrees Celsius to 0.1."""
        text = _text(dive, path)
        if not text:
            return None
        value = decimal(text)
        if value is not None:
            value = round(value - 273.15, 1) + 0.0 if what == "temperature" else round(value, 2)
        return self._skipped.sane(where, what, text, value)

    def _richest(self, where: str, dive: Element) -> float | None:
        """Return the greatest oxygen fraction of the dive's tanks; what was analysed goes before what the mix is called."""
        found: list[float | None] = []
        for tank in (*dive.iterfind("tankdata"), *dive.iterfind("tankdata/tankused")):
            analysed = _text(tank, "analysedo2")
            if analysed:
                found.append(self._oxygen(where, analysed))
                continue
            for ref in _refs(tank):
                if ref in self._mixes and ref not in self._o2:
                    text = self._mixes[ref]
                    self._o2[ref] = self._oxygen(f"Gas {shown(ref)}", text) if text else None
                found.append(self._o2.get(ref))
        return max((o2 for o2 in found if o2 is not None), default=None)

    def _oxygen(self, where: str, text: str) -> float | None:
        """Read a fraction. UDDF has no percentages, but some writers do: a value over 1 is taken as one, and told."""
        value = decimal(text)
        if value is not None and 1 < value <= 100:
            value /= 100
            self._skipped.add(
                where,
                f"the oxygen {shown(text)} is more than the whole, so it is read as {value * 100:.4g} %",
            )
        return self._skipped.sane(where, "oxygen", text, None if value is None else round(value, 4))

    def _used(self, where: str, dive: Element) -> tuple[str, ...]:
        """Return the keys of the owner's kit that the dive links to, each once; a configuration stands for its pieces."""
        named = [
            *_refs(dive, "informationbeforedive/equipmentused/link"),
            *_refs(dive, "informationafterdive/equipmentused/link"),
            *_refs(dive, "tankdata/link"),
            *_refs(dive, "tankdata/tankused/link"),
        ]
        refs: dict[str, None] = {}
        for ref in named:
            refs.update(dict.fromkeys(self._sets.get(ref, (ref,))))
        for ref in refs:
            if ref not in self._kit and ref not in self._mixes:
                self._unknown.setdefault(ref, []).append(where)
        loose = _refs(
            dive, "informationbeforedive/link"
        )  # to sites and buddies as well, so unknown ones are no loss
        return tuple(ref for ref in dict.fromkeys((*refs, *loose)) if ref in self._kit)


def _pieces(root: Element) -> list[Element]:
    """Return the owner's kit; a camera is itself and its parts, each of which can be linked to."""
    return [
        piece
        for top in root.iterfind("diver/owner/equipment/*")
        if top.tag != "equipmentconfiguration"
        for piece in (top, *(part for part in top if part.tag in KINDS))
    ]


def _piece(element: Element) -> LoggedKit:
    key = element.get("id", "")
    name = _text(element, "name") or _text(element, "housing/name") or key
    kinds = SUITS.get(_text(element, "suittype")) if element.tag == "suit" else KINDS.get(element.tag)
    return LoggedKit(key, tidy(name)[:LONGEST_NAME], kinds or frozenset())


def _text(element: Element, path: str) -> str:
    return (element.findtext(path) or "").strip()


def _refs(element: Element, path: str = "link") -> list[str]:
    return [ref for link in element.iterfind(path) if (ref := link.get("ref"))]
