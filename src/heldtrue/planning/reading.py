"""From a file, or a dictionary in its shape, to tables in core units, with every problem in words.

Reading never stops at the first problem: what cannot be read is named and left out, and the tables that
could be read go on to the checks, so that one look at the messages is enough.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, get_args

from heldtrue.errors import InputError
from heldtrue.planning.entries import (
    Assumptions,
    Boring,
    Chuck,
    Cut,
    Entry,
    Grip,
    Jaws,
    Limits,
    Machine,
    Part,
    Run,
    SectionSource,
    SetupData,
    Source,
    Surface,
    UnitSystem,
)
from heldtrue.planning.forms_asked import asks_for_forms
from heldtrue.planning.shapes import FieldShape, Shape, fields_of
from heldtrue.planning.toml_file import read_toml_below
from heldtrue.quantities import describe, names_unit, parse_quantity

SOURCES: tuple[Source, ...] = get_args(Source)
LONGEST_TEXT = 200
LONGEST_LIST = 500
MOST_UNKNOWN = 20
_ITEM_WORDS = {"profile": "corner", "blank": "corner", "grip_readings": "reading", "rings": "ring", "steps": "step",
               "not_round": "stretch"}  # fmt: skip


@dataclass(frozen=True)
class Layer:
    """One text a table is read from; bare numbers in it are in ``system``."""

    raw: Any
    system: UnitSystem
    place: str


@dataclass
class Tables:
    """The tables that could be read; ``None`` stands where one could not, in the lists too."""

    title: str = ""
    units: UnitSystem = "metric"
    part: Part | None = None
    surfaces: tuple[Surface | None, ...] = ()
    grip: Grip | None = None
    chuck: Chuck | None = None
    jaws: Jaws | None = None
    cuts: tuple[Cut | None, ...] = ()
    machine: Machine | None = None
    limits: Limits | None = None
    run: Run | None = None
    boring: Boring | None = None
    assumptions: Assumptions | None = None


@dataclass
class Reader:
    """Collects, while tables are read: the problems, where values came from, and which carried a unit."""

    problems: list[str] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)
    spelled: set[str] = field(default_factory=set)
    units: UnitSystem = "metric"
    drawn: dict[str, SectionSource] = field(default_factory=dict)

    def setup(self, raw: Any, base_dir: Any) -> tuple[dict[str, Any], Tables]:
        """The values of a whole setup, and its tables."""
        if not isinstance(raw, Mapping):
            self.problems.append(f"a setup is a table of keys; found {describe(raw)}")
            return {}, Tables()
        system = self.units = self.system_of(raw, "")
        raw = self._with_part(self._with_files(dict(raw), system, base_dir), system, base_dir)
        values: dict[str, Any] = {}
        tables = Tables(units=system)
        layer = Layer(raw, system, "")
        self._unknown_keys(SetupData, layer, raw)
        for shape in fields_of(SetupData):
            present = raw.get(shape.key)
            if _left_empty(shape, present):
                continue
            if present is None or (isinstance(present, _Layers) and not present):
                if present is None and shape.required and shape.key != "units":
                    self.problems.append(f"there is no [{shape.key}] table")
                continue
            if shape.key == "units":
                values["units"] = system
                continue
            before = len(self.problems)
            if shape.shape.name == "list":
                listed = self._entries(shape, present, system)
                setattr(tables, shape.name, listed)
                values[shape.name] = listed
            elif shape.shape.table:
                layers = present if isinstance(present, _Layers) else _Layers([Layer(present, system, shape.key)])
                read = self.table(shape.shape.table, layers, shape.name, None)
                entry = shape.shape.table.model_validate(read) if len(self.problems) == before else None
                setattr(tables, shape.name, entry)
                values[shape.name] = entry
            else:
                values[shape.name] = self._value(shape.shape, present, layer, shape.key, shape.name, None)
                tables.title = values[shape.name] or ""
        self._drop_what_goes_without_saying()
        return values, tables

    def table(self, table: type[Entry], layers: Iterable[Layer], path: str, default: Source | None) -> dict[str, Any]:
        """The values of one table; a later layer replaces single keys of an earlier one."""
        found: dict[str, list[tuple[Any, Layer, Source | None]]] = {}
        place = ""
        for layer in layers:
            raw = table.from_file_shape(layer.raw)
            place = place or layer.place
            if not isinstance(raw, Mapping):
                self.problems.append(f"{place}: expected {_shorthand(table)}; found {describe(layer.raw)}")
                return {}
            raw = dict(raw)
            source = self._source(raw.pop("from"), place) if "from" in raw else default
            self._unknown_keys(table, layer, raw)
            for key, value in raw.items():
                if value is not None:
                    found.setdefault(key, []).append((value, layer, source))
        values: dict[str, Any] = {}
        for shape in fields_of(table):
            here = f"{path}.{shape.name}"
            if shape.key in found and not _left_empty(shape, found[shape.key][-1][0]):
                value, layer, source = found[shape.key][-1]
                if shape.shape.name == "table" and shape.shape.table:
                    inner = [Layer(v, lay.system, f"{lay.place}: {shape.key}") for v, lay, _ in found[shape.key]]
                    values[shape.name] = self.table(shape.shape.table, inner, here, source)
                else:
                    label = f"{layer.place}: {shape.key}"
                    values[shape.name] = self._value(shape.shape, value, layer, label, here, source)
            elif shape.required:
                self.problems.append(f"{place}: {shape.key} is missing; it is the {shape.description}")
        return values

    def _entries(self, shape: FieldShape, raw: Any, system: UnitSystem) -> tuple[Entry | None, ...]:
        """A list of tables such as all cuts; what could not be read leaves ``None``."""
        table = shape.shape.item.table if shape.shape.item else None
        if not isinstance(raw, list | tuple) or table is None:
            self.problems.append(f"{shape.key}: expected tables headed [[{shape.key}]]; found {describe(raw)}")
            return (None,)
        if len(raw) > LONGEST_LIST:
            self.problems.append(f"{shape.key}: {len(raw)} tables are more than {LONGEST_LIST}")
            return (None,)
        entries: list[Entry | None] = []
        for number, item in enumerate(raw):
            before = len(self.problems)
            layer = Layer(item, system, label(shape.key, number, _name_of(item)))
            read = self.table(table, [layer], f"{shape.name}.{number}", None)
            entries.append(table.model_validate(read) if len(self.problems) == before else None)
        return tuple(entries)

    def _value(self, shape: Shape, raw: Any, layer: Layer, place: str, path: str, source: Source | None) -> Any:
        if isinstance(raw, Mapping) and ("value" in raw or "from" in raw) and shape.name != "table":
            if set(raw) - {"value", "from"} or raw.get("value") is None:
                self.problems.append(f'{place}: expected {{ value = ..., from = "..." }} and nothing else')
                return None
            if "from" in raw:
                source = self._source(raw["from"], place)
                if source is not None:
                    self.sources[path] = source
                source = None
            raw = raw["value"]
        if source is not None and not (shape.item and shape.item.table):
            self.sources[path] = source
        if shape.name == "quantity":
            try:
                value = parse_quantity(raw, shape.kind, layer.system)
            except InputError as error:
                self.problems.append(f"{place}: {error}")
                return None
            spelled = isinstance(raw, str) and names_unit(raw)
            if spelled or layer.system != self.units:
                self.spelled.add(path)
            return value
        if shape.name in ("pair", "list"):
            return self._sequence(shape, raw, layer, place, path, source)
        return self._plain(shape, raw, place)

    def _sequence(self, shape: Shape, raw: Any, layer: Layer, place: str, path: str, source: Source | None) -> Any:
        item = shape.item
        if item is None or not isinstance(raw, list | tuple):
            wanted = "two values such as [2, 14]" if shape.name == "pair" else "a list"
            self.problems.append(f"{place}: expected {wanted}; found {describe(raw)}")
            return None
        if shape.name == "pair" and len(raw) != 2:
            hint = ' (a decimal comma needs quotes: "2,5")' if len(raw) in (3, 4) else ""
            self.problems.append(f"{place}: expected two values; found {len(raw)}{hint}")
            return None
        if len(raw) > LONGEST_LIST:
            self.problems.append(f"{place}: {len(raw)} entries are more than {LONGEST_LIST}")
            return None
        word = _ITEM_WORDS.get(path.rpartition(".")[2], "value")
        values = []
        for number, one in enumerate(raw):
            here, label = f"{path}.{number}", f"{place}: {word} {number + 1}"
            if item.table:
                values.append(self.table(item.table, [Layer(one, layer.system, label)], here, source))
            else:
                values.append(self._value(item, one, layer, label, here, None))
        return tuple(values)

    def _plain(self, shape: Shape, raw: Any, place: str) -> Any:
        """Text, choice, whole number, yes or no."""
        if shape.name == "yes_no":
            if isinstance(raw, bool):
                return raw
            self.problems.append(f"{place}: expected true or false; found {describe(raw)}")
        elif shape.name == "whole":
            if isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 1_000_000_000:
                return raw
            self.problems.append(f"{place}: expected a whole number; found {describe(raw)}")
        elif shape.name == "choice":
            if isinstance(raw, str) and raw in shape.choices:
                return raw
            close = closest(raw, shape.choices)
            choices = " or ".join((", ".join(shape.choices[:-1]), shape.choices[-1]))
            self.problems.append(f"{place}: {describe(raw)} is not one of {choices}{close}")
        else:
            return self._text(raw, place)
        return None

    def _text(self, raw: Any, place: str) -> str | None:
        if isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 10**18:
            return str(raw)
        if not isinstance(raw, str):
            self.problems.append(f"{place}: expected a text; found {describe(raw)}")
            return None
        text = raw.replace("\u00a0", " ").strip()
        if not text or len(text) > LONGEST_TEXT or not text.isprintable():
            fault = "it is empty" if not text else f"it is longer than {LONGEST_TEXT} characters"
            fault = fault if not text or len(text) > LONGEST_TEXT else "it has a character that cannot be printed"
            self.problems.append(f"{place}: expected one line of text; {fault}")
            return None
        return text

    def _source(self, raw: Any, place: str) -> Source | None:
        if raw in SOURCES:
            return SOURCES[SOURCES.index(raw)]
        self.problems.append(
            f"{place}: from: {describe(raw)} is not one of {', '.join(SOURCES)}{closest(raw, SOURCES)}"
        )
        return None

    def system_of(self, raw: Mapping[str, Any], place: str) -> UnitSystem:
        """The unit system a table states."""
        given = raw.get("units")
        if given == "metric" or given == "inch":
            return "inch" if given == "inch" else "metric"
        found = "is missing" if given is None else f"{describe(given)} is neither"
        self.problems.append(
            f'{place}units {found}; write units = "metric" (bare numbers are mm, bar, m/min) '
            'or units = "inch" (in, psi, ft/min)'
        )
        return "metric"

    def _unknown_keys(self, table: type[Entry], layer: Layer, raw: Mapping[Any, Any]) -> None:
        known = [shape.key for shape in fields_of(table)]
        unknown = [key for key in raw if key not in known]
        if len(unknown) > MOST_UNKNOWN:
            self.problems.append(f"{layer.place or 'setup'}: {len(unknown)} keys are not known here")
        for key in unknown[:MOST_UNKNOWN]:
            hint = _home_of(key) or closest(key, known) or f"; known are {', '.join(known)}"
            self.problems.append(
                f"{layer.place}{': ' if layer.place else ''}{describe(str(key))} is not known here{hint}"
            )

    def _with_files(self, raw: dict[str, Any], system: UnitSystem, base_dir: Any) -> dict[str, Any]:
        """Put what other files say of chuck, jaws, rings and tool under the keys that the setup itself gives."""
        for key in ("chuck", "jaws"):
            own = raw.get(key)
            if isinstance(own, Mapping) and "use" in own:
                rest = {inner: value for inner, value in own.items() if inner != "use"}
                file = self._file(own["use"], f"{key}: use", key, base_dir)
                raw[key] = _Layers() if file is None else _Layers([file, Layer(rest, system, key)])
        boring = raw.get("boring")
        if isinstance(boring, Mapping) and any(isinstance(boring.get(key), str) for key in ("rings", "tool")):
            rest, layers = dict(boring), _Layers()
            for key in ("rings", "tool"):
                if isinstance(rest.get(key), str):
                    name = rest.pop(key)
                    file = self._file(name, f"boring: {key}", "boring", base_dir)
                    if file is not None:
                        layers.append(
                            Layer(self._listed(file) if key == "rings" else {key: file.raw}, file.system, file.place)
                        )
            raw["boring"] = _Layers([Layer(rest, system, "boring"), *layers])
        return raw

    def _with_part(self, raw: dict[str, Any], system: UnitSystem, base_dir: Any) -> dict[str, Any]:
        """Put corners and keys in the place of a file, a shape, stock and names of surfaces."""
        if not asks_for_forms(raw):
            return raw
        from heldtrue.planning.part_forms import PartForms

        forms = PartForms(system, base_dir, self._one, self.problems)
        raw = forms.expanded(raw)
        self.drawn = forms.drawn
        for key in ("part", "grip"):
            if key in raw and raw[key] is None:
                raw[key] = _Layers()  # said already what is wrong with it
        return raw

    def _one(self, table: type[Entry], raw: Any, place: str, path: str) -> Entry | None:
        """One table by itself; ``None`` if it could not be read. What is read for a look leaves no trace."""
        before = len(self.problems)
        sources, spelled = dict(self.sources), set(self.spelled)
        read = self.table(table, [Layer(raw, self.units, place)], path, None)
        if path == "look":
            self.sources, self.spelled = sources, spelled
        return table.model_validate(read) if len(self.problems) == before else None

    def _file(self, name: Any, place: str, key: str, base_dir: Any) -> Layer | None:
        """The table of a file that a setup names; ``None`` if it cannot be read."""
        try:
            text = read_toml_below(base_dir, name)
        except InputError as error:
            self.problems.extend(f"{place}: {problem}" for problem in error.problems)
            return None
        here = f"{key} ({name})"
        file_system = self.system_of(text, f"{here}: ")
        text.pop("units", None)
        return Layer(text, file_system, here)

    def _listed(self, file: Layer) -> dict[str, Any]:
        """A file of [[ring]] tables as the list it stands for."""
        for key in set(file.raw) - {"ring", "from"}:
            self.problems.append(f"{file.place}: {describe(key)} is not known here; known are [[ring]] tables")
        return {"rings": file.raw.get("ring", []), **({"from": file.raw["from"]} if "from" in file.raw else {})}

    def _drop_what_goes_without_saying(self) -> None:
        """Keep a source only where it differs from that of the list around it, or from ``stated``."""
        for path in sorted(self.sources, key=lambda path: path.count(".")):
            outer = path.rpartition(".")[0]
            if self.sources[path] == nearest_source(self.sources, outer):
                del self.sources[path]


class _Layers(list[Layer]):
    """The layers of one table."""


def nearest_source(sources: Mapping[str, Source], path: str) -> Source:
    """The source of a value, or else of the list it stands in, or else ``stated``."""
    while path:
        if path in sources:
            return sources[path]
        path = path.rpartition(".")[0]
    return "stated"


def label(key: str, number: int, name: str = "") -> str:
    """How messages call an entry of a list: ``cut 2 'finish land'``."""
    return f"{key} {number + 1} '{name}'" if name else f"{key} {number + 1}"


def closest(found: Any, known: Iterable[str]) -> str:
    """``; did you mean "..."?`` where one of the known words is close, else nothing."""
    if not isinstance(found, str):
        return ""
    import difflib

    plain = {word.casefold().replace("_", " "): word for word in known}
    typed = found[:LONGEST_TEXT].casefold().replace("_", " ").replace("-", " ").strip()
    match = difflib.get_close_matches(typed, plain, n=1, cutoff=0.6)
    return f'; did you mean "{plain[match[0]]}"?' if match else ""


def _left_empty(shape: FieldShape, raw: Any) -> bool:
    """Is this a text that need not be given, and is not?"""
    return shape.shape.name == "text" and not shape.required and isinstance(raw, str) and not raw.strip()


def _name_of(raw: Any) -> str:
    name = raw.get("name", "") if isinstance(raw, Mapping) else ""
    return name.strip() if isinstance(name, str) and name.isprintable() and len(name) <= LONGEST_TEXT else ""


def _shorthand(table: type[Entry]) -> str:
    return "[diameter, z] or [diameter, z, {radius = 2}]" if table.__name__ == "Corner" else "a table of keys"


def _home_of(key: Any) -> str:
    """Where a key would belong, if it is known in exactly one other place."""
    if any(shape.key == key and shape.shape.name in ("text", "choice") for shape in fields_of(SetupData)):
        return "; it belongs above the first [table] of the file"
    homes = [
        shape.key
        for shape in fields_of(SetupData)
        for table in [shape.shape.table or (shape.shape.item.table if shape.shape.item else None)]
        if table and any(inner.key == key for inner in fields_of(table))
    ]
    return f"; it belongs to [{homes[0]}]" if len(homes) == 1 else ""
