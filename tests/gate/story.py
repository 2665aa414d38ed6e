"""A story told twice: to the plain model, and to the program through its records, its clock and its setup."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from heldtrue.planning.inputs import prepare
from heldtrue.planning.setup import Setup
from heldtrue.records import (
    ChuckRecord,
    ConflictError,
    GaugeReading,
    Greasing,
    MachineRecord,
    Revision,
    RunRecord,
    SetCut,
    SetMove,
    open_store,
)
from heldtrue.shop.against_records import against
from heldtrue.shop.enter import enter_setup
from heldtrue.shop.from_records import with_records

from .shop_floor import CHUCK, REVISION, WANTED_BORE, WANTED_SIDE, Floor

WHO, OTHER = "Noor", "Ilse"
START = datetime(2010, 3, 1, 7, 0, tzinfo=UTC)
OVER = 1.06
"""Least grip counted on over what there is: the error of a grip gauge, which nobody in the shop can see."""
LIKELY_OVER = 1.15
"""The same of the likely grip, which the published rule takes with a factor of 2 and more on it."""
SLIPS = {CHUCK: ("ch-02", "CH\u201102", "CH-2", ""), "J-031": ("j-031", "J 31", "")}


class Story:
    """One shop with one job, from its first day on."""

    def __init__(self, setup: Setup, folder: Path, seed: int) -> None:
        self.dice, self.setup, self.floor = Random(seed), setup, Floor(START)
        self.store = open_store(folder)
        enter_setup(self.store, setup, WHO, id="job")
        enter_setup(self.store, setup, WHO, id="other job")
        self.store.write(ChuckRecord(id="CH-99"), MachineRecord(id="lathe 9"), by=WHO)
        self.told: list[str] = []
        area = setup.chuck.actuator.pull_area
        assert area is not None
        self.slope = setup.chuck.max_grip_force / setup.chuck.max_draw_force * area

    def close(self) -> None:
        """Shut the records."""
        self.store.close()

    # What may happen

    def step(self) -> str:
        """One thing at random; its name."""
        name = self.dice.choice([one for one in dir(self) if one.startswith("do_")])
        before = deepcopy(self.floor)
        try:
            getattr(self, name)()
        except ConflictError:  # by a clock that was wrong they may be out or in already
            self.floor, name = before, f"{name}, refused"
        self.told.append(name)
        return name

    def _write(self, row: object) -> None:
        self.store.write(row, by=OTHER)  # type: ignore[arg-type]
        self.floor.happened()

    def do_wait(self) -> None:
        """Hours or weeks pass."""
        self.floor.now += timedelta(hours=self.dice.choice((1, 9, 30, 24 * 5, 24 * 20, 24 * 100)))

    def do_set_clock_back(self) -> None:
        """The computer's clock falls behind, or is put right again."""
        behind = self.floor.newest is not None and self.floor.newest > self.floor.now
        if behind and self.floor.newest is not None:
            self.floor.now = self.floor.newest + timedelta(hours=1)
        elif self.dice.random() < 0.3:
            self.floor.now -= timedelta(days=3)

    def do_grease(self) -> None:
        """The chuck is greased."""
        self._write(Greasing(at=self.floor.now, by=OTHER, chuck=CHUCK))
        self.floor.greased = self.floor.now if self.floor.greased is None else max(self.floor.greased, self.floor.now)

    def do_read_the_grip(self) -> None:
        """Somebody reads a grip gauge, one time in four wrongly and too high."""
        truth, pressure = self.floor.share(self.floor.now), self.dice.choice((1.0, 1.6, 2.2))
        wrong = self.dice.choice((1.1, 1.2, 1.4)) if self.dice.random() < 0.25 and not self._doubted() else 1.0
        factor = wrong * (1 + 0.02 * self.dice.uniform(-1, 1))
        force = max(truth * factor * self.slope * (pressure - 0.08), 1.0)
        self._write(GaugeReading(at=self.floor.now, by=OTHER, chuck=CHUCK, pressure=pressure, force=force))
        self.floor.readings.append((self.floor.now, wrong))

    def _doubted(self) -> bool:
        """Is there a wrong reading already that still counts? Two wrong ones are one lie told twice."""
        return any(wrong > 1 and self.floor.now - at < timedelta(days=95) for at, wrong in self.floor.readings)

    def do_wear_the_chuck(self) -> None:
        """The chuck is worn for good, or mended; it is read twice then, as it should be."""
        self.floor.give = self.dice.choice((1.0, 1.0, 0.8, 0.6))
        self.floor.now += timedelta(days=120)
        for pressure in (1.4, 2.0, 2.4):
            force = self.floor.share(self.floor.now) * self.slope * (pressure - 0.08)
            self._write(GaugeReading(at=self.floor.now, by=OTHER, chuck=CHUCK, pressure=pressure, force=force))
            self.floor.readings.append((self.floor.now, 1.0))

    def do_cut(self) -> None:
        """The jaws are cut, for this job or another."""
        fits = self.dice.random() < 0.6
        self.floor.cut_diameter = WANTED_BORE if fits else self.dice.choice((59.8, 60.2, 90.0, 150.0))
        self.floor.cut_side = WANTED_SIDE if self.dice.random() < 0.85 else "inside"
        self.floor.cut_chuck = CHUCK if self.dice.random() < 0.8 else "CH-99"
        self.floor.condition = "good"
        self._write(SetCut(at=self.floor.now, by=OTHER, jaw_set="J-031", side=self.floor.cut_side,  # type: ignore[arg-type]
                           diameter=self.floor.cut_diameter, chuck=self.floor.cut_chuck, tooth=14))  # fmt: skip

    def do_look_at_the_jaws(self) -> None:
        """Somebody says how they are."""
        self.floor.condition = self.dice.choice(("good", "good", "skim first", "scrap"))
        self.floor.missing = self.dice.random() < 0.2
        self._write(SetMove(at=self.floor.now, by=OTHER, jaw_set="J-031", kind="condition",
                            condition=self.floor.condition,  # type: ignore[arg-type]
                            missing=(2,) if self.floor.missing else ()))  # fmt: skip

    def do_take_or_bring_the_jaws(self) -> None:
        """They go out, or come back complete."""
        if self.floor.holder:
            self.floor.holder, self.floor.missing = "", False
            self._write(SetMove(at=self.floor.now, by=OTHER, jaw_set="J-031", kind="in"))
            return
        self.floor.holder = self.dice.choice((WHO, OTHER))
        self._write(SetMove(at=self.floor.now, by=OTHER, jaw_set="J-031", kind="out", holder=self.floor.holder))

    def do_touch_the_chuck_card(self) -> None:
        """The chuck is retired or taken back; its card gets another plate or its own again."""
        card = self.store.get(ChuckRecord, CHUCK)
        self.floor.retired = self.dice.random() < 0.25
        self.floor.plate_differs = self.dice.random() < 0.25
        plate = dict(self.setup.chuck_table())
        if self.floor.plate_differs:
            plate["max_draw_force"] = {"value": "41000 N", "from": "plate"}
        self.store.write(replace(card, retired=self.floor.retired, data=plate), by=OTHER)

    def do_revise_the_part(self) -> None:
        """A new drawing comes in, or the old one back."""
        self.floor.revision = self.dice.choice((REVISION, "D"))
        self._write(Revision(at=self.floor.now, by=OTHER, part="WS-045", revision=self.floor.revision))
        # Drawings are no part of what the clock is compared with.

    def do_type_the_numbers(self) -> None:
        """The setup is typed again, with slips."""
        right = self.dice.random() < 0.6
        self.floor.chuck_as_typed = CHUCK if right else self.dice.choice(SLIPS[CHUCK])
        self.floor.jaws_as_typed = "J-031" if self.dice.random() < 0.7 else self.dice.choice(SLIPS["J-031"])

    def do_run(self) -> None:
        """Parts are made."""
        self._write(RunRecord(at=self.floor.now, by=OTHER, setup="job", chuck=CHUCK,
                              quantity=self.dice.choice((10, 400, 6000))))  # fmt: skip

    # What must be so

    def typed(self) -> Setup:
        """The setup as it is typed today."""
        return self.setup.with_({"chuck.number": self.floor.chuck_as_typed, "jaws.number": self.floor.jaws_as_typed})

    def disagreement(self) -> str:
        """Where program and model differ; empty where they do not."""
        setup, floor = self.typed(), self.floor
        said = {one.what for one in against(setup, self.store, floor.now, WHO)}
        must = floor.stands_against(WHO)
        if not must <= said or (said - must and not floor.out_of_order):
            return f"against the job: the program says {sorted(said)}, the model {sorted(must)}"
        planned, _ = with_records(setup, self.store, floor.now, WHO)
        if bool(planned.contrary) != bool(said):
            return "what stands against the job does not reach the plan"
        if said:  # it does not start: what it counts on plays no part
            return ""
        job = prepare(planned)
        truth = floor.share(floor.now) * self.slope
        for values, over in ((job.known.worst(), OVER), (_published(job), LIKELY_OVER)):
            for pressure in (0.9, 1.6, 2.6):
                least = job.static_grip(job.at_pressure(values, pressure, least=True), pressure)
                if least > over * truth * (pressure - 0.08):
                    share = least / self.slope / (pressure - 0.08)
                    return f"at {pressure} MPa it counts on {share:.2f} of the plate, there is {truth / self.slope:.2f}"
        return ""


def _published(job: object) -> dict[str, float]:
    from heldtrue.planning.holds import Holds

    return Holds(job).published  # type: ignore[arg-type]
