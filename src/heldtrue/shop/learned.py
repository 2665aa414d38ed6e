"""What a chuck's own readings have taught: kept with its card, sharpened by every reading that was accepted.

Stiffness of the base of its jaws [N mm/rad] from feeler and bluing, by jaw style; how unlike its jaws centre a part
twice [mm], by jaw style; specific cutting force of a material [MPa] from the power of its spindle, by job; what a dial
repeats to [mm], by dial: one row each on the card of the chuck, of which every version is kept.  Grip efficiency of the
chuck: from the grip readings in its log.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import exp, hypot, log
from typing import Any, Literal, TypeAlias
from uuid import uuid4

from heldtrue.errors import InputError
from heldtrue.inspection.learning import Accepted, Flagged, Learned, Prior, learn
from heldtrue.planning.ranges import BASE_SPREAD
from heldtrue.planning.setup import Setup
from heldtrue.quantities import UnitSystem, format_quantity
from heldtrue.records import ChuckRecord, Store
from heldtrue.sentences import Sentence, in_both
from heldtrue.shop.chuck_card import LEARNED
from heldtrue.shop.chuck_log import chuck_state
from heldtrue.shop.enter import chuck_in_use
from heldtrue.tooling.grip_estimate import GAUGE_ERROR, SCATTER, Plate, estimate_grip
from heldtrue.tooling.jaws import BASE, STYLES

Kind: TypeAlias = Literal["jaw base", "grip share", "cutting force", "centring", "repeatability"]
KEPT: tuple[Kind, ...] = ("jaw base", "cutting force", "centring", "repeatability")
"""Kinds whose readings stand on the card of the chuck."""
SCATTERS: tuple[Kind, ...] = ("centring", "repeatability")
"""Kinds that are worked out of many readings at once: no two of them come out alike by chance."""

BASE_PRIOR = Prior(BASE.tilt, 8.0)
"""What is assumed of a base nobody measured: what plans take, and all that is seen, a third to eight times of it."""

AS_CHUCKS = 2.0
"""What is assumed counts as so many chucks beside those that were read: our own judgement, no source."""
UNLIKE = 3.0
"""Factor by which two chucks of one shop differ, 95 %: our own judgement, no source."""
LEAST_READINGS = 2
"""Readings that agree, from which a plan rests on them."""
NEAREST = 1.5
"""No base is known nearer than this factor either way: the model's own error is in every reading; our own judgement, no
source."""


@dataclass(frozen=True)
class Knowledge:
    """What is known of one quantity of a chuck; ``style``: what it is known of beside the chuck, as in ``accept``."""

    chuck: str
    kind: Kind
    style: str
    learned: Learned

    @property
    def unit(self) -> str:
        """Core unit of the figures."""
        return {"jaw base": "N mm/rad", "grip share": "", "cutting force": "MPa"}.get(self.kind, "mm")

    def sentence(self, written: UnitSystem = "metric") -> Sentence:
        """The same for readers of either units."""
        return in_both(self.words("metric"), self.words("inch"), written)

    def words(self, system: UnitSystem) -> str:
        """Value, interval and where it comes from."""
        one = self.learned
        value, low, high = (self.show(v, system) for v in (one.median, one.low, one.high))
        words = f"{one.name}: {value} ({low} to {high}), {one.source}"
        if one.flagged:
            words += f"; set aside because it contradicts, and taken into the interval: {len(one.flagged)}"
        if len(one.flagged) > one.count:
            words += "; the readings do not agree with each other: find out why before using any"
        return words

    def flag_words(self, one: Flagged, system: UnitSystem) -> str:
        """A reading that contradicts."""
        value, expected = self.show(one.value, system), self.show(one.expected, system)
        return (f"reading {one.index + 1}: {value} where {expected} was expected, {abs(one.sigmas):.1f} standard "
                "uncertainties off; kept, not averaged in: read it again")  # fmt: skip

    def show(self, value: float, system: UnitSystem) -> str:
        """A figure with its unit."""
        if self.kind == "grip share":
            return f"{value:.0%}"
        shown = {"jaw base": "tilt", "cutting force": "stress"}.get(self.kind, "length")
        return format_quantity(float(f"{value:.3g}"), shown, system)


def accept(
    store: Store, chuck: ChuckRecord, kind: Kind, reading: Accepted, by: str, now: datetime, *, style: str = ""
) -> ChuckRecord:
    """Keep one reading with the card of a chuck; gives the card as it stands then.

    ``style`` of the jaws that stood on the chuck; for a cutting force the material and the job, as ``job_key`` has it;
    for what a dial repeats to the dial, as ``dial_key`` has it.
    Raises: ``InputError`` for a kind that is kept elsewhere or a style nobody knows; as ``Store.write``.
    """
    if kind not in KEPT:
        raise InputError("the share of the grip is read off the grip readings in the chuck's log: enter those")
    if kind in ("jaw base", "centring") and style not in STYLES:
        raise InputError(f'jaw style: found "{style}"; expected {", ".join(STYLES)}')
    row = {
        "id": uuid4().hex, "kind": kind, "style": style, "value": reading.value, "relative": reading.relative,
        "what": reading.what, "when": now.isoformat(), "by": by,
    }  # fmt: skip
    data = {**chuck.data, LEARNED: [*chuck.data.get(LEARNED, ()), row]}
    written = store.write(replace(chuck, data=data), by=by, why=f"reading of the {kind}")[-1]
    assert isinstance(written, ChuckRecord)
    return written


def rows_of(store: Store, chuck: ChuckRecord, kind: Kind, style: str = "") -> tuple[dict[str, Any], ...]:
    """Every row ever kept, oldest first: also one that a later version of the card does not have."""
    return tuple(row for row in _rows(store, chuck.id) if row["kind"] == kind and row["style"] == style)


def styles_of(store: Store, chuck: ChuckRecord, kind: Kind) -> list[str]:
    """What rows of a kind were ever kept under on a chuck, sorted."""
    return sorted({row["style"] for row in _rows(store, chuck.id) if row["kind"] == kind})


def _rows(store: Store, chuck: str) -> list[dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for version in store.versions(ChuckRecord, chuck):
        for row in version.card.data.get(LEARNED, ()):
            found.setdefault(row["id"], dict(row))
    return list(found.values())


def learned_base(store: Store, chuck: ChuckRecord, style: str, *, alone: bool = False) -> Knowledge:
    """What is known of the base of jaws of a style on a chuck; without readings what other chucks suggest, else what
    is assumed; ``alone``: as in ``learned_of``."""
    name = f"base of {style} jaws on chuck {chuck.id}"
    return learned_of(store, chuck, "jaw base", style, name, BASE_PRIOR, UNLIKE, alone=alone)


def learned_of(
    store: Store, chuck: ChuckRecord, kind: Kind, style: str, name: str, assumed: Prior, unlike: float,
    likes: Callable[[str], bool] | None = None, *, alone: bool = False,
) -> Knowledge:  # fmt: skip
    """What the rows of a chuck say of a quantity, before them the shop's other rows, before those what is assumed.

    ``unlike``: factor by which two chucks of one shop, or two jobs, differ, 95 %; ``likes``: which styles count as
    others of the same, those of the same style if left out; ``alone``: no others, as plans take it: two readings that
    say little must not let what other chucks and jobs showed into a plan.
    """
    count = likes or (lambda other: other == style)
    others = []
    for other in () if alone else store.all(ChuckRecord):
        for key in {row["style"] for row in _rows(store, other.id) if row["kind"] == kind and count(row["style"])}:
            if (other.id, key) != (chuck.id, style):
                others.append(learn(name, assumed, readings_of(store, other, kind, key)).median)
    prior = _between(assumed, others, unlike)
    return Knowledge(chuck.id, kind, style, learn(name, prior, readings_of(store, chuck, kind, style)))


def readings_of(store: Store, chuck: ChuckRecord, kind: Kind, style: str) -> list[Accepted]:
    """The readings of a quantity without what was entered twice: the same figure on the same day is one reading, and a
    scatter that is the same to six digits is of the same file, whatever the day."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for row in rows_of(store, chuck, kind, style):
        if kind in SCATTERS:
            found.setdefault((f"{row['value']:.6g}", ""), row)
        else:
            found.setdefault((f"{row['value']:.3g}", row["when"][:10]), row)
    return [Accepted(row["value"], row["relative"], row["what"]) for row in found.values()]


def _between(assumed: Prior, others: Sequence[float], unlike: float) -> Prior:
    """A quantity before its own readings: between what is assumed and the others that were read.

    The assumed value counts as ``AS_CHUCKS`` of them, in its middle as in its width.
    """
    share = AS_CHUCKS / (AS_CHUCKS + len(others))
    logs = sum(log(one) for one in others) / len(others) if others else 0.0
    middle = share * log(assumed.median) + (1 - share) * logs
    return Prior(exp(middle), exp(share * log(assumed.factor) + (1 - share) * log(unlike)))


def agrees(known: Learned) -> bool:
    """Do readings enough say the same for a plan to rest on them?"""
    return known.count >= LEAST_READINGS and len(known.flagged) < known.count


def learned_grip(store: Store, chuck: ChuckRecord, plate: Plate, now: datetime) -> Knowledge:
    """The share of the plate's grip as plans take it: the estimate of the chuck's log."""
    state = chuck_state(store, chuck, now, plate)
    found = state.estimate or estimate_grip((), plate)
    low, likely, high = found.share
    flagged = []
    for index, one in enumerate(state.used):
        if state.is_doubtful(one):
            expected = (found.read or found.share)[1]
            value = expected * one.force / max(found.grip(one.pressure), 1.0)
            sigmas = log(value / expected) / hypot(SCATTER, GAUGE_ERROR / 2)
            flagged.append(Flagged(index, value, expected, sigmas, f"{one.at:%Y-%m-%d} {one.by}"))
    count = len(state.used) - len(flagged)
    source = f"measured ({count} readings)" if found.measured else "assumed"
    name = f"grip efficiency of chuck {chuck.id}"
    words = f"{name}: {likely:.3g}, {low:.3g} to {high:.3g}, {source}"
    return Knowledge(
        chuck.id, "grip share", "", Learned(name, likely, likely, low, high, count, tuple(flagged), source, words)
    )


def with_learned_base(setup: Setup, store: Store) -> tuple[Setup, tuple[str, ...]]:
    """The setup with the base of its jaws as read on its chuck, and in words what that is.

    Two readings that agree narrow the range; one alone, or some that do not agree, only stretch what is assumed and
    leave its likely value: a wrong one then makes no plan better.  Unchanged where the file states a base, or nothing
    was read.
    """
    card = chuck_in_use(store, setup)
    if setup.jaws.base_tilt is not None or card is None:
        return setup, ()
    known = learned_base(store, card, setup.jaws.style, alone=True)
    one = known.learned
    if not one.count and not one.flagged:
        return setup, ()
    if agrees(one):
        likely, low, high = one.median, min(one.low, one.median / NEAREST), max(one.high, one.median * NEAREST)
        said = known.words(setup.units)
    else:
        least, most = (BASE.tilt * share for share in BASE_SPREAD)
        likely, low, high = BASE.tilt, min(one.low, least), max(one.high, most)
        said = (f"{known.words(setup.units)}: one reading alone, or some that do not agree, only makes plans more "
                "careful; take another")  # fmt: skip
    table = setup.to_dict()
    table["jaws"]["base_tilt"] = {"value": f"{likely:.6g} N mm/rad", "from": "measured"}
    ends = [f"{low:.6g} N mm/rad", f"{high:.6g} N mm/rad"]
    table["jaws"]["base_tilt_range"] = {"value": ends, "from": "measured"}
    return Setup.from_dict(table), (said,)
