"""What to do at the machine to cut the jaws, in order, with its numbers."""

from __future__ import annotations

from dataclasses import dataclass

from heldtrue.planning.hardware import say_in
from heldtrue.planning.setup import Setup
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.sentences import UNIT_SYSTEMS, capitalised, in_both, joined, sentence
from heldtrue.tooling.blank import Say
from heldtrue.tooling.bolts import Tightening
from heldtrue.tooling.bore import DEPTH_TOLERANCE_MM, FINISH_UM, BoreDesign
from heldtrue.tooling.nest import Step as NestStep
from heldtrue.tooling.placing import Placing, stroke_words
from heldtrue.tooling.recut import REFIT_RUNOUT_MM
from heldtrue.tooling.ring import RingChoice

CYCLES = "5 to 10 times"
"""Clamping and unclamping before the jaws are cut: common practice, no source."""
FINISH_WORDS = f"Ra {FINISH_UM:g} µm ({FINISH_UM / 0.0254:.0f} µin)"
"""Finish of bore and seat as it is said."""


@dataclass(frozen=True)
class Step:
    """One step: its number, what it is about in a word or two, what to do."""

    number: int
    name: str
    words: str


@dataclass(frozen=True)
class Facts:
    """What the steps speak of. ``pressure`` [MPa], ``spindle_limit`` [rev/min], ``runout`` to reach [mm].

    ``left``: what is left to finish after the stop to measure, per side [mm]; ``bar_gives``: how far off the bore may
    come by the bar, on diameter [mm], None where that is within its tolerance; ``groove_has_program``: of its own.
    """

    setup: Setup
    pressure: float
    spindle_limit: float
    placing: Placing | None
    ring: RingChoice | None
    design: BoreDesign | None
    tightening: Tightening
    runout: float
    tool: str
    left: float
    bar_gives: float | None = None
    groove_has_program: bool = False

    @property
    def gauge(self) -> str:
        """The pressure as the gauge shows it."""
        return format_quantity(self.pressure, "pressure", self.setup.units, unit=gauge_unit_of(self.setup))

    @property
    def torque(self) -> str:
        """The torque for the wrench, in the setup's unit and the other: a wrench has one of them."""
        other: UnitSystem = "metric" if self.setup.units == "inch" else "inch"
        first, second = (
            format_quantity(self.tightening.torque, "torque", one, figures=3) for one in (self.setup.units, other)
        )
        return f"{first} ({second})"

    @property
    def set_number(self) -> str:
        """What the set is called."""
        return self.setup.jaws.number or "no number"

    def set_up(self) -> tuple[str, ...]:
        """Set, pressure and bolts, as every program of these jaws says them first."""
        tooth = self.ring.way.tooth if self.ring else "?"
        return (
            f"jaw set {self.set_number}, chuck {self.setup.chuck.number or self.setup.chuck.name}, tooth {tooth}",
            f"pressure {self.gauge} while cutting, spindle limit {self.spindle_limit:.0f} rev/min",
            f"bolts {self.tightening.bolt} {self.tightening.bolt_class}: {self.torque}",
        )

    def comments(self) -> tuple[str, ...]:
        """What the program says at its head."""
        say, lines = say_in(self.setup), [*self.set_up()]
        if self.design is not None:
            lines.append(
                sentence("bore Ø{} at the seat, {} deep", _fine(self, self.design.diameter), say(self.design.depth))
            )
            lines += [step_words(one, self.design.depth, say, _fine(self, 2 * one.radius)) for one in self.design.steps]
        if self.ring is not None:
            lines.append(sentence("ring Ø{}", say(self.ring.set_to)))
        if self.design is not None and self.design.faced_by_program:
            lines.append(sentence("fronts as they stand are z +{}, faced to z 0", _fine(self, self.design.face_off)))
        return tuple(lines)

    @property
    def size_at_stop(self) -> float:
        """What the bore should measure at the stop before the finish, for the middle of its tolerance. [mm]"""
        assert self.design is not None
        outward = 1 if self.setup.grip.side == "outside" else -1
        return self.design.diameter + sum(self.design.tolerance) / 2 - outward * 2 * self.left

    @property
    def size_words(self) -> str:
        """That size with its unit, as steps and program say it; empty without a bore."""
        return "" if self.design is None else _fine(self, self.size_at_stop)

    def measure(self) -> tuple[str, ...]:
        """What the program says at the stop before the finish."""
        if self.design is None:
            return ()
        return (
            sentence("measure near the seat: Ø{} it should be", self.size_words),
            "X wear offset: add what it should be minus what it is",
        )

    def stops(self) -> tuple[str, ...]:
        """Where the program stops for a look."""
        return (
            "check that every jaw bears on the ring",
            f"check the gauge: {self.gauge}",
        )


def steps_for(facts: Facts) -> tuple[Step, ...]:
    """The steps for a set that is to be cut; facts must hold ring and bore."""
    setup, ring, made = facts.setup, facts.ring, facts.design
    assert ring is not None
    assert made is not None
    say, way = say_in(setup), ring.way
    outside = setup.grip.side == "outside"
    word = facts.placing.word if facts.placing else "tooth"
    verb, direction = ("close", "outside") if outside else ("open", "inside")
    off = stroke_words(way.stroke, say)
    shift = facts.placing.a_tooth_off if facts.placing else None
    wrong = sentence(" One jaw a tooth off runs out about {}.", say(shift)) if shift else ""
    bolt, mark = facts.tightening, facts.set_number
    found = [
        ("clean", "Clean serrations, T-slots and T-nuts; stone bruised teeth; no chip may stay under a jaw."),
        ("grease", f"Grease the chuck; clamp and unclamp {CYCLES}, spindle warm (common practice, no source)."),
        (
            "mount",
            f"Set {mark}: every jaw on the master jaw of its number, zero marks on {word} {way.tooth}, counted "
            "on every jaw." + wrong,
        ),
        (
            "torque",
            sentence(
                "{} of class {}: {}, at least {} of thread in the T-nut, no bolt may bottom in its slot.",
                bolt.bolt,
                bolt.bolt_class,
                facts.torque,
                say(bolt.least_thread),
            ),
        ),
    ]
    if made.face_off > 0 and not made.faced_by_program:
        found.append(("face", sentence("Face {} off the jaw fronts; they are the program's zero.", say(made.face_off))))
    if ring.groove is not None:
        low, high = ring.groove.diameters
        own = ("with its own program (groove-...), the blade's inner corner touched off on the fronts"
               if facts.groove_has_program else "by hand: there is no program for it")  # fmt: skip
        found.append(
            (
                "groove",
                sentence(
                    "Turn a groove Ø{} to Ø{}, {} deep, into the jaw faces; jaws {}, held at "
                    "{} on a piece of stock that stands behind the fronts; {}. The ring must "
                    "go in without force.",
                    say(low),
                    say(high),
                    say(ring.groove.depth),
                    off,
                    facts.gauge,
                    own,
                ),
            )
        )
    taper = ""
    if made.taper:
        taper = sentence(
            ", {} at the front (taper {} per side)", _fine(facts, made.mouth_diameter), _length(setup, made.taper)
        )
    found += [
        ("ring", capitalised(ring.words) + "."),
        (
            "pressure",
            f"Set {facts.gauge} and {verb} the jaws on the ring, as they will grip {direction}; "
            "write down what the gauge shows: ______.",
        ),
        (
            "mid-stroke",
            sentence("Check the stroke: {}, {} left to open and {} to close.", off, say(way.opening), say(way.closing)),
        ),
        (
            "touch off",
            sentence(
                "Touch off {} on the jaw fronts ({}) and on a diameter, the spindle turned by hand: the first touch of "
                "any jaw counts; write it down: Ø ______.{}",
                facts.tool,
                _front(facts),
                " In the bore that grips, not in a step." if made.steps else "",
            ),
        ),
        (
            "run",
            f"Spindle limit {facts.spindle_limit:.0f} rev/min, door shut, single block for the first pass. "
            "The tool stands clear before the start: it goes to the machine's far point first. Every part can be "
            "started again alone at its number (N100, N200 ...).",
        ),
        ("stop", f"At the stops: {'; '.join(facts.stops())}."),
        (
            "measure",
            sentence(
                "At the stop before the finish measure near the seat, with three points, and write "
                "it down: Ø ______. It should be Ø{} ({} per side left to finish, middle of the "
                "tolerance). Add what it should be minus what it is to the tool's X wear offset, as "
                "a diameter (half of it where the control takes X as a radius): measured too small, "
                "the offset grows. More than {} off: do not run on, touch off again. Then run on.{}",
                facts.size_words,
                say(facts.left),
                say(facts.left),
                _probed(setup),
            ),
        ),
        (
            "finish",
            sentence(
                "Ø{} at the seat{}, {} deep within {} either way, bore and seat {}.{}{}",
                _tolerated(facts, made.diameter),
                taper,
                say(made.depth),
                say(DEPTH_TOLERANCE_MM),
                FINISH_WORDS,
                _nest(facts),
                _correct(facts),
            ),
        ),
        (
            "measure the bore",
            "When it is done measure the bore near the seat, with three points, and the depth, jaw "
            "fronts to seat: Ø ______, ______ deep. What is measured here is the bore that plans and "
            "the next cut start from.",
        ),
        ("deburr", sentence("Break all edges by hand{}; air-blow bore, relief and seat.", _mouth(facts))),
        (
            "check run-out",
            sentence(
                "Clamp a true piece at {}: {} or less near the seat and near the front; face run-out on the seat too.",
                facts.gauge,
                _fine(facts, facts.runout),
            ),
        ),
        (
            "mark",
            sentence(
                "Mark every jaw: set {}, its own number, {} {}, the measured Ø ______ (planned Ø{}), "
                "cut {}; and record it with what was measured.",
                mark,
                word,
                way.tooth,
                _fine(facts, made.diameter),
                (setup.jaws.cuts_done or 0) + 1,
            ),
        ),
    ]
    return tuple(Step(number, name, words) for number, (name, words) in enumerate(found, 1))


def recut_steps(setup: Setup, runout: float) -> tuple[Step, ...]:
    """The steps for a set that goes back on as recorded, without a cut."""
    low, high = REFIT_RUNOUT_MM
    say = say_in(setup)
    found = [
        ("clean", "Clean serrations, T-slots, bore and seat."),
        ("mount", "Every jaw on the master jaw of its number, on the recorded tooth, bolts torqued."),
        (
            "check run-out",
            sentence(
                "Clamp a true piece and check at two places: {} to {} is usual, {} or less is "
                "needed; skim if it is more.",
                say(low),
                say(high),
                _length(setup, runout),
            ),
        ),
    ]
    return tuple(Step(number, name, words) for number, (name, words) in enumerate(found, 1))


def _probed(setup: Setup) -> str:
    """What to know where a template of the shop's own may have the control probe instead."""
    if setup.boring is None or setup.boring.template is None:
        return ""
    return (" Where the program calls the control's own probing cycle there instead: single block, watch it, and look "
            "at the offset it has set before the finish runs.")  # fmt: skip


def _nest(facts: Facts) -> str:
    """The other diameters of the bore, as they come with it."""
    assert facts.design is not None
    say, depth = say_in(facts.setup), facts.design.depth
    words = [step_words(one, depth, say, _fine(facts, 2 * one.radius)) for one in facts.design.steps]
    return sentence(" With it, within what the bore is off: {}.", joined("; ", words)) if words else ""


def step_words(step: NestStep, depth: float, say: Say, diameter: str) -> str:
    """A step of a bore whose seat lies ``depth`` [mm] behind the jaw fronts."""
    grips = ", which grips the part too" if step.grips else ""
    if step.z >= 0:
        return sentence("Ø{} from the mouth to {} deep{}", diameter, say(depth - step.z), grips)
    return sentence("Ø{} behind the seat, to {} deep{}", diameter, say(depth - step.z), grips)


def _mouth(facts: Facts) -> str:
    """What is still to be done at the mouth."""
    assert facts.design is not None
    chamfer = say_in(facts.setup)(facts.design.mouth_chamfer)
    boring = facts.setup.boring
    if boring is not None and boring.deburr:
        return sentence(" but the mouth, {}, which the program went over again", chamfer)
    return sentence(", the mouth {}", chamfer)


def _front(facts: Facts) -> str:
    """What the jaw fronts are in z, as they stand before the cut."""
    made = facts.design
    if made is None or not made.faced_by_program:
        return sentence("z {:g [mm]}", 0.0)
    off = _fine(facts, made.face_off)
    return sentence("they are z +{}, not 0: the program faces {} off", off, off)


def _correct(facts: Facts) -> str:
    """What to do about a bar that gives way more than the bore may be off."""
    if facts.bar_gives is None:
        return ""
    off = _fine(facts, facts.bar_gives)
    return sentence(
        " The bar may give way: up to {} off on diameter. Measure, correct the offset by what is missing, run the "
        "finish again, measure again.",
        off,
    )


def _tolerated(facts: Facts, diameter: float) -> str:
    assert facts.design is not None
    low, high = facts.design.tolerance

    def said(unit: str, by: float, places: int) -> str:
        ends = (f"{value / by:+.{places}f} {unit}" if value else "0" for value in (low, high))
        if unit == "in":
            ends = (end[0] + end[1:].removeprefix("0") for end in ends)
        return f"{diameter / by:.{places}f} {unit} ({' to '.join(ends)})"

    return in_both(said("mm", 1.0, 3), said("in", 25.4, 4), facts.setup.units)


def _fine(facts: Facts, value: float) -> str:
    """A length of which a thousandth counts."""
    return _length(facts.setup, value)


def _length(setup: Setup, value: float) -> str:
    metric, inch = (format_quantity(value, "length", units) for units in UNIT_SYSTEMS)
    return in_both(metric, inch, setup.units)
