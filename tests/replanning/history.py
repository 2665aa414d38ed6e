"""A shop's history at random, re-planned after every entry; beside it a second, plain path.

The plain path keeps nothing: after every entry it plans each setup in full with all that the records say, and knows
of each what the shop goes by, as docs/plant.md says it.  No digest, no kept limits, no row of an earlier plan plays a
part.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import MappingProxyType
from typing import Any

from heldtrue.errors import HeldtrueError
from heldtrue.planning import holds, kept_limits
from heldtrue.planning.plan import judged
from heldtrue.planning.plan import plan as planned
from heldtrue.planning.result import PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import every_step
from heldtrue.records import (
    ChuckRecord,
    GaugeReading,
    Greasing,
    JawSet,
    Revision,
    RunRecord,
    SetCut,
    SetMove,
    SetupRecord,
    open_setup,
    open_store,
)
from heldtrue.records.replans import FAILED
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records
from heldtrue.shop.put_right import taken_back
from heldtrue.shop.replanning import run, state
from heldtrue.shop.replanning.run import Report, replan, see
from heldtrue.shop.replanning.standing import stopping

WHO = "Noor"
START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
SLACK = 1e-6
"""Share by which a pressure may lie outside a window through rounding."""
STRICTER = {1: 1.0, 2: 1.0, 3: 1.15}
"""By how much the versions of the program take a larger safety factor."""
LOG = ("read", "read", "read", "read", "grease", "grease", "wait", "take back", "take back", "look")
ELSE = ("cut", "condition", "plate", "revise", "change", "version", "run", "retire the jaws")


@dataclass
class Fresh:
    """One full plan: verdict, or ``failed``; what to set, and between what, by step. [MPa]"""

    verdict: str
    pressures: Mapping[str, float] = field(default_factory=dict)
    windows: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def stands(self, pressures: Mapping[str, float]) -> bool:
        """Does it pass with these pressures?"""
        return self.verdict == PASSES and all(
            name in self.windows and self.windows[name][0] * (1 - SLACK) <= one <= self.windows[name][1] * (1 + SLACK)
            for name, one in pressures.items()
        )


@dataclass
class GoneBy:
    """What the shop goes by."""

    verdict: str
    pressures: Mapping[str, float]


class History:
    """One shop; ``setups`` by id, of which those in ``kept`` are entered with their plan."""

    def __init__(self, setups: Mapping[str, Setup], place: Path, seed: int, kept: tuple[str, ...] = ()) -> None:
        self.dice, self.now, self.version = Random(seed), START, 1
        self.store, self.seen, self.told = open_store(place), Counter[str](), list[str]()
        self.entered, self.plain = dict(setups), dict(setups)
        self.base: dict[str, GoneBy | None] = {}
        self._last: dict[str, tuple[Any, Fresh]] = {}
        self._real = (state.program, holds.SAFETY, kept_limits.SAFETY)
        state.program = lambda: f"version {self.version}"  # type: ignore[assignment]
        self.kept: dict[str, GoneBy] = {}
        for id, setup in setups.items():
            made = planned(setup) if id in kept else None
            enter_setup(self.store, setup, WHO, id=id, plan=made)
            if made is not None:
                self.kept[id] = GoneBy(made.verdict, {s.name: s.recommended for s in made.pressure.steps
                                                      if s.recommended is not None})  # fmt: skip
            self.base[id] = self.kept.get(id)

    def close(self) -> None:
        """Leave the program as it was."""
        state.program, holds.SAFETY, kept_limits.SAFETY = self._real  # type: ignore[assignment]
        self.store.close()

    def step(self) -> str:
        """Something is entered, and all is re-planned; what differs from the plain path, empty where nothing."""
        deed = self.dice.choice(LOG if self.dice.random() < 0.75 else ELSE)
        self.now += timedelta(minutes=10)
        self.told.append(deed)
        getattr(self, "do_" + deed.replace(" ", "_"))()
        self.now += timedelta(minutes=5)
        report = replan(self.store, at=self.now)
        self.seen.update(steps=1, shortened=report.shortened, planned=report.planned, known=report.known)
        wrong = [f"{id}: {words}" for id in self.entered for words in self._differs(id, report)]
        self.seen["differ"] += len(wrong)
        if left := run.standing(self.store, self.now).left:
            wrong.append(f"{left} are not looked at")
        return "; ".join(wrong)

    # What is entered

    def do_read(self) -> None:
        """One to three grip readings of a chuck, which agree more or less."""
        chuck, setup = self._chuck()
        actuator = setup.chuck.actuator
        area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
        share = self.dice.choice((0.55, 0.7, 0.8, 0.85, 0.9, 0.95, 1.0)) * self.dice.uniform(0.97, 1.03)
        slope = share * setup.chuck.max_grip_force / setup.chuck.max_draw_force * area
        for number in range(self.dice.choice((1, 2, 2, 3))):
            pressure = self.dice.uniform(1.0, 2.3)
            force = slope * (pressure - 0.06) * self.dice.gauss(1, 0.015)
            self._write(GaugeReading(at=self.now + timedelta(seconds=number), by=WHO, chuck=chuck,
                                     pressure=pressure, force=force))  # fmt: skip

    def do_grease(self) -> None:
        """A chuck is greased."""
        self._write(Greasing(at=self.now, by=WHO, chuck=self._chuck()[0]))

    def do_wait(self) -> None:
        """Days or months pass: grease becomes overdue, readings grow old."""
        self.now += timedelta(days=self.dice.choice((0.5, 3, 8, 40, 100)))

    def do_take_back(self) -> None:
        """The last reading of a chuck, or its last greasing, is taken back."""
        chuck, _ = self._chuck()
        kind = self.dice.choice((GaugeReading, GaugeReading, Greasing))
        if rows := self.store.events(kind, chuck=chuck):
            self._write(taken_back(rows[-1], by=WHO, why="wrong chuck"))

    def do_run(self) -> None:
        """Parts are made: readings before them count as old after many."""
        chuck, _ = self._chuck()
        self._write(RunRecord(at=self.now, by=WHO, setup=self.dice.choice(sorted(self.entered)), chuck=chuck,
                              quantity=self.dice.choice((10, 6000))))  # fmt: skip

    def do_cut(self) -> None:
        """Jaws are cut, for the job or for another; or the last cut is taken back."""
        setup = self.entered[self._id()]
        rows = self.store.events(SetCut, jaw_set=setup.jaws.number)
        if rows and self.dice.random() < 0.4:
            self._write(taken_back(rows[-1], by=WHO, why="not cut"))
            return
        diameter = setup.grip.diameter + self.dice.choice((0.0, 0.0, 2.0))
        self._write(SetCut(at=self.now, by=WHO, jaw_set=setup.jaws.number, side=setup.grip.side, diameter=diameter))

    def do_condition(self) -> None:
        """Somebody says how jaws are."""
        condition = self.dice.choice(("good", "good", "skim first", "scrap"))
        self._write(SetMove(at=self.now, by=WHO, jaw_set=self.entered[self._id()].jaws.number, kind="condition",
                            condition=condition))  # fmt: skip

    def do_plate(self) -> None:
        """The plate on the card of a chuck is typed anew, right or wrong."""
        chuck, setup = self._chuck()
        plate = dict(setup.chuck_table())
        if self.dice.random() < 0.4:
            plate["max_draw_force"] = {"value": "20 kN", "from": "plate"}
        self._write(replace(self.store.get(ChuckRecord, chuck), data=plate))

    def do_revise(self) -> None:
        """A new drawing comes in, or the old one back."""
        part = self.entered[self._id()].part
        revision = self.dice.choice((part.revision, part.revision, "Z"))
        self._write(Revision(at=self.now, by=WHO, part=part.number, revision=revision))

    def do_retire_the_jaws(self) -> None:
        """Jaws are retired, or taken back into use."""
        card = self.store.get(JawSet, self.entered[self._id()].jaws.number)
        self._write(replace(card, retired=not card.retired and self.dice.random() < 0.5))

    def do_change(self) -> None:
        """A setup is changed, or put back as it was: a new version of its card."""
        id = self._id()
        feed = self.plain[id].cuts[0].feed
        changed = self.plain[id].with_({"cuts.0.feed": feed * self.dice.choice((1.0, 0.8, 0.9))})
        if changed == self.entered[id]:
            return
        self.entered[id] = changed
        enter_setup(self.store, changed, WHO, id=id)
        self.base[id] = self.kept.get(id)  # the plan that was kept goes with the new version

    def do_version(self) -> None:
        """Another version of the program, which may ask for more or less than the one before."""
        self.version = self.dice.choice([one for one in STRICTER if one != self.version])
        _, *tables = self._real
        for module, table in zip((holds, kept_limits), tables, strict=True):
            module.SAFETY = MappingProxyType(  # type: ignore[assignment]
                {name: replace(row, value=row.value * STRICTER[self.version]) for name, row in table.items()}
            )

    def do_look(self) -> None:
        """Somebody looks at how a setup stands: the shop goes by that."""
        id = self._id()
        (row,) = self.store.replanned([id]) or (None,)
        if row is None or row.verdict == FAILED or row.version != self.store.get(SetupRecord, id).version:
            return
        seen = see(self.store, id, WHO, self.now)
        self.base[id] = GoneBy(seen.verdict, {name: one["pressure"] for name, one in seen.steps.items()
                                              if one["pressure"] is not None})  # fmt: skip

    # The plain path

    def _differs(self, id: str, report: Report) -> Iterator[str]:
        fresh = self._fresh(id)
        (row,) = self.store.replanned([id])
        turned = next((one for one in report.turned if one.setup == id), None)
        set_now = {name: one["pressure"] for name, one in row.steps.items() if one["pressure"] is not None}
        self.seen["compared"] += 1
        self.seen[f"plans that say: {fresh.verdict}"] += 1
        if row.verdict == PASSES and not fresh.stands(set_now):
            self.seen["stand as passing where the plan does not"] += 1
            yield f"it stands as passing at {set_now}, the plan is {fresh}"
        elif row.verdict != fresh.verdict:
            yield f"it stands as '{row.verdict}', the plan is {fresh}"
        failed = any(one.setup == id for one in report.failed)
        if failed != (fresh.verdict == FAILED):
            yield f"cannot be planned: {failed}, the plan is {fresh}"
        base = self.base[id]
        stops = base is not None and base.verdict == PASSES and fresh.verdict != FAILED
        stops = stops and base is not None and not fresh.stands(base.pressures)
        self.seen["stopped"] += stops
        if stops != (turned is not None and turned.stops):
            if stops:
                self.seen["start as before where they must not"] += 1
            yield f"stopped: {turned}; the shop goes by {base}, the plan is {fresh}"
        if bool(stopping(self.store, self.entered[id])) != stops:
            yield f"the gate: {stopping(self.store, self.entered[id])}, stopped by the plan: {stops}"
        if fresh.verdict != FAILED and (base is None or (base.verdict != PASSES and fresh.verdict == PASSES)):
            self.base[id] = GoneBy(fresh.verdict, fresh.pressures)

    def _fresh(self, id: str) -> Fresh:
        """A full plan of a setup as it stands, made anew unless nothing at all is another than at the last."""
        try:
            kept = open_setup(self.store.get(SetupRecord, id).document)
            told, _ = with_records(kept, self.store, self.now)
        except HeldtrueError:
            return Fresh(FAILED)
        asked = (told, told.contrary, told.source("chuck.grip_readings"), self.version)
        if id not in self._last or self._last[id][0] != asked:
            self.seen["fresh plans"] += 1
            self._last[id] = (asked, _plan(told))
        return self._last[id][1]

    def _id(self) -> str:
        return self.dice.choice(sorted(self.entered))

    def _chuck(self) -> tuple[str, Setup]:
        setup = self.entered[self._id()]
        return setup.chuck.number, setup

    def _write(self, row: Any) -> None:
        self.store.write(row, by=WHO)


def _plan(setup: Setup) -> Fresh:
    try:
        study = Study.of(setup)
        advice, setting, _, verdict = judged(study)
    except HeldtrueError:
        return Fresh(FAILED)
    windows = {step.name: (step.floor, step.ceiling) for step in every_step(study, advice)}
    return Fresh(verdict, {step.name: pressure for step, pressure in setting.steps}, windows)


def jobs() -> dict[str, Setup]:
    """Four jobs on two kinds of chuck, two of them on one; all pass as they are shipped."""
    examples = Path(__file__).parents[2] / "examples"
    shaft, flange, sleeve = (
        Setup.from_toml(examples / f"{name}.toml") for name in ("winch-shaft", "gland-flange", "pump-sleeve-inch")
    )
    wide = {f"surfaces.0.{form}": 2 * value for form in ("roundness", "cylindricity", "runout", "flatness")
            if (value := getattr(flange.surfaces[0], form)) is not None}  # fmt: skip
    return {
        "shaft": shaft,
        "flange": flange,
        "sleeve": sleeve.with_({"jaws.number": "J-902"}),
        "wide flange": flange.with_({**wide, "jaws.number": "J-901", "part.number": "GF-901"}),
    }


KEPT = ("shaft", "wide flange")
"""Jobs that are entered with their plan; the others are compared with their first re-plan."""
