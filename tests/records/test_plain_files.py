"""Everything out to plain files and in again; and what happens to files that somebody has had in hand."""

import csv
import dataclasses
import json
import random
import shutil

import pytest

from heldtrue.errors import InputError
from heldtrue.records.bulk import kept_tables
from heldtrue.records.dictionary import DICTIONARY, without_unit
from heldtrue.records.errors import StoreVersionError
from heldtrue.records.events import SetCut
from heldtrue.records.plain_files import MANIFEST, export_to, import_from
from heldtrue.records.safekeeping import copy_store
from heldtrue.records.store import open_store
from heldtrue.records.things import ActuatorRecord, JawSet, MachineRecord, Tag

from .conftest import new_database
from .shop import cards, cut, day, move
from .test_store import one_of_each

NASTY = ("=1+1", "+1", "-1", "@sum", "'quoted", "\tx", 'a,b;c"d"', "two\nlines\r\n", "Ø – 爪 🔩", " ", "", "''", "=\n")


def fill(store):
    store.write(*cards(), ActuatorRecord(id="A-1", pull_area=9_500.25, gauge="bar"), by="Noor", why="=HYPERLINK(1)")
    store.write(*one_of_each(), by="Ilse")
    for number, text in enumerate(NASTY):
        card = MachineRecord(
            id=f"=M-{number}" if number % 2 else f"M.{number}", name=text, remark=text, data={text: text}
        )
        (written,) = store.write(card, by=text.strip() or "Noor", why=text)
        store.write(dataclasses.replace(written, max_swing=450.125 / 3), by="Noor")
    store.write(Tag(id="T-1", jaw_set="S-12", printed_at=day(2)), Tag(id="T-2"), by="Noor")
    wrong = cut(at=day(4))
    store.write(wrong, move("in", place="-"), by="Noor")
    store.write(cut(at=day(4), diameter=1 / 3, corrects=wrong.id), by="Noor")


def everything(store):
    rows = []
    store.read_rows(lambda found: rows.extend(found))
    return rows


@pytest.fixture
def full(store):
    fill(store)
    return store


@pytest.mark.parametrize("form", ["jsonl", pytest.param("csv", marks=pytest.mark.long)])
def test_out_and_in_again_is_identical(full, form, tmp_path, request):
    out = export_to(full, tmp_path / "out", form)
    with open_store(tmp_path / "other") as sqlite, open_store(new_database(request)) as postgres:
        for other in (sqlite, postgres):
            assert import_from(other, out) == len(everything(full))
            assert everything(other) == everything(full)
            assert other.standing("S-12") == full.standing("S-12")
            assert other.check() == ()
        again = export_to(postgres, tmp_path / "again", form)
    for file in out.iterdir():
        assert (again / file.name).read_bytes() == file.read_bytes()


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_every_column_is_explained_and_every_number_has_a_unit(full, tmp_path, form):
    out = export_to(full, tmp_path / "out", form)
    with (out / DICTIONARY).open(encoding="utf-8", newline="") as lines:
        said = {(row["table"], row["column"]): row for row in csv.DictReader(lines)}
    for table in kept_tables():
        assert {name for where, name in said if where == table.name} == set(table.c.keys())
    assert without_unit() == []
    assert (said["set_cuts", "diameter"]["unit"], said["gauge_readings", "force"]["unit"]) == ("mm", "N")
    assert said["indicator_readings", "angles"]["unit"] == "rad"
    assert all(row["meaning"] for row in said.values())


def test_no_cell_is_run_by_a_spreadsheet(full, tmp_path):
    out = export_to(full, tmp_path / "out", "csv")
    cells = 0
    for file in out.glob("*.csv"):
        with file.open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines):
                for name, cell in row.items():
                    cells += 1
                    if name not in ("diameter", "taper", "z"):
                        assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")), (file.name, name, cell)
    assert cells > 500


def test_every_table_is_filled_in_this_test(full):
    assert {name for name, _ in everything(full)} == {table.name for table in kept_tables()}


def test_a_store_that_is_not_empty_takes_nothing(full, tmp_path):
    out, before = export_to(full, tmp_path / "out"), everything(full)
    with pytest.raises(InputError, match="not empty"):
        import_from(full, out)
    assert everything(full) == before


def test_an_export_needs_a_new_folder(full, tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "x").write_text("x")
    with pytest.raises(InputError, match="needs a new folder"):
        export_to(full, tmp_path / "there")
    assert [file.name for file in (tmp_path / "there").iterdir()] == ["x"]
    with pytest.raises(InputError, match="must be jsonl or csv"):
        export_to(full, tmp_path / "new", "xml")


def test_the_other_way_round(full, place, tmp_path, request):
    full.close()
    target = tmp_path / "copied" if "://" in str(place) else new_database(request)
    count = copy_store(place, target)
    with open_store(place) as before, open_store(target) as after:
        assert everything(after) == everything(before)
        assert len(everything(before)) == count
        assert after.events(SetCut) == before.events(SetCut)
        (written,) = after.write(dataclasses.replace(after.get(JawSet, "S-12"), remark="new"), by="Noor")
        assert written.version == 2
    with pytest.raises(InputError, match="not empty"):
        copy_store(place, target)


# ---- files somebody has had in hand: an error with its line, nothing imported


@pytest.fixture(scope="session", params=["jsonl", "csv"])
def exported(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("exported")
    with open_store(folder / "shop") as store:
        fill(store)
        return export_to(store, folder / "out", request.param)


@pytest.fixture
def broken(exported, tmp_path):
    return shutil.copytree(exported, tmp_path / "broken")


def refused(folder, broken, words, error=InputError):
    """The import says so, and nothing of it is there."""
    with open_store(folder) as store:
        with pytest.raises(error, match=words) as caught:
            import_from(store, broken)
        assert everything(store) == []
    return str(caught.value)


def file_of(broken, table):
    (path,) = broken.glob(f"{table}.*")
    return path


def lines_of(path):
    return path.read_bytes().split(b"\n")


def row_line(path, start):
    """Number of the line of a table on which a row begins."""
    return next(n for n, line in enumerate(lines_of(path), 1) if start.encode() in line)


def test_a_row_that_is_there_twice(folder, broken):
    path = file_of(broken, "jaw_sets")
    lines = lines_of(path)
    path.write_bytes(b"\n".join([*lines[:-1], lines[-2], b""]))
    refused(folder, broken, rf"jaw_sets\.\w+, line {len(lines)}: S-13 is there twice")


def test_a_file_cut_off_in_a_line_and_between_two(folder, broken):
    path = file_of(broken, "set_cuts")
    whole = path.read_bytes()
    path.write_bytes(whole[:-5])
    refused(folder, broken, r"set_cuts\.\w+, line \d+: the line is cut off")
    path.write_bytes(b"\n".join(whole.split(b"\n")[:-2]) + b"\n")
    refused(folder, broken, r"set_cuts\.\w+, line \d+: the file ends after 2 rows, the manifest counts 3")
    path.unlink()
    refused(folder, broken, r"cannot read .*set_cuts")


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_another_encoding(folder, broken, encoding):
    path = file_of(broken, "revisions")
    text = path.read_text(encoding="utf-8").replace("→", "Ø")
    path.write_bytes(text.encode(encoding))
    said = refused(folder, broken, r"revisions\.\w+, line \d+: .*(not UTF-8|NUL characters)")
    line = row_line(file_of(broken, "revisions"), "") if encoding == "utf-16" else row_line(path, "seal land")
    assert f"line {line}:" in said


def test_a_reference_to_nothing(folder, broken):
    path = file_of(broken, "set_cuts")
    line = row_line(path, "C-250")
    path.write_bytes(path.read_bytes().replace(b"C-250", b"C-999"))
    refused(folder, broken, rf"set_cuts\.\w+, line {line}: chuck 'C-999' is not in chucks")


def test_a_value_that_cannot_be(folder, broken):
    path = file_of(broken, "set_cuts")
    line = row_line(path, "82.0")
    path.write_bytes(path.read_bytes().replace(b"82.0", b"-82.0", 1))
    refused(folder, broken, rf"set_cuts\.\w+, line {line}: setcut: diameter -82.0 must be a number, more than 0")
    path.write_bytes(path.read_bytes().replace(b"-82.0", b"NaN", 1))
    refused(folder, broken, rf"set_cuts\.\w+, line {line}")
    path.write_bytes(path.read_bytes().replace(b"NaN", b"oops", 1))
    refused(folder, broken, rf"set_cuts\.\w+, line {line}")


def test_a_card_changed_by_hand_has_no_such_version(folder, broken):
    path = file_of(broken, "jaw_sets")
    path.write_bytes(path.read_bytes().replace(b"wear ring jaws", b"something else"))
    refused(folder, broken, r"jaw_sets\.\w+, line \d+: this row is not as it was exported")


def test_a_row_taken_out_by_hand_is_missed(folder, broken):
    """With its count in the manifest put right: only the chain knows."""
    path, manifest = file_of(broken, "set_moves"), json.loads((broken / MANIFEST).read_text())
    path.write_bytes(b"\n".join([*lines_of(path)[:-2], b""]))
    manifest["rows"]["set_moves"] -= 1
    (broken / MANIFEST).write_text(json.dumps(manifest))
    refused(folder, broken, r"actions \w+: not all that was written by it is there")


def test_an_export_of_a_newer_program(folder, broken):
    manifest = json.loads((broken / MANIFEST).read_text())
    (broken / MANIFEST).write_text(json.dumps(manifest | {"schema": "9999"}))
    refused(folder, broken, "a newer heldtrue wrote it", StoreVersionError)
    (broken / MANIFEST).write_text(json.dumps(manifest)[:-9])
    refused(folder, broken, "line 1: this is not the manifest")
    (broken / MANIFEST).unlink()
    refused(folder, broken, "is not an export")


def test_an_export_of_an_older_schema_comes_in(folder, broken):
    manifest = json.loads((broken / MANIFEST).read_text())
    del manifest["rows"]["tags"]
    (broken / MANIFEST).write_text(json.dumps(manifest))
    refused(folder, broken, "the rows of tags are not counted")
    without_seals(broken, manifest)
    (broken / MANIFEST).write_text(json.dumps(manifest | {"schema": "0001"}))
    refused(folder, broken, r"tags T-\d: its versions are kept, the card itself is not there")


def test_an_export_from_before_seals_is_sealed_as_it_comes_in(folder, exported, broken, tmp_path):
    manifest = json.loads((broken / MANIFEST).read_text())
    without_seals(broken, manifest)
    (broken / MANIFEST).write_text(json.dumps(manifest | {"schema": "0002"}))
    with open_store(folder) as store, open_store(tmp_path / "same") as same:
        import_from(store, broken)
        import_from(same, exported)
        assert store.check() == ()
        rows, wanted = everything(store), everything(same)
        assert [row for row in rows if row[0] != "links"] == [row for row in wanted if row[0] != "links"]
        store.write(Tag(id="T-9"), by="Noor")
        assert store.check() == ()


def without_seals(folder, manifest):
    """An export as it was before rows had seals."""
    del manifest["rows"]["links"]
    file_of(folder, "links").unlink()
    for path in folder.glob("*.jsonl"):
        rows = [json.loads(line) for line in path.read_bytes().split(b"\n")[:-1]]
        path.write_text("".join(json.dumps({k: v for k, v in row.items() if k != "seal"}) + "\n" for row in rows))
    for path in set(folder.glob("*.csv")) - {folder / DICTIONARY}:
        with path.open(newline="", encoding="utf-8") as lines:
            rows = list(csv.reader(lines))
        place = rows[0].index("seal")
        with path.open("w", newline="", encoding="utf-8") as lines:
            csv.writer(lines, lineterminator="\n").writerows(row[:place] + row[place + 1 :] for row in rows)


def test_formulas_are_refused(folder, broken):
    path = file_of(broken, "machines")
    if path.suffix != ".csv":
        pytest.skip("JSON has no formulas")
    line = row_line(path, "lathe 3")
    path.write_bytes(path.read_bytes().replace(b"lathe 3", b"=cmd|' /C calc'!A0"))
    refused(folder, broken, rf"machines.csv, line {line}, name: the cell begins like a formula")


def test_cells_too_many_or_too_few(folder, broken):
    path = file_of(broken, "machines")
    lines = lines_of(path)
    if path.suffix == ".csv":
        path.write_bytes(b"\n".join([lines[0], lines[1] + b",x", *lines[2:]]))
        refused(folder, broken, r"machines.csv, line 2: 10 cells, 9 columns")
        path.write_bytes(b"\n".join([lines[0].replace(b"name", b"nmae"), *lines[1:]]))
        refused(folder, broken, r"machines.csv, line 1: the first line must be")
    else:
        path.write_bytes(b"\n".join([lines[0].replace(b'"name"', b'"nmae"'), *lines[1:]]))
        refused(folder, broken, r"machines.jsonl, line 1: a row of machines has")
        path.write_bytes(b"\n".join([b"[" * 100_000, *lines[1:]]))
        refused(folder, broken, r"machines.jsonl, line 1: this is not JSON")


def test_slips_of_a_finger(folder, exported, tmp_path):
    """Bytes lost, doubled or changed anywhere: refused, or imported sound; never half, never another error."""
    random.seed(5)
    files = sorted(file for file in exported.iterdir() if file.stat().st_size)
    broken, said = tmp_path / "broken", []
    shutil.copytree(exported, broken)
    with open_store(folder) as store:
        for _ in range(40):
            file = random.choice(files)
            whole = file.read_bytes()
            at, size = random.randrange(len(whole)), random.randrange(1, 9)
            junk = random.choice([b"", bytes(random.randbytes(size)), whole[at : at + size] * 2, b"\n", b'"', b"="])
            (broken / file.name).write_bytes(whole[:at] + junk + whole[at + size :])
            try:
                import_from(store, broken)
            except (InputError, StoreVersionError) as error:
                said.append(str(error))
                assert everything(store) == []
            else:  # a slip in a remark leaves a sound export
                assert store.check() == ()
                break
            (broken / file.name).write_bytes(whole)
    assert len(said) > 3
    assert all("line" in words or "version" in words for words in said)


@pytest.mark.parametrize("change", [{"schema": 3}, {"format": "1"}, {"form": ["csv"]}, {"rows": []}])
def test_a_manifest_of_another_shape(folder, broken, change):
    manifest = json.loads((broken / MANIFEST).read_text())
    (broken / MANIFEST).write_text(json.dumps(manifest | change))
    refused(folder, broken, "line 1: this is not the manifest")


@pytest.mark.parametrize("at", [0, -1, True, "1", None])
def test_a_document_of_no_known_format(at):
    from heldtrue.records.documents import open_plan

    with pytest.raises(InputError, match="this is not the document of a plan"):
        open_plan({"kind": "plan", "format": at, "content": {}})
