"""Look for bytes that bring a traceback out of a reader, guided by which lines of it they reach.

Run by hand: ``pip install atheris``, then ``python bench/fuzz.py --seconds 60`` (for each reader; ``--only setup,csv``
takes some).  It starts from the examples and from the kept corpus; ``--keep`` puts what reaches new lines into the
corpus, the smallest inputs first, and every input that brought a traceback out.  atheris is used here alone: the tests
need nothing but the corpus.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import random
import re
import shutil
import subprocess
import sys
import tempfile
import traceback
from pathlib import Path

ROOT = Path(__file__).parents[1]
UNIT = ROOT / "tests" / "unit"
sys.path.insert(0, str(UNIT))
TOKEN = re.compile(rb'"[^"\n]*"|[\w.+-]+|\s+|[^\w\s]')
ODD = (
    b"", b"[]", b"{}", b"null", b"true", b"-1", b"0", b"3", b"1e999", b"-0.0", b"9" * 25, b'""', b'"x"', b'"18 bar"',
    b"nan", b"inf", b"[[0, 0]]", b'{"value": 3}', b'{ value = 3, from = "plate" }', b'["a"]', b"1.5",
    b'"1970-01-01T00:00:00"', b"\n", b"\xc3\x98", b"\xff", b"[part]", b"[[cut]]", b",", b";", b"'", b'"',
)  # fmt: skip
"""What takes the place of a word: values of every sort, in JSON, TOML and CSV."""
LONGEST, MOST_KEPT, LONGEST_KEPT = 6000, 25, 2500


def seeds() -> dict[str, list[bytes]]:
    """What each reader is meant to read."""
    examples = ROOT / "examples"

    def files(*patterns: str) -> list[bytes]:
        return [path.read_bytes() for pattern in patterns for path in sorted(examples.glob(pattern))]

    setups = files("*.toml")
    from heldtrue.planning.setup import Setup
    from heldtrue.planning.toml_file import parse_toml
    from heldtrue.records.documents import plan_document, setup_document
    from heldtrue.records.plain_files import MANIFEST, export_to
    from heldtrue.records.store import open_store
    from heldtrue.records.things import ChuckRecord, MachineRecord, Tag
    from heldtrue.web.drafts import Drafts

    found = {
        "setup": setups, "chuck": files("chucks/*.toml"), "jaws": files("jaws/*.toml"),
        "tool": files("tools/*.toml"), "rings": files("rings/*.toml"), "dialect": [],
        "readings": files("readings/*.csv"), "drift": [b"part,od_mm,event\n1,20.01,\n2,20.02,insert\n3,20.00,\n"],
        "program": [
            b"G21 G18 G40\nG0 X100 Z5\nG50 S500\nG96 S120 M3\nG1 X90 Z-2 F0.1\nG3 X80 Z-7 R5\nG0 X120 Z50\nM30\n"
        ],
        "csv": [], "jsonl": [], "manifest": [], "document": [], "draft": [],
    }  # fmt: skip
    found["dialect"] = [(ROOT / "src/heldtrue/program/dialects/neutral.toml").read_bytes()]
    for content in setups[:3]:
        setup = Setup.from_dict(parse_toml(content), base_dir=examples)
        found["document"].append(json.dumps(setup_document(setup)).encode())
    found["document"].append(json.dumps(plan_document({"verdict": "passes"})).encode())
    with tempfile.TemporaryDirectory() as folder:
        with open_store(Path(folder) / "shop") as store:
            store.write(MachineRecord(id="M-1", name="lathe 1"), ChuckRecord(id="C-1"), Tag(id="T-1"), by="bench")
            for form in ("csv", "jsonl"):
                out = export_to(store, Path(folder) / form, form)
                for name in ("machines", "chucks", "actions", "tags"):
                    found[form].append(f"{name}\n".encode() + without_seals(out / f"{name}.{form}"))
                found["manifest"].append((out / MANIFEST).read_bytes())
        Drafts(Path(folder)).new("one", parse_toml(setups[0]))
        found["draft"].append((Path(folder) / "one.json").read_bytes())
    return found


def without_seals(path: Path) -> bytes:
    """A table of an export as it was before rows had seals: damage to what is sealed ends at the seal."""
    lines = path.read_text(encoding="utf-8").splitlines()
    if path.suffix == ".jsonl":
        rows = [json.loads(line) for line in lines]
        return "".join(json.dumps({k: v for k, v in row.items() if k != "seal"}) + "\n" for row in rows).encode()
    cells = list(csv.reader(lines))
    place = cells[0].index("seal")
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(row[:place] + row[place + 1 :] for row in cells)
    return text.getvalue().encode()


def other_words(data: bytes, dice: random.Random) -> bytes:
    """Some words of a text left out, doubled, exchanged, or replaced by odd ones: what bytes alone rarely hit on."""
    words = TOKEN.findall(data) or [b""]
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        at, other = dice.randrange(len(words)), dice.randrange(len(words))
        how = dice.randrange(5)
        if how == 0:
            words[at] = dice.choice(ODD)
        elif how == 1:
            words[at] = words[other]
        elif how == 2:
            low, high = sorted((at, other))
            del words[low : min(high, low + dice.randrange(1, 12))]
            words = words or [b""]
        elif how == 3:
            words.insert(at, dice.choice(ODD))
        else:
            low, high = sorted((at, other))
            words[low:low] = words[low : min(high, low + 30)]
    return b"".join(words)


def fuzz(name: str, folder: Path, seconds: int) -> None:
    """The one process that looks: never ends by a traceback, writes each different one down."""
    import atheris

    with atheris.instrument_imports(include=["heldtrue"], enable_loader_override=False):
        from readers import read

    seen: set[str] = set()

    def one(data: bytes) -> None:
        try:
            read(name, data)
        except Exception as error:  # noqa: BLE001  this is what is looked for
            last = [frame for frame in traceback.extract_tb(error.__traceback__) if "heldtrue" in frame.filename][-1]
            place = f"{type(error).__name__} {Path(last.filename).name}:{last.lineno}"
            if place not in seen:
                seen.add(place)
                number = hashlib.sha256(data).hexdigest()[:12]
                (folder / "traces" / number).write_bytes(data)
                (folder / "traces" / f"{number}.txt").write_text(f"{place}\n{traceback.format_exc()}")

    options = [f"-max_total_time={seconds}", f"-max_len={LONGEST}", "-print_final_stats=1", "-timeout=60", "-seed=1"]

    def mutate(data: bytes, longest: int, seed: int) -> bytes:
        dice = random.Random(seed)
        if dice.random() < 0.4:
            return atheris.Mutate(data, longest)
        return other_words(data, dice)[:longest]

    atheris.Setup([sys.argv[0], *options, str(folder / "found")], one, custom_mutator=mutate)
    atheris.Fuzz()


def lines_reached(name: str, data: bytes) -> set[tuple[str, int]]:
    """The lines of heldtrue that one input reaches."""
    from readers import read

    reached: set[tuple[str, int]] = set()

    def local(frame: object, event: str, _: object) -> object:
        if event == "line":
            reached.add((frame.f_code.co_filename, frame.f_lineno))
        return local

    def watch(frame: object, event: str, _: object) -> object:
        return local if "heldtrue/" in frame.f_code.co_filename else None

    sys.settrace(watch)
    try:
        read(name, data)
    except Exception:  # noqa: BLE001  kept apart
        pass
    finally:
        sys.settrace(None)
    return reached


def keep(name: str, folder: Path, corpus: Path) -> int:
    """Add to the corpus the smallest inputs that reach lines no smaller one does, and all that brought a traceback."""
    known: set[tuple[str, int]] = set()
    place = corpus / name
    place.mkdir(parents=True, exist_ok=True)
    kept = 0
    old = sorted(place.iterdir())
    for path in old:
        known |= lines_reached(name, path.read_bytes())
    traces = [path for path in (folder / "traces").iterdir() if path.suffix != ".txt"]
    found = sorted((folder / "found").iterdir(), key=lambda path: path.stat().st_size)
    for path in [*traces, *found]:
        data = path.read_bytes()
        if path not in traces and (kept + len(old) >= MOST_KEPT or len(data) > LONGEST_KEPT):
            break
        new = lines_reached(name, data) - known
        if new or path in traces:
            known |= new
            (place / hashlib.sha256(data).hexdigest()[:12]).write_bytes(data)
            kept += 1
    return kept


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--seconds", type=int, default=30)
    asked.add_argument("--only", default="")
    asked.add_argument("--keep", action="store_true")
    asked.add_argument("--one", nargs=2, help=argparse.SUPPRESS)
    given = asked.parse_args()
    if given.one:
        fuzz(given.one[0], Path(given.one[1]), given.seconds)
        return
    from readers import CORPUS, READERS

    started, cases, all_traces = seeds(), 0, 0
    for name in given.only.split(",") if given.only else READERS:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            for one in ("found", "traces"):
                (folder / one).mkdir()
            if (CORPUS / name).is_dir():
                shutil.copytree(CORPUS / name, folder / "found", dirs_exist_ok=True)
            for number, data in enumerate(started[name]):
                (folder / "found" / f"seed{number}").write_bytes(data)
            ran = subprocess.run(
                [sys.executable, __file__, "--one", name, place, "--seconds", str(given.seconds)],
                capture_output=True, text=True, errors="replace", cwd=place,
            )  # fmt: skip
            ran_cases = re.search(r"number_of_executed_units:\s*(\d+)", ran.stderr)
            count = int(ran_cases[1]) if ran_cases else 0
            traces = sorted((folder / "traces").glob("*.txt"))
            kept = keep(name, folder, CORPUS) if given.keep else 0
            print(f"{name:10} {count:>9,} cases {len(traces):>3} tracebacks, {kept} kept", flush=True)
            for path in traces:
                print("    " + path.read_text().replace("\n", "\n    "))
            if not count:
                print(ran.stderr[-2000:])
            cases, all_traces = cases + count, all_traces + len(traces)
    print(f"{'all':10} {cases:>9,} cases {all_traces:>3} tracebacks")


if __name__ == "__main__":
    main()
