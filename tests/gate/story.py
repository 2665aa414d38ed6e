"""A story told twice: to the plain model, and to the program through its records, its clock and its setup."""

from __future__ import annotations

from collections import Counter
from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import decide_start
from heldtrue.planning.study import Study
from heldtrue.records import (
    ChuckRecord,
    ConflictError,
    GaugeReading,
    Greasing,
    JawSet,
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
from heldtrue.shop.gate import start
from heldtrue.shop.put_right import taken_back, with_diameter

from .shop_floor import CHUCK, JAWS, MACHINE, REVISION, WANTED_BORE, WANTED_SIDE, Deed, Floor

WHO, OTHER = "Noor", "Ilse"
START = datetime(2010, 3, 1, 7, 0, tzinfo=UTC)
OVER = 1.06
"""Least grip counted on over what there is: the error of a grip gauge, which nobody in the shop can see."""
LIKELY_OVER = 1.15
"""The same of the likely grip, which the published rule takes with a factor of 2 and more on it."""
SOLVED = 0.98
"""Share of the grip that a load needs by the reference, whose contact is solved at another force."""
MENDED = 0.55
"""Chance of a step that mends something, where anything stands against the job."""
LOOK = 0.05
"""Chance that what stands against the job is followed into the plan."""
PRESSURES = (1.2, 1.6, 1.9, 2.2, 2.5, 2.7, 2.9)
SLIPS = {CHUCK: ("ch-02", "CH\u201102", "CH-2", ""), JAWS: ("j-031", "J 31", "")}


def campaign_setup(setup: Setup) -> Setup:
    """The winch shaft with lighter roughing: a good chuck holds it with poor grease, a worn one does not."""
    return setup.with_({"chuck.grease": None, "cut.0.depth": 1.5, "cut.1.depth": 1.5})


def needs_of(setup: Setup) -> tuple[float, float]:
    """Grip at rest that the rules of holding ask for in a chuck as it is best, published and worst case. [N]"""
    study = Study.of(setup.with_({"chuck.serviced": True, "chuck.grease": "good"}))
    return max(held.published.needs for held in study.held), max(held.worst.needs for held in study.held)


class Story:
    """One shop with one job, from its first day on.

    ``needs``: of ``needs_of``; ``ask``: chance of a step that somebody wants to start, and as much again that the gate
    is asked after it where nothing stands against the job: either is fifty times the work of any other step; ``seen``:
    how often the gate was asked, and how often it let the spindle start.
    """

    def __init__(self, setup: Setup, needs: tuple[float, float], folder: Path, seed: int, ask: float = 0.02) -> None:
        self.dice, self.setup, self.needs, self.floor = Random(seed), setup, needs, Floor(START)
        self.store = open_store(folder)
        enter_setup(self.store, setup, WHO, id="job")
        enter_setup(self.store, setup, WHO, id="other job")
        self.store.write(ChuckRecord(id="CH-99"), MachineRecord(id="lathe 9"), by=WHO)
        self.ask, self.told = ask, list[str]()
        self.seen = Counter[str]()
        self.rows: list[SetCut | SetMove] = []
        """What was written of each of the floor's deeds."""
        self.read: list[GaugeReading] = []
        self.since_worn = 0
        """How many of them were read before the chuck became what it is."""
        self.overridden = False
        area = setup.chuck.actuator.pull_area
        assert area is not None
        self.slope = setup.chuck.max_grip_force / setup.chuck.max_draw_force * area
        self.as_typed: dict[tuple[str, str], Setup] = {}
        self.may_happen = [name for name in dir(self) if name.startswith("do_")]

    def close(self) -> None:
        """Shut the records."""
        self.store.close()

    # What may happen

    def step(self) -> str:
        """One thing at random; its name."""
        put_right = self.dice.random() < MENDED and self.floor.stands_against(WHO)
        name = "put_right" if put_right else self.dice.choice(self.may_happen)
        if self.dice.random() < self.ask:
            name = "start"
        before = deepcopy(self.floor)
        self.floor.now += timedelta(minutes=1)
        try:
            getattr(self, name)()
        except ConflictError:  # by a clock that was wrong they may be out or in already
            self.floor, name = before, f"{name}, refused"
        self.told.append(name)
        return name

    def _write(self, row: object) -> object:
        (written,) = self.store.write(row, by=OTHER)  # type: ignore[arg-type]
        self.floor.happened()
        return written

    def _put_right(self, row: object) -> object:
        """A row in place of another, at its moment."""
        (written,) = self.store.write(row, by=OTHER)  # type: ignore[arg-type]
        return written

    def _deed(self, deed: Deed, row: SetCut | SetMove) -> None:
        self.rows.append(self._write(row))  # type: ignore[arg-type]
        self.floor.deeds.append(deed)

    def do_wait(self) -> None:
        """Hours or weeks pass."""
        self.floor.now += timedelta(hours=self.dice.choice((1, 9, 30, 24 * 5, 24 * 20, 24 * 100)))

    def do_set_clock_back(self) -> None:
        """The computer's clock falls behind, or is put right again."""
        if self._clock_is_behind():
            self._set_clock_right()
        elif self.dice.random() < 0.3:
            self.floor.now -= timedelta(days=3)

    def _clock_is_behind(self) -> bool:
        return self.floor.newest is not None and self.floor.newest > self.floor.now

    def _set_clock_right(self) -> None:
        assert self.floor.newest is not None
        self.floor.now = self.floor.newest + timedelta(hours=1)

    def do_grease(self) -> None:
        """The chuck is greased."""
        self._write(Greasing(at=self.floor.now, by=OTHER, chuck=CHUCK))
        self.floor.greased = self.floor.now if self.floor.greased is None else max(self.floor.greased, self.floor.now)

    def do_read_the_grip(self) -> None:
        """Somebody reads a grip gauge, one time in four wrongly and too high."""
        truth, pressure = self.floor.share(self.floor.now), self.dice.choice((1.0, 1.6, 2.2))
        wrong = self.dice.choice((1.1, 1.2, 1.4)) if self.dice.random() < 0.25 and not self._doubted() else 1.0
        factor = wrong * (1 + 0.02 * self.dice.uniform(-1, 1))
        self._reading(pressure, max(truth * factor * self.slope * (pressure - 0.08), 1.0), wrong)

    def _reading(self, pressure: float, force: float, wrong: float) -> None:
        row = self._write(GaugeReading(at=self.floor.now, by=OTHER, chuck=CHUCK, pressure=pressure, force=force))
        assert isinstance(row, GaugeReading)
        self.read.append(row)
        self.floor.readings.append((self.floor.now, wrong))

    def _doubted(self) -> bool:
        """Is there a wrong reading already that still counts? Two wrong ones are one lie told twice."""
        return any(wrong > 1 and self.floor.now - at < timedelta(days=95) for at, wrong in self.floor.readings)

    def do_take_back_a_reading(self) -> None:
        """The last reading is taken back, right or wrong; two that say that the chuck is worn stay.

        Nobody else knows it: who takes back right readings of a worn chuck as wrong leaves the program its plate.
        """
        if len(self.read) > (self.since_worn + 2 if self.floor.give < 1 else 0):
            self._put_right(taken_back(self.read.pop(), by=OTHER, why="wrong scale"))
            self.floor.readings.pop()

    def do_wear_the_chuck(self) -> None:
        """The chuck is worn for good, or mended; it is read twice then, as it should be."""
        self.floor.give = self.dice.choice((1.0, 1.0, 0.8, 0.6))
        self.floor.now += timedelta(days=120)
        self.since_worn = len(self.read)
        for pressure in (1.4, 2.0, 2.4):
            self._reading(pressure, self.floor.share(self.floor.now) * self.slope * (pressure - 0.08), 1.0)

    def do_cut(self, *, fitting: bool = False) -> None:
        """The jaws are cut, for this job or another."""
        dice = self.dice
        fits = fitting or dice.random() < 0.6
        deed = Deed(
            "cut", self.floor.now, WANTED_BORE if fits else dice.choice((59.8, 60.2, 90.0, 150.0)),
            WANTED_SIDE if fitting or dice.random() < 0.85 else "inside",
            CHUCK if fitting or dice.random() < 0.8 else "CH-99",
        )  # fmt: skip
        self._deed(deed, SetCut(at=self.floor.now, by=OTHER, jaw_set=JAWS, side=deed.side,  # type: ignore[arg-type]
                                diameter=deed.diameter, chuck=deed.chuck, tooth=14, bore_steps=()))  # fmt: skip

    def do_correct_a_cut(self) -> None:
        """A cut is taken back, or gets the diameter it should have been written with."""
        cuts = [n for n, deed in enumerate(self.floor.deeds) if deed.kind == "cut" and not deed.taken_back]
        if not cuts:
            return
        n = self.dice.choice(cuts)
        row, deed = self.rows[n], self.floor.deeds[n]
        assert isinstance(row, SetCut)
        if self.dice.random() < 0.4:
            self.rows[n] = self._put_right(taken_back(row, by=OTHER, why="not cut"))  # type: ignore[assignment]
            deed.taken_back = True
        else:
            deed.diameter = self.dice.choice((WANTED_BORE, WANTED_BORE, 60.4))
            self.rows[n] = self._put_right(with_diameter(row, deed.diameter, by=OTHER, why="typed wrong"))  # type: ignore[assignment]

    def do_look_at_the_jaws(self, *, good: bool = False) -> None:
        """Somebody says how they are."""
        condition = "good" if good else self.dice.choice(("good", "good", "skim first", "scrap"))
        missing = not good and self.dice.random() < 0.2
        self._deed(Deed("look", self.floor.now, condition=condition, missing=missing),
                   SetMove(at=self.floor.now, by=OTHER, jaw_set=JAWS, kind="condition",
                           condition=condition, missing=(2,) if missing else ()))  # type: ignore[arg-type]  # fmt: skip

    def do_take_or_bring_the_jaws(self) -> None:
        """They go out, or come back complete."""
        if self.floor.jaws()[0].holder:
            self._deed(Deed("in", self.floor.now), SetMove(at=self.floor.now, by=OTHER, jaw_set=JAWS, kind="in"))
            return
        holder = self.dice.choice((WHO, OTHER))
        self._deed(Deed("out", self.floor.now, holder=holder),
                   SetMove(at=self.floor.now, by=OTHER, jaw_set=JAWS, kind="out", holder=holder))  # fmt: skip

    def do_touch_the_jaw_card(self, *, good: bool = False) -> None:
        """The jaws are retired, or taken back into use."""
        self.floor.jaws_retired = not good and self.dice.random() < 0.4
        self.store.write(replace(self.store.get(JawSet, JAWS), retired=self.floor.jaws_retired), by=OTHER)

    def do_touch_the_chuck_card(self, *, good: bool = False) -> None:
        """The chuck is retired or taken back, moved; its card gets another plate or its own again."""
        card, bad = self.store.get(ChuckRecord, CHUCK), 0.0 if good else 0.25
        self.floor.retired = self.dice.random() < bad
        self.floor.plate_differs = self.dice.random() < bad
        self.floor.stands_on = "lathe 9" if self.dice.random() < bad else MACHINE
        plate = dict(self.setup.chuck_table())
        if self.floor.plate_differs:
            plate["max_draw_force"] = {"value": "41000 N", "from": "plate"}
        card = replace(card, retired=self.floor.retired, machine=self.floor.stands_on, data=plate)
        self.store.write(card, by=OTHER)

    def do_revise_the_part(self, *, back: bool = False) -> None:
        """A new drawing comes in, or the old one back."""
        revision = REVISION if back else self.dice.choice((REVISION, "D"))
        self._write(Revision(at=self.floor.now, by=OTHER, part="WS-045", revision=revision))
        self.floor.revisions.append((self.floor.now, revision))

    def do_type_the_numbers(self) -> None:
        """The setup is typed again, with slips."""
        right = self.dice.random() < 0.6
        self.floor.chuck_as_typed = CHUCK if right else self.dice.choice(SLIPS[CHUCK])
        self.floor.jaws_as_typed = JAWS if self.dice.random() < 0.7 else self.dice.choice(SLIPS[JAWS])

    def do_run(self) -> None:
        """Parts are made."""
        self._write(RunRecord(at=self.floor.now, by=OTHER, setup="job", chuck=CHUCK,
                              quantity=self.dice.choice((10, 400, 6000))))  # fmt: skip

    def put_right(self) -> None:
        """One of the things that stand against the job is mended, as somebody does who was told."""
        floor, jaws = self.floor, self.floor.jaws()
        if self._clock_is_behind():
            return self._set_clock_right()
        mends = []
        if floor.chuck_as_typed != CHUCK or floor.jaws_as_typed != JAWS:
            floor.chuck_as_typed, floor.jaws_as_typed = CHUCK, JAWS
            return None
        if floor.retired or floor.plate_differs or floor.stands_on != MACHINE:
            mends.append(lambda: self.do_touch_the_chuck_card(good=True))
        if floor.jaws_retired:
            mends.append(lambda: self.do_touch_the_jaw_card(good=True))
        if floor.drawings() != {REVISION}:
            mends.append(lambda: self.do_revise_the_part(back=True))
        if any(one.cut and (one.cut.diameter, one.cut.side, one.cut.chuck) != (WANTED_BORE, WANTED_SIDE, CHUCK)
               for one in jaws):  # fmt: skip
            mends.append(lambda: self.do_cut(fitting=True))
        if any(one.missing or one.condition not in ("", "good") for one in jaws):
            mends.append(lambda: self.do_look_at_the_jaws(good=True))
        if any(one.holder not in ("", WHO) for one in jaws):
            mends.append(self.do_take_or_bring_the_jaws)
        return self.dice.choice(mends)() if mends else None

    def start(self) -> None:
        """Somebody wants to start, now and then against the answer: through the door that writes it down."""
        override = "the drawbar was read by hand" if self.dice.random() < 0.3 else ""
        gauge, setup = self.dice.choice(PRESSURES), self.typed()
        made = start(self.store, setup, "job", gauge, typed=f"{gauge} MPa", by=WHO, now=self.floor.now,
                     override=override)  # fmt: skip
        self.floor.happened()
        may, wrong = made.decision.may, self._wrongly(made.decision.may, gauge)
        if made.row.verdict != ("may start" if may else "must not start") or made.goes != (may or bool(override)):
            wrong = "the row, the answer and the spindle do not agree"
        if self.overridden != any("made against the answer" in one for one in made.decision.warnings):
            wrong = "the override of the last start is not on this one"
        self.overridden = bool(override) and not may
        assert not wrong, wrong

    # What must be so

    def typed(self) -> Setup:
        """The setup as it is typed today."""
        chuck, jaws = self.floor.chuck_as_typed, self.floor.jaws_as_typed
        if (chuck, jaws) not in self.as_typed:
            self.as_typed[chuck, jaws] = self.setup.with_({"chuck.number": chuck, "jaws.number": jaws})
        return self.as_typed[chuck, jaws]

    def _wrongly(self, may: bool, gauge: float) -> str:
        """Why a start at a gauge [MPa] must not be allowed; empty where it may, or was refused."""
        self.seen["asked"] += 1
        self.seen["may start"] += may
        if not may:
            return ""
        if must := self.floor.stands_against(WHO):
            return f"MAY START against {sorted(must)}"
        there = self.floor.share(self.floor.now) * self.slope * (gauge - 0.08)
        for needed, over in zip(self.needs, (LIKELY_OVER, OVER), strict=True):
            if over * there < SOLVED * needed:
                return f"MAY START at {gauge} MPa with {there:.0f} N, it needs {needed:.0f} N"
        return ""

    def disagreement(self) -> str:
        """Where program and model differ; empty where they do not."""
        setup, floor = self.typed(), self.floor
        must = floor.stands_against(WHO)
        if not must or self.dice.random() < LOOK:
            planned, _ = with_records(setup, self.store, floor.now, WHO)
            if bool(planned.contrary) != bool(must):
                return f"the plan has against it {planned.contrary}, the model {sorted(must)}"
        if must:  # it does not start: what it counts on plays no part
            said = {one.what for one in against(setup, self.store, floor.now, WHO)}
            return "" if said == must else f"the program says {sorted(said)}, the model {sorted(must)}"
        job = prepare(planned)
        truth = floor.share(floor.now) * self.slope
        for values, over in ((job.known.worst(), OVER), (_published(job), LIKELY_OVER)):
            for pressure in (0.9, 1.6, 2.6):
                least = job.static_grip(job.at_pressure(values, pressure, least=True), pressure)
                if least > over * truth * (pressure - 0.08):
                    share = least / self.slope / (pressure - 0.08)
                    return f"at {pressure} MPa it counts on {share:.2f} of the plate, there is {truth / self.slope:.2f}"
        if self.dice.random() < self.ask:
            gauge = self.dice.choice(PRESSURES)
            return self._wrongly(decide_start(planned, gauge).may, gauge)
        return ""


def _published(job: Job) -> dict[str, float]:
    from heldtrue.planning.holds import Holds

    return Holds(job).published
