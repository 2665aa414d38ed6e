"""Makes the database file of one schema, to be kept: ``python tests/records/assets/make_asset.py 0001``.

Run once for a schema, when it is released, with the program that released it; a file that is kept is never made anew.
The rows are written as they stand, without the models: those belong to the newest schema.
"""

import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import MetaData, insert

from heldtrue.records import schema
from heldtrue.records.database import FILE_NAME, Database

START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)


def day(number):
    return (START + timedelta(days=number)).replace(tzinfo=None)


def rows():
    """One of what matters, in an order in which it can be written."""
    card = {"retired": False, "data": "{}"}
    machine = card | {"id": "M-3", "version": 1, "remark": "", "name": "lathe 3", "max_speed_rpm": 3500.0,
                      "max_swing": None}  # fmt: skip
    jaw_set = card | {"id": "S-12", "version": 2, "remark": "jaw 2 is nicked", "name": "wear ring jaws", "style": "pie",
                      "material": "aluminium 6061-T6", "serration": "1.5 mm x 60 deg", "jaws": 3, "blank": None,
                      "part": None}  # fmt: skip
    document = {"kind": "setup", "format": 1, "program": "0.1.0", "content": {"title": "Wear ring"}}
    setup = card | {"id": "WR-158/20", "version": 1, "remark": "", "title": "Wear ring", "part": None, "revision": "B",
                    "operation": "20", "machine": "M-3", "chuck": None, "jaw_set": "S-12",
                    "document": json.dumps(document), "plan": None}  # fmt: skip
    yield "actions", {"id": "a1", "at": day(0), "by": "Noor", "why": "", "program": "0.1.0"}
    yield "actions", {"id": "a2", "at": day(9), "by": "Ilse", "why": "looked at", "program": "0.1.0"}
    for table, row in (("machines", machine), ("jaw_sets", jaw_set), ("setups", setup)):
        yield table, row
        for version in range(1, row["version"] + 1):
            kept = {k: json.loads(v) if k in ("data", "document") else v for k, v in row.items()}
            kept |= {"version": version} | ({"remark": ""} if version == 1 else {})
            yield "versions", {"kind": table, "thing": row["id"], "version": version, "action": f"a{version}",
                               "document": json.dumps(kept)}  # fmt: skip
    event = {"by": "Noor", "withdrawn": False, "remark": "", "corrects": None, "action": "a1"}
    for number, diameter in ((1, 82.0), (8, 84.0)):
        yield "set_cuts", event | {
            "id": f"c{number}", "at": day(number), "jaw_set": "S-12", "kind": "bore", "side": "outside",
            "diameter": diameter, "depth": 14.0, "machine": "M-3", "chuck": None, "tooth": 9, "jaw_order": "[1,2,3]",
            "pressure": 1.8, "taper": None, "web_left": 9.0, "cuts_left": None, "ring": None, "tool": None,
            "setup": "WR-158/20", "photo": None,
        }  # fmt: skip
    yield "runs", event | {
        "id": "r1", "at": day(2), "setup": "WR-158/20", "setup_version": 1, "machine": "M-3", "chuck": None,
        "jaw_set": "S-12", "decision": None, "rough_pressure": 1.8, "finish_pressure": 0.9, "speed_rpm": 500.0,
        "quantity": 11, "scrap": 1, "lot": "7741", "readings": '{"runout_mm":0.018}', "changed": "[]",
    }  # fmt: skip
    yield "standings", {
        "jaw_set": "S-12", "retired": False, "words": "s-12 wear ring jaws jaw 2 is nicked", "style": "pie",
        "material": "aluminium 6061-T6", "serration": "1.5 mm x 60 deg", "jaws": 3, "part": None, "last_cut": "c8",
        "last_cut_at": day(8), "latest": day(8), "side": "outside", "diameter": 84.0, "depth": 14.0, "machine": "M-3",
        "chuck": None, "tooth": 9, "jaw_order": "[1,2,3]", "web_left": 9.0, "cuts_left": None, "cuts_done": 2,
        "place": "", "holder": "", "condition": "good", "missing": "[]",
    }  # fmt: skip


def main(wanted: str) -> None:
    folder = Path(__file__).parent
    target = folder / f"schema-{wanted}.db"
    if target.exists():
        sys.exit(f"{target} is kept, not made anew")
    database = Database(folder)
    try:
        database.write(lambda connection: schema.migrate(connection, wanted))

        def fill(connection):
            known = MetaData()
            known.reflect(connection)
            for table, row in rows():
                connection.execute(insert(known.tables[table]), row)

        database.write(fill)
    finally:
        database.close()
    (folder / FILE_NAME).rename(target)
    print(target)  # noqa: T201


if __name__ == "__main__":
    main(*sys.argv[1:])
