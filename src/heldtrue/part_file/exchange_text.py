"""The text of a STEP file (ISO 10303-21): entities by their number, each taken apart when it is asked for.

The whole text is cut into entities at once by one regular expression, in time linear in its length; the values of an
entity are read when they are needed, so that what a section does not need (pictures, parameter curves, annotations)
costs next to nothing.  Nothing of a file is executed, and no other file is opened.
Source of the syntax: ISO 10303-21, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import chain
from typing import Any

from heldtrue.errors import InputError

DEEPEST = 64
"""Brackets in brackets; files of kernels stay under ten."""
LONGEST_SHOWN = 60
MOST_DIGITS = 15

BEGINNING = "ISO-10303-21;"
END = "END-ISO-10303-21;"

_STRING = r"'(?:[^']++|'')*+'"
_COMMENT = re.compile(rf"({_STRING})|/\*.*?\*/", re.DOTALL)
_SECTION = re.compile(rf"(?:[^';]++|{_STRING})*+;", re.DOTALL)
_ENTITY = re.compile(
    r"\s*+(?:#(\d{1,15}+)\s*+=\s*+((\w*+)[^';]*+(?:'[^']*+'[^';]*+)*+);|(\S.*+))", re.ASCII | re.DOTALL
)
_ENDSEC = re.compile(r"ENDSEC\s*+;")
_HEAD = re.compile(r"\s*+(?:([A-Za-z!][A-Za-z_0-9]*+)\s*+)?\(")
_TOKEN = re.compile(
    rf"""\s*+(?:(?P<reference>\#\d{{1,15}}+)
    |(?P<number>[-+]?+\d++(?:\.\d*+)?+(?:[Ee][-+]?+\d++)?+)
    |(?P<string>{_STRING})
    |\.(?P<choice>[A-Za-z_][A-Za-z_0-9]*+)\.
    |(?P<empty>[$*])
    |(?P<binary>"[0-9A-Fa-f]*+")
    |(?P<typed>[A-Za-z!][A-Za-z_0-9]*+)\s*+\(
    |(?P<mark>[(),]))""",
    re.VERBOSE | re.DOTALL,
)
_PLAIN = re.compile(
    r"\s*+(\w++)\s*+\(\s*+'([^'\\]*+)'\s*+(?:,\s*+\(([^()']++)\)\s*+)?+(?:,([^()']++))?+\)\s*+", re.ASCII
)
_NUMBER = r"\s*+([-+]?+\d++(?:\.\d*+)?+(?:[Ee][-+]?+\d++)?+)\s*+"
_THREE = re.compile(rf"\s*+(\w++)\s*+\(\s*+'[^']*+'\s*+,\s*+\({_NUMBER},{_NUMBER},{_NUMBER}\)\s*+\)\s*+", re.ASCII)
_ORIENTED = re.compile(
    r"\s*+ORIENTED_EDGE\s*+\(\s*+'[^']*+'\s*+,\s*+\*\s*+,\s*+\*\s*+,\s*+#(\d{1,15}+)\s*+,\s*+\.([TF])\.\s*+\)\s*+",
    re.ASCII,
)
_PLACED = re.compile(
    r"\s*+AXIS2_PLACEMENT_3D\s*+\(\s*+'[^']*+'\s*+,\s*+#(\d{1,15}+)\s*+,\s*+#(\d{1,15}+)\s*+,\s*+#(\d{1,15}+)\s*+\)\s*+",
    re.ASCII,
)
_ON_SURFACE = re.compile(r"\s*+(?:SURFACE|SEAM|INTERSECTION)_CURVE\s*+\(\s*+'[^']*+'\s*+,\s*+#(\d{1,15}+)", re.ASCII)
_REFERENCE = re.compile(rf"{_STRING}|#(\d{{1,15}}+)", re.DOTALL)
_WIDE = re.compile(
    r"\\X2\\((?:[0-9A-Fa-f]{4})*+)\\X0\\|\\X4\\((?:[0-9A-Fa-f]{8})*+)\\X0\\|\\X\\([0-9A-Fa-f]{2})|\\S\\(.)", re.DOTALL
)


Ref = int
"""A reference to the entity of that number: numbers of a file are ``float``, so an ``int`` can be nothing else."""


class Choice(str):
    """A value written between dots: ``.T.``, ``.MILLI.``."""

    __slots__ = ()


_KNOWN: dict[str, Choice | None] = {"*": None, "$": None, ".T.": Choice("T"), ".F.": Choice("F")}
"""Values that come by the thousand."""


@dataclass(frozen=True)
class Typed:
    """A value with its type: ``LENGTH_MEASURE(25.4)``."""

    name: str
    values: tuple[Any, ...]


@dataclass(slots=True)
class Entity:
    """One entity: its number, and name and values of each of its parts; an ordinary one has one part.

    Values: ``float``, ``str``, :class:`Ref`, :class:`Choice`, :class:`Typed`, ``tuple``; ``None`` for ``$`` and ``*``.
    """

    id: int
    parts: tuple[tuple[str, tuple[Any, ...]], ...]

    @property
    def name(self) -> str:
        """Its name, of the first part of a complex one."""
        return self.parts[0][0]

    @property
    def values(self) -> tuple[Any, ...]:
        """Its values, of the first part of a complex one."""
        return self.parts[0][1]

    def part(self, name: str) -> tuple[Any, ...] | None:
        """The values of the part of that name; ``None`` where it has none."""
        return next((values for own, values in self.parts if own == name), None)

    def has(self, *names: str) -> bool:
        """Is one of its parts of one of these names?"""
        return any(own in names for own, _ in self.parts)


@dataclass
class Exchange:
    """All entities of a file. Make one with :func:`read_exchange`."""

    header: str
    bodies: dict[int, str]
    by_name: dict[str, list[int]]
    """The numbers of the entities of each name; of those of several parts under no name."""
    notes: list[str] = field(default_factory=list)
    _read: dict[int, Entity] = field(default_factory=dict)
    _alike: dict[str, list[int]] = field(default_factory=dict)
    _found: dict[tuple[str, ...], list[Entity]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for id_ in self.by_name.get("", ()):  # there are thousands of a few texts
            self._alike.setdefault(self.bodies[id_], []).append(id_)

    def __getitem__(self, id_: Any) -> Entity:
        """The entity of that number.

        Raises: ``InputError`` where there is none, or its text is broken.
        """
        found = self._read.get(id_)
        if found is None:
            if not isinstance(id_, Ref):
                raise InputError(f"the STEP file has {_shown(repr(id_))} where an entity should stand")
            body = self.bodies.get(id_)
            if body is None:
                raise InputError(
                    f"the STEP file refers to #{int(id_)}, which is not in it: the file is cut off or damaged"
                )
            found = self._read[int(id_)] = _entity(int(id_), body)
        return found

    def three(self, id_: Any, name: str) -> tuple[float, float, float] | None:
        """The three numbers of a point or direction, straight from its text; ``None`` where it is not just that."""
        found = _THREE.fullmatch(self.bodies.get(id_, "")) if isinstance(id_, Ref) else None
        if found is None or found.group(1) != name:
            return None
        return float(found.group(2)), float(found.group(3)), float(found.group(4))

    def oriented_edge(self, id_: Any) -> tuple[int, bool] | None:
        """The edge that an oriented edge walks and whether forward, straight from its text; ``None`` for others."""
        found = _ORIENTED.fullmatch(self.bodies.get(id_, "")) if isinstance(id_, Ref) else None
        return None if found is None else (int(found.group(1)), found.group(2) == "T")

    def placement(self, id_: Any) -> tuple[int, int, int] | None:
        """Point, axis and x of a placement, straight from its text; ``None`` where it is not just that."""
        found = _PLACED.fullmatch(self.bodies.get(id_, "")) if isinstance(id_, Ref) else None
        return None if found is None else (int(found.group(1)), int(found.group(2)), int(found.group(3)))

    def curve_in_space(self, id_: Any) -> Any:
        """What a curve on a surface is in space, straight from its text; any other entity as it is."""
        found = _ON_SURFACE.match(self.bodies.get(id_, "")) if isinstance(id_, Ref) else None
        return id_ if found is None else int(found.group(1))

    def of(self, *names: str) -> list[Entity]:
        """All entities with a part of one of these names, in the order of the file."""
        known = self._found.get(names)
        if known is not None:
            return known
        ids = {id_: None for name in names for id_ in self.by_name.get(name, ())}
        found = [self[id_] for id_ in ids]
        alike = [same for body, same in self._alike.items() if any(name in body for name in names)]
        found += [one for id_ in sorted(chain(*alike)) if (one := self[id_]).has(*names)]
        self._found[names] = found
        return found

    def names_ending(self, ending: str) -> list[str]:
        """The names of entities of one part that end so."""
        return [name for name in self.by_name if name.endswith(ending)]

    def needs(self, id_: int) -> list[int]:
        """The numbers of all entities that one stands on, itself with them, in order."""
        seen, todo = {id_}, [id_]
        while todo:
            for text in _REFERENCE.findall(self.bodies.get(todo.pop(), "")):
                if text and int(text) not in seen:
                    seen.add(int(text))
                    todo.append(int(text))
        return sorted(seen)


def read_exchange(content: bytes) -> Exchange:
    """Cut a STEP file into its entities.

    Raises: ``InputError`` where it is empty, no STEP file, cut off, or not written by the rules; with the place.
    """
    text = content.decode("utf-8", errors="replace").lstrip("\ufeff \t\r\n\0")
    if not text.strip():
        raise InputError("the file is empty")
    if not text.startswith(BEGINNING):
        raise InputError(f"this is no STEP file: it begins with {_shown(text)}, not with {BEGINNING}")
    if "/*" in text:
        text = _COMMENT.sub(lambda found: found.group(1) or " ", text)
    at, header, notes = len(BEGINNING), "", list[str]()
    bodies: dict[int, str] = {}
    by_name: dict[str, list[int]] = {}
    while True:
        found = _SECTION.match(text, at)
        if found is None:
            raise InputError(f"the STEP file is cut off: there is no {END} at its end")
        at, name = found.end(), found.group().strip()
        if name == END:
            break
        end = _end_of_section(text, at)
        if name.startswith("HEADER"):
            header = text[at:end]
        elif name.startswith("DATA"):
            _cut(text[at:end], bodies, by_name)
        elif name.startswith("REFERENCE"):
            notes.append("the file refers to other files; they are not opened")
        after = _ENDSEC.match(text, end)
        if after is None:
            raise InputError(f"the STEP file is broken where a section ends: {_shown(text[end:])}")
        at = after.end()
    if not bodies:
        raise InputError("the STEP file holds no entity")
    return Exchange(header, bodies, by_name, notes)


def _end_of_section(text: str, at: int) -> int:
    """Where the ENDSEC of the section that begins at ``at`` stands, outside of every string."""
    quotes, looked = 0, at
    while (place := text.find("ENDSEC", looked)) >= 0:
        quotes += text.count("'", looked, place)
        looked = place + 6
        if quotes % 2 == 0:
            return place
    raise InputError("the STEP file is cut off: a section does not end with ENDSEC")


def _cut(section: str, bodies: dict[int, str], by_name: dict[str, list[int]]) -> None:
    """Put the entities of a section to those of the sections before it."""
    rows = _ENTITY.findall(section)
    before = len(bodies)
    for number, body, name, stray in rows:
        if stray:
            raise InputError(f"the STEP file is broken after #{next(reversed(bodies), 0)}: {_shown(stray)}")
        if "(" not in body:
            raise InputError(f"#{number} of the STEP file is no entity: {_shown(body)}")
        id_ = int(number)
        bodies[id_] = body
        if name in by_name:
            by_name[name].append(id_)
        else:
            by_name[name] = [id_]
    if len(bodies) - before != len(rows):
        raise InputError("the STEP file gives one entity number twice")


def _entity(id_: int, body: str) -> Entity:
    plain = _PLAIN.fullmatch(body)
    if plain is not None:  # nearly every entity: a name, then values with at most one list, which comes first
        name, text, listed, rest = plain.groups()
        values = _converted(rest.split(",")) if rest is not None else ()
        inner = _converted(listed.split(",")) if listed is not None else ()
        if values is not None and inner is not None:
            return Entity(id_, ((name.upper(), (text, *values) if listed is None else (text, inner, *values)),))
    return _by_the_rules(id_, body)


def _by_the_rules(id_: int, body: str) -> Entity:
    found = _HEAD.match(body)
    if found is None:
        raise InputError(f"#{id_} of the STEP file is no entity: {_shown(body)}")
    name = found.group(1)
    values, end = _values(id_, body, found.end())
    if body[end:].strip():
        raise InputError(f"#{id_} of the STEP file goes on after its bracket: {_shown(body[end:])}")
    if name:
        return Entity(id_, ((name.upper(), values),))
    parts = tuple((value.name, value.values) for value in values if isinstance(value, Typed))
    if not parts or len(parts) != len(values):
        raise InputError(f"#{id_} of the STEP file is no entity: {_shown(body)}")
    return Entity(id_, parts)


def _converted(rows: list[str]) -> tuple[Any, ...] | None:
    """Values that stand between commas; ``None`` where one is of a kind that only the rules know."""
    values: list[Any] = []
    for row in rows:
        text = row.strip()
        first = text[:1]
        if first == "#":
            number = text[1:]
            if not number.isdecimal() or len(number) > MOST_DIGITS:
                return None
            values.append(int(number))
        elif text in _KNOWN:
            values.append(_KNOWN[text])
        elif first == ".":
            if not text[1:-1].isidentifier() or text[-1] != ".":
                return None
            values.append(Choice(text[1:-1].upper()))
        elif not text.strip("0123456789.+-eE"):
            try:
                values.append(float(text))
            except ValueError:
                return None
        else:
            return None
    return tuple(values)


def _values(id_: int, body: str, at: int) -> tuple[tuple[Any, ...], int]:
    """The values after an opening bracket, and where they end; in a complex entity parts follow without commas."""
    opened: list[tuple[str | None, list[Any]]] = [(None, [])]
    match = _TOKEN.match
    while True:
        found = match(body, at)
        if found is None:
            raise InputError(f"#{id_} of the STEP file cannot be read at {_shown(body[at:])}")
        at, kind = found.end(), found.lastgroup
        text, values = found.group(kind), opened[-1][1]  # type: ignore[arg-type]
        if kind == "mark":
            if text == "(":
                opened.append((None, []))
            elif text == ")":
                name, done = opened.pop()
                if not opened:
                    return tuple(done), at
                opened[-1][1].append(tuple(done) if name is None else Typed(name, tuple(done)))
        elif kind == "number":
            values.append(float(text))
        elif kind == "reference":
            values.append(Ref(text[1:]))
        elif kind == "string":
            values.append(_plain(text[1:-1]))
        elif kind == "choice":
            values.append(Choice(text.upper()))
        elif kind == "typed":
            opened.append((text.upper(), []))
        else:
            values.append(None)
        if len(opened) > DEEPEST:
            raise InputError(f"#{id_} of the STEP file has brackets more than {DEEPEST} deep")


def _plain(text: str) -> str:
    """A string without its escapes."""
    text = text.replace("''", "'")
    return _WIDE.sub(_letters, text).replace("\\\\", "\\") if "\\" in text else text


def _letters(found: re.Match[str]) -> str:
    two, four, one, shifted = found.groups()
    if one:
        return chr(int(one, 16))
    if shifted:
        return chr(ord(shifted) % 128 + 128)
    data = bytes.fromhex(two or four or "")
    return data.decode("utf-16-be" if two else "utf-32-be", errors="replace")


def _shown(text: str) -> str:
    """The beginning of a text, fit to print."""
    text = " ".join("".join(c if c.isprintable() else " " for c in text[: 3 * LONGEST_SHOWN]).split())
    return repr(text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + " ...")


def references(values: Any) -> Iterator[Ref]:
    """All references in the values of an entity, in order."""
    todo = [values]
    while todo:
        one = todo.pop()
        if isinstance(one, Ref):
            yield one
        elif isinstance(one, tuple):
            todo.extend(reversed(one))
        elif isinstance(one, Typed):
            todo.append(one.values)
