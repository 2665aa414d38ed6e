"""The setup: one part, held in one chuck with one set of jaws, and the cuts it must survive."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Self

from pydantic import ValidationError

from heldtrue.errors import InputError
from heldtrue.planning.consistency import disagreements
from heldtrue.planning.contrary import Contrary
from heldtrue.planning.entries import (
    Actuator,
    Boring,
    Chuck,
    Corner,
    Cut,
    Entry,
    Grip,
    GripReading,
    JawCut,
    Jaws,
    Limits,
    Machine,
    MasterJaws,
    Part,
    Ring,
    Run,
    SectionSource,
    SetupData,
    Source,
    Surface,
    Tool,
    UnitSystem,
)
from heldtrue.planning.forms_asked import SECTIONS
from heldtrue.planning.reading import Reader, Tables, closest, nearest_source
from heldtrue.planning.shapes import Shape, fields_of
from heldtrue.planning.slips import doubtful, implausible
from heldtrue.planning.toml_file import read_toml
from heldtrue.planning.writing import quantity_paths, write_table
from heldtrue.quantities import describe, parse_quantity

__all__ = [
    "Actuator",
    "Boring",
    "Chuck",
    "Corner",
    "Cut",
    "Grip",
    "GripReading",
    "JawCut",
    "Jaws",
    "Limits",
    "Machine",
    "MasterJaws",
    "Part",
    "Ring",
    "Run",
    "Setup",
    "Source",
    "Surface",
    "Tool",
]


class Setup(SetupData):
    """A checked setup in core units (mm, N, MPa, kg, s, rad). Read one with ``from_toml`` or ``from_dict``.

    A value that was not given is ``None``; ``source`` tells where a given one came from.
    """

    @classmethod
    def from_toml(cls, path: str | Path) -> Self:
        """Read a setup file; every problem in it comes in one ``InputError``."""
        return cls.from_dict(read_toml(path), base_dir=Path(path).parent)

    @classmethod
    def from_dict(cls, raw: Mapping[str, Any], base_dir: str | Path | None = None) -> Self:
        """Read a setup in the shape of the file; ``base_dir`` is where the files it names are looked up.

        Raises: ``InputError`` with every problem found.
        """
        reader = Reader()
        values, tables = reader.setup(raw, base_dir)
        problems = [*reader.problems, *_problems(tables, reader.spelled)]
        if problems:
            raise InputError(*problems)
        return cls._of(values, reader.sources, frozenset(reader.spelled), reader.drawn)

    def to_dict(self, *, as_corners: bool = False, keep_files: bool = False) -> dict[str, Any]:
        """The setup in the shape of the file; ``from_dict`` gives an equal setup back.

        A part that came from a file or a shape is written as that, a file with the corners that were read from it, so
        that nobody needs the file to read the setup again; ``as_corners``: as corners alone, with ``keep_files`` those
        of a file still beside its name and hash.
        """
        written = write_table(self, self.units, self._sources, self._spelled)
        assert isinstance(written, dict)
        drawn = {key: one for key, one in self._drawn.items() if not as_corners or (keep_files and one.file)}
        if drawn:
            from heldtrue.planning.part_forms import short_forms

            for key, form in short_forms(written["part"], drawn, self.part, self.grip, self._written_source):
                written["part"][key] = form
        return written

    @property
    def drawn(self) -> Mapping[str, SectionSource]:
        """Where ``profile`` and ``blank`` come from, for those that were not given as corners."""
        return self._drawn

    def _written_source(self, source: SectionSource, key: str) -> Any:
        return write_table(source, self.units, self._sources, self._spelled, f"part.{key}_from")

    def chuck_table(self) -> dict[str, Any]:
        """The chuck in the shape of its file with every unit written out: any other setup can take it in."""
        spelled = frozenset(quantity_paths(self.chuck, "chuck"))
        written = write_table(self.chuck, "metric", self._sources, spelled, "chuck")
        assert isinstance(written, dict)
        return written

    def with_(self, changes: Mapping[str, Any] | None = None, /, **more: Any) -> Self:
        """A checked copy with some fields changed.

        A path has dots, or double underscores in a keyword: ``with_({"run.pressure": 2.5})``,
        ``with_(jaws__style="wide")``, ``with_({"cuts.0.feed": "0.010 in"})``. The fields of ``run`` may
        stand alone: ``with_(pressure=2.5)``. A table or a list of them may have the shape of the file:
        ``with_({"part.profile": [[140, 0], [166, 0], ...]})``. Numbers are in core units, a text may carry its
        unit, and ``None`` takes a value away. A changed value counts as stated.

        Raises: ``InputError`` for an unknown path, or when the result does not hold together.
        """
        values = self.model_dump(exclude_unset=True)
        sources, names, drawn = dict(self._sources), [], dict(self._drawn)
        for path, value in {**(changes or {}), **more}.items():
            steps, shape = _resolve(type(self), path.replace("__", "."))
            for key in SECTIONS:
                if _within(f"part.{key}", [".".join(steps)]) or steps[:2] == ["part", key]:
                    drawn.pop(key, None)
            _put(values, steps, _core_value(value, shape, self.units, path), path)
            name = ".".join(steps)
            names.append(name)
            for known in [known for known in sources if _within(known, [name])]:
                del sources[known]
            if nearest_source(sources, name) != "stated":
                sources[name] = "stated"
        changed = self._of(values, sources, frozenset(), drawn)
        spelled = {path for path in self._spelled if not _within(path, names)}
        spelled |= {path for path in quantity_paths(changed) if _within(path, names)}
        changed._spelled = frozenset(spelled)
        return self.from_dict(changed.to_dict()).told(self.contrary)

    @property
    def contrary(self) -> tuple[Contrary, ...]:
        """What the shop's records say against this job; no key of the file."""
        return self._contrary

    def told(self, contrary: Iterable[Contrary]) -> Self:
        """The same with what the records say against it: while there is any, it is never proven and never started."""
        copy = self.model_copy()
        copy._contrary = tuple(contrary)
        return copy

    @property
    def stated_pressure(self) -> float | None:
        """Gauge pressure of the run, where the setup states one. [MPa]"""
        return self.run.pressure if self.run is not None else None

    def assuming(self, table: str) -> Self:
        """A copy in which every quantity under ``table`` counts as assumed, for want of the right figures."""
        theirs: dict[str, Source] = {path: "assumed" for path in quantity_paths(self) if _within(path, [table])}
        assumed = self._of(self.model_dump(exclude_unset=True), {**self._sources, **theirs}, self._spelled, self._drawn)
        return self.from_dict(assumed.to_dict()).told(self.contrary)

    def source(self, path: str) -> Source:
        """Where the value at ``path`` came from: ``source("chuck.actuator.pull_area")``.

        A value that was given bare is ``stated``; one that was not given, or is a default, is ``assumed``.
        """
        steps, _ = _resolve(type(self), path)
        value: Any = self
        for step in steps:
            if isinstance(value, Entry):
                if step not in value.model_fields_set:
                    return "assumed"
                value = getattr(value, step)
            elif value is not None:
                if int(step) >= len(value):
                    raise InputError(f"{path}: there are only {len(value)}")
                value = value[int(step)]
        return "assumed" if value is None else nearest_source(self._sources, ".".join(steps))

    @staticmethod
    def json_schema() -> dict[str, Any]:
        """JSON Schema (2020-12) of the setup file."""
        from heldtrue.planning.file_schema import setup_schema

        return setup_schema()

    @classmethod
    def _of(
        cls,
        values: dict[str, Any],
        sources: dict[str, Source],
        spelled: frozenset[str],
        drawn: Mapping[str, SectionSource],
    ) -> Self:
        try:
            setup = cls.model_validate(values)
        except ValidationError as error:
            raise InputError(*(_sentence(fault) for fault in error.errors())) from error
        setup._sources = sources
        setup._spelled = spelled
        setup._drawn = dict(drawn)
        return setup


def _problems(tables: Tables, spelled: set[str]) -> list[str]:
    return [*implausible(tables), *doubtful(tables, spelled), *disagreements(tables)]


def _within(path: str, names: list[str]) -> bool:
    return any(path == name or path.startswith(f"{name}.") for name in names)


def _resolve(table: type[Entry], path: str) -> tuple[list[str], Shape]:
    """The attribute names along a dotted path, and what stands at its end; file keys are read too."""
    steps: list[str] = []
    here = Shape("table", table=table)
    for word in path.split("."):
        if here.item is not None:
            if not word.isdecimal() or (here.name == "pair" and word not in ("0", "1")):
                raise InputError(f"{path}: expected the number of an entry, from 0; found '{word}'")
            steps.append(str(int(word)))
            here = here.item
            continue
        found = fields_of(here.table) if here.table else ()
        match = next((f for f in found if f.name == word), next((f for f in found if f.key == word), None))
        if match is None and not steps:
            match = next((f for f in fields_of(Run) if word in (f.name, f.key)), None)
            steps += ["run"] if match else []
        if match is None:
            raise InputError(f"{path}: '{word}' is not known there{closest(word, [f.name for f in found])}")
        steps.append(match.name)
        here = match.shape
    return steps, here


def _core_value(value: Any, shape: Shape, units: UnitSystem, path: str) -> Any:
    """A changed value in core units: numbers are in them already, a text is read."""
    if shape.name == "quantity" and isinstance(value, str):
        try:
            return parse_quantity(value, shape.kind, units)
        except InputError as error:
            raise InputError(f"{path}: {error}") from error
    if shape.item is not None and isinstance(value, list | tuple):
        return [_core_value(one, shape.item, units, path) for one in value]
    if shape.table is not None and value is not None and not isinstance(value, Entry):
        return _core_table(value, shape.table, units, path)
    return value.model_dump(exclude_unset=True) if isinstance(value, Entry) else value


def _core_table(value: Any, table: type[Entry], units: UnitSystem, path: str) -> Any:
    """A table in the shape of the file, shorthand and keys of the file too, by its attribute names."""
    raw = table.from_file_shape(value)
    if not isinstance(raw, Mapping):
        return raw
    found = {}
    for key, one in raw.items():
        match = next((f for f in fields_of(table) if key in (f.name, f.key)), None)
        if match is None:
            raise InputError(f"{path}: '{key}' is not known there{closest(key, [f.name for f in fields_of(table)])}")
        found[match.name] = _core_value(one, match.shape, units, f"{path}.{key}")
    return found


def _put(values: Any, steps: list[str], value: Any, path: str) -> None:
    """Set, or with ``None`` remove, one value in nested dictionaries and lists."""
    *outer, last = steps
    for step in outer:
        if isinstance(values, list):
            values = _entry(values, step, path)
        else:
            inner = values.get(step)
            values[step] = list(inner) if isinstance(inner, tuple) else {} if inner is None else inner
            values = values[step]
    if isinstance(values, list):
        _entry(values, last, path)
        values[int(last)] = value
    elif value is None:
        values.pop(last, None)
    else:
        values[last] = value


def _entry(values: list[Any], step: str, path: str) -> Any:
    if int(step) >= len(values):
        raise InputError(f"{path}: there are only {len(values)}")
    return values[int(step)]


def _sentence(fault: Mapping[str, Any]) -> str:
    place = ": ".join(str(step) for step in fault["loc"])
    return f"{place}: {str(fault['msg'])[0].lower()}{str(fault['msg'])[1:]}; found {describe(fault['input'])}"
