"""How long the shop's memory takes to answer, with 1,000 to 100,000 jaw sets, on SQLite and on PostgreSQL.

Run by hand: ``python bench/records.py``; ``--plans`` prints how each database goes about it, ``--sizes 1000,10000``
takes other sizes, ``--crowd`` adds 20 writers with 10,000 actions.  Each set has five cuts, one move and five indicator
readings: 100,000 sets have 1,000,000 cuts and readings.  Medians over different questions, after one of each: by the
clock, which a busy machine makes longer, and in processor time of this process, which on SQLite is all there is.
Invented data.  PostgreSQL is left out, and said so, where it is not installed.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import islice
from pathlib import Path

from run import ROOT, ms

sys.path.insert(0, str(ROOT / "tests" / "records"))
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SIZES = (1_000, 10_000, 100_000)
CUTS, READINGS, QUESTIONS = 5, 5, 25
MATERIALS = (
    ("aluminium 6061-T6", 55),
    ("C45", 25),
    ("aluminium 7075-T6", 8),
    ("16MnCr5", 6),
    ("CuSn12", 4),
    ("POM", 2),
)
TEETH = ("1.5 mm x 60 deg", "3 mm x 60 deg", "1/16 in x 90 deg")
TEXTS = (
    "about {d}, aluminium, {season}, machine {m}", "about {d}, aluminium", "about {d}", "aluminium, {season}",
    "{season}, machine {m}", "machine {m}, C45", "aluminium", "POM, machine {m}",
)  # fmt: skip


def shop(sets: int) -> Iterator[tuple[object, Iterator[dict]]]:
    """Cards and history of a shop with that many sets: of each kind one record, and what each row has instead.

    A million records, each checked by itself, took most of the time of filling.
    """
    from heldtrue.records.events import IndicatorReading, SetCut, SetMove
    from heldtrue.records.things import ChuckRecord, JawSet, MachineRecord

    dice = random.Random(sets)
    names, weights = zip(*MATERIALS, strict=True)
    yield MachineRecord(id="M", version=1), ({"id": f"M-{n}", "name": f"lathe {n}"} for n in range(1, 31))
    yield ChuckRecord(id="C", version=1), ({"id": f"C-{n}", "serration": TEETH[n % 3],
                                            "machine": f"M-{(n - 1) % 30 + 1}"} for n in range(1, 41))  # fmt: skip
    yield JawSet(id="S", version=1, style="pie", material="C45"), (
        {"id": f"S-{n}", "style": dice.choice(("standard", "wide", "pie")), "serration": dice.choice(TEETH),
         "material": dice.choices(names, weights)[0]} for n in range(sets)
    )  # fmt: skip
    cut = SetCut(id="c", at=NOW, by="Noor", jaw_set="S", tooth=9, side="outside", diameter=90.0, depth=14.0,
                 jaw_order=(1, 2, 3), pressure=1.8, web_left=9.0, bore_steps=())  # fmt: skip
    yield cut, _cuts(sets, dice)
    yield (
        SetMove(id="m", at=NOW, by="Noor", jaw_set="S", kind="in"),
        ({"id": f"m{n:07}", "jaw_set": f"S-{n}", "place": f"shelf {n % 90}"} for n in range(sets)),
    )
    reading = IndicatorReading(id="i", at=NOW, by="Noor", jaw_set="S", surface="bore", angles=(0.0, 2.1, 4.2),
                               deviations=(0.0, 0.004, -0.002))  # fmt: skip
    yield reading, ({"id": f"i{n:07}", "at": NOW - timedelta(days=n % 3650), "jaw_set": f"S-{dice.randrange(sets)}"}
                    for n in range(sets * READINGS))  # fmt: skip


def _cuts(sets: int, dice: random.Random) -> Iterator[dict]:
    """Cuts in the order in which they happened, as history comes in a shop."""
    days = sorted((dice.uniform(0, 3650), dice.randrange(sets)) for _ in range(sets * CUTS))
    for n, (day, owner) in enumerate(days):
        chuck = dice.randrange(1, 41)
        yield {
            "id": f"c{n:07}", "at": NOW - timedelta(days=3650 - day), "jaw_set": f"S-{owner}",
            "side": dice.choice(("outside", "outside", "inside")), "diameter": round(dice.triangular(20, 400, 90), 1),
            "chuck": f"C-{chuck}", "machine": f"M-{(chuck - 1) % 30 + 1}", "web_left": dice.uniform(5, 20),
        }  # fmt: skip


def fill(store: object, sets: int) -> None:
    """Fill an empty store without the checks of an import, which would take most of the time."""
    from sqlalchemy import insert

    from heldtrue.records.checking import standings
    from heldtrue.records.kinds import row_of, table_of, to_document
    from heldtrue.records.reading import STANDINGS, as_row
    from heldtrue.records.seals import make_chain, sealed
    from heldtrue.records.things import Thing
    from heldtrue.records.writing import ACTIONS, VERSIONS, action_row

    def work(connection: object) -> None:
        def put(table: object, rows: Iterator[dict]) -> None:
            while batch := list(islice(rows, 2000)):
                connection.execute(insert(table), [sealed(table, row) for row in batch])

        put(ACTIONS, iter([action_row("a", "bench", "")]))
        for record, changes in shop(sets):
            table, like = table_of(type(record)), row_of(record)
            if not isinstance(record, Thing):
                put(table, (like | {"action": "a"} | change for change in changes))
                continue
            every, document = list(changes), to_document(record)
            put(table, (like | change for change in every))
            put(VERSIONS, ({"kind": table.name, "thing": change["id"], "version": 1, "action": "a",
                            "document": document | change} for change in every))  # fmt: skip
        put(STANDINGS, (as_row(one) for one in standings(connection)))
        make_chain(connection)

    store.database.write(work)
    store.database.write(lambda connection: connection.exec_driver_sql("ANALYZE"))


def questions(store: object, sets: int) -> dict[str, list[Callable[[], object]]]:
    """What is asked, each a number of times with other figures."""
    from heldtrue.records.matching import Wanted
    from heldtrue.records.remembering import remembered
    from heldtrue.records.things import JawSet

    dice = random.Random(1)

    def wanted() -> Wanted:
        return Wanted(side="outside", diameter=round(dice.uniform(40, 200), 1), chuck=f"C-{dice.randrange(1, 41)}")

    def said(text: str) -> object:
        season = f"{dice.choice(('spring', 'autumn'))} {dice.randrange(2018, 2026)}"
        return remembered(text.format(d=dice.randrange(40, 200), m=dice.randrange(1, 31), season=season), NOW)

    asked: dict[str, list[Callable[[], object]]] = {
        "jaws for a setup": [partial(store.find, wanted()) for _ in range(QUESTIONS)],
        "history of one set": [partial(store.history, f"S-{dice.randrange(sets)}") for _ in range(QUESTIONS)],
        "one card": [partial(store.get, JawSet, f"S-{dice.randrange(sets)}") for _ in range(QUESTIONS)],
    }  # fmt: skip
    for text in TEXTS:
        name = f'remembered: "{text.format(d=82, m=3, season="spring 2024")}"'
        asked[name] = [partial(store.search, said(text)) for _ in range(QUESTIONS)]
    return asked


def medians(store: object, sets: int) -> dict[str, tuple[float, float]]:
    """Of each kind of question the median by the clock, and of processor time of this process. [s]"""
    found = {}
    for what, each in questions(store, sets).items():
        times = []
        for one in [each[0], *each]:
            start, cpu = time.perf_counter(), time.process_time()
            one()
            times.append((time.perf_counter() - start, time.process_time() - cpu))
        clock, processor = zip(*times[1:], strict=True)
        found[what] = statistics.median(clock), statistics.median(processor)
    return found


def places(folder: Path, server: object, sets: int) -> Iterator[tuple[str, object]]:
    yield "SQLite", folder / f"shop{sets}"
    if server is not None:
        server.sql(f"CREATE DATABASE shop{sets}")
        yield "PostgreSQL", server.url(f"shop{sets}")


def rows(sizes: tuple[int, ...] = SIZES, plans: bool = False, crowd: bool = False) -> list[tuple[str, str, str]]:
    from cluster import Cluster, why_not

    from heldtrue.records.store import open_store

    reason = why_not()
    server = None if reason else Cluster()
    table: dict[tuple[str, str], dict[int, tuple[float, float]]] = {}
    more = [(f"PostgreSQL left out: {reason}", "", "")] if reason else []
    try:
        with tempfile.TemporaryDirectory() as folder:
            for sets in sizes:
                for name, place in places(Path(folder), server, sets):
                    with open_store(place) as store:
                        start, cpu = time.perf_counter(), time.process_time()
                        fill(store, sets)
                        took = f"{time.perf_counter() - start:.0f} s, {time.process_time() - cpu:.0f} s of processor"
                        print(f"{name}: {sets:,} sets made in {took}", file=sys.stderr, flush=True)
                        for what, (seconds, processor) in medians(store, sets).items():
                            table.setdefault((what, name), {})[sets] = seconds, processor
                            print(f"{name}, {sets:,} sets: {what}: {_said(seconds, processor)}", file=sys.stderr,
                                  flush=True)  # fmt: skip
                        if plans and sets == max(sizes):
                            show_plans(store, name)
            if crowd:
                more += [crowd_row(name, place) for name, place in places(Path(folder), server, 0)]
    finally:
        if server is not None:
            server.stop()
    spelled = ", ".join(f"{sets:,}" for sets in sizes)
    return [
        (f"{what}, {name}, {spelled} sets", ", ".join(_said(*one) for one in by_size.values()), "20 ms")
        for (what, name), by_size in table.items()
    ] + more


def _said(seconds: float, processor: float) -> str:
    return f"{ms(seconds)} ({ms(processor)} of processor)"


def crowd_row(name: str, place: object) -> tuple[str, str, str]:
    """Twenty writers, 10,000 actions, all counted."""
    from shop import MANY_MACHINES, many_cards

    from heldtrue.records.store import open_store
    from heldtrue.records.things import MachineRecord

    with open_store(place) as store:
        store.write(*many_cards(), by="bench")
    start = time.perf_counter()
    script = ROOT / "tests" / "records" / "crowd.py"
    crowd = [subprocess.Popen([sys.executable, str(script), str(place), f"p{n}", "5", "500"]) for n in range(4)]
    ends = [one.wait() for one in crowd]
    seconds = time.perf_counter() - start
    with open_store(place) as store:
        counted = sum(store.get(MachineRecord, one).data.get("count", 0) for one in MANY_MACHINES)
        wrong = len(store.check())
    good = ends == [0, 0, 0, 0] and counted == 10_000 and not wrong
    return (f"20 writers at once, 10,000 actions, {name}",
            f"{seconds:.0f} s, {counted:,} counted, {'sound' if good else 'NOT SOUND'}", "none lost")  # fmt: skip


def show_plans(store: object, name: str) -> None:
    """How the database goes about every kind of question: the statements as they are sent, explained."""
    from sqlalchemy import event

    sent: list[tuple[str, object]] = []
    engine = store.database.engine

    def note(connection, cursor, statement, parameters, context, many) -> None:
        if statement.startswith(("SELECT", "WITH")):
            sent.append((statement, parameters))

    event.listen(engine, "before_cursor_execute", note)
    for what, each in questions(store, 1000).items():
        sent.clear()
        each[1]()
        print(f"\n== {name}: {what}")
        for statement, parameters in list(sent):
            verb = "EXPLAIN QUERY PLAN" if name == "SQLite" else "EXPLAIN (ANALYZE, COSTS OFF, SUMMARY OFF)"
            plan = store.database.read(
                lambda c, s=statement, p=parameters, v=verb: c.exec_driver_sql(f"{v} {s}", p).all()
            )
            print(f"-- {' '.join(statement.split(' FROM ', 1)[-1].split())[:150]}")
            for row in plan:
                print("  ", row[-1])
    event.remove(engine, "before_cursor_execute", note)


def main() -> None:
    sizes = SIZES
    if "--sizes" in sys.argv:
        sizes = tuple(int(one) for one in sys.argv[sys.argv.index("--sizes") + 1].split(","))
    for what, measured, target in rows(sizes, "--plans" in sys.argv, "--crowd" in sys.argv):
        print(f"{what:100} {measured:>48} {target:>10}")


if __name__ == "__main__":
    main()
