"""What a shop's computer does to its disk, each as three steps: prepare a folder, do it, look whether all is as told.

``rig`` does them on a disk that fails, and on one whose power is cut.  ``do`` acknowledges with ``told(name)`` what the
program said was kept; ``look`` gives every fault in words, empty is good.
"""

import dataclasses
import shutil
from contextlib import closing
from pathlib import Path

from shop import cards, cut, day, move

from heldtrue import files
from heldtrue.errors import HeldtrueError, StorageError
from heldtrue.file_sets import replace_set, standing
from heldtrue.files import write_all
from heldtrue.records.database import FILE_NAME
from heldtrue.records.events import Photo, SetCut, SetMove
from heldtrue.records.plain_files import export_to, import_from
from heldtrue.records.safekeeping import backup, restore
from heldtrue.records.schema import BACKUPS
from heldtrue.records.store import open_store
from heldtrue.records.things import MachineRecord, Tag
from heldtrue.web.access.accounts import Accounts
from heldtrue.web.drafts import Drafts, SavedElsewhereError

ASSETS = Path(__file__).parent / "assets"
ACTIONS = 5
PASSWORD = "seven winches on the dyke"


class Deed:
    """Nothing yet."""

    def prepare(self, folder):
        pass

    def do(self, folder, told):
        raise NotImplementedError

    def look(self, folder, told):
        raise NotImplementedError


def try_each(told, steps):
    """Every step, whatever became of the one before; what was said is kept."""
    for name, step in steps:
        try:
            step()
        except HeldtrueError as error:
            told.said(error)
        else:
            told(name)


def act(store, n):
    machine = store.get(MachineRecord, "M-3")
    store.write(
        cut(at=day(n), id=f"cut-{n}"), move("moved", at=day(n), id=f"move-{n}", place=f"shelf {n}"),
        Photo.of(bytes([n]) * 9_000, at=day(n), by="Noor"),
        dataclasses.replace(machine, data={"n": [*machine.data.get("n", ()), n]}), by="Noor", why=str(n),
    )  # fmt: skip


def acted(folder):
    """Numbers of the actions that are whole in the records, and every fault."""
    with open_store(folder, create=False) as store:
        wrong = [f"check: {one.where}: {one.words}" for one in store.check()]
        cuts = {row.id.split("-")[1] for row in store.events(SetCut)}
        moves = {row.id.split("-")[1] for row in store.events(SetMove)}
        photos = {str(row.content[0]) for row in store.events(Photo)}
        edits = {str(n) for n in store.get(MachineRecord, "M-3").data.get("n", ())}
    if not cuts == moves == photos == edits:
        wrong.append(f"half an action: cuts {cuts}, moves {moves}, pictures {photos}, edits {edits}")
    return cuts, wrong


def lost(told, there):
    return [f"acknowledged and lost: {name}" for name in sorted(told.names - there)]


def parts_in(folder, told):
    """What a deed that ended, well or not, left behind; where it could not take it away, the next day's sweep does."""
    if told.was_cut or told.could_not_clean:
        a_day, files.SWEPT_AFTER = files.SWEPT_AFTER, -1.0
        for place in [folder, *folder.rglob("*/")]:
            if place.is_dir():
                files.sweep(place)
        files.SWEPT_AFTER = a_day
    return [f"left behind: {path.relative_to(folder)}" for path in sorted(folder.rglob("*")) if "part-" in path.name]


class Write(Deed):
    """Entries into records that are there."""

    def prepare(self, folder):
        with open_store(folder) as store:
            store.write(*cards(), by="Noor")

    def do(self, folder, told):
        def steps(store):
            return [(str(n), lambda n=n: act(store, n)) for n in range(ACTIONS)]

        try:
            store = open_store(folder)
        except HeldtrueError as error:
            told.said(error)
            store = open_store(folder)  # the second try of somebody who was told
        with store:
            try_each(told, steps(store))

    def look(self, folder, told):
        there, wrong = acted(folder)
        told.extra = there - told.names
        return wrong + lost(told, there)


class FirstEntry(Deed):
    """A folder that is not there yet."""

    def do(self, folder, told):
        for n in range(3):
            try:
                with open_store(folder / "shop") as store:
                    store.write(Tag(id=f"T-{n}"), by="Noor")
                told(f"T-{n}")
            except HeldtrueError as error:
                told.said(error)

    def look(self, folder, told):
        if not (folder / "shop" / FILE_NAME).exists():
            return lost(told, set())
        with open_store(folder / "shop") as store:
            there = {tag.id for tag in store.all(Tag)}
            return lost(told, there) + [f"check: {one.words}" for one in store.check()]


class Upgrade(Deed):
    """Records of an older schema, opened."""

    def prepare(self, folder):
        shutil.copy(ASSETS / "schema-0001.db", folder / FILE_NAME)

    def do(self, folder, told):
        for n in range(2):
            try:
                with open_store(folder) as store:
                    told("upgraded")
                    store.write(Tag(id=f"T-{n}"), by="Noor")
                    told(f"T-{n}")
            except HeldtrueError as error:
                told.said(error)

    def look(self, folder, told):
        wrong = []
        if "upgraded" in told.names and not list((folder / BACKUPS).glob("before-upgrade*.db")):
            wrong.append("upgraded, but the copy of the file before is not there")
        with open_store(folder) as store:
            there = {tag.id for tag in store.all(Tag)} | {"upgraded"}
            wrong += [f"check: {one.words}" for one in store.check()]
            if [row.diameter for row in store.events(SetCut, jaw_set="S-12")] != [82.0, 84.0]:
                wrong.append("the cuts of the old file are not all there")
        for copy in (folder / BACKUPS).glob("*.db"):
            shutil.rmtree(folder.with_name("again"), ignore_errors=True)
            restore(copy, folder.with_name("again"))
        return wrong + lost(told, there) + parts_in(folder, told)


class Filled(Deed):
    """Records with entries in them."""

    def prepare(self, folder):
        with open_store(folder / "shop") as store:
            store.write(*cards(), by="Noor")
            for n in range(3):
                act(store, n)

    def records(self, folder):
        there, wrong = acted(folder / "shop")
        return wrong + [f"lost from the records: {n}" for n in {"0", "1", "2"} - there]


class BackUp(Filled):
    """A copy made; it is whole or not there."""

    def do(self, folder, told):
        with open_store(folder / "shop") as store:
            try_each(told, [("copied", lambda: backup(store, folder / "safe"))])

    def look(self, folder, told):
        copies = list((folder / "safe").glob("*.db"))
        wrong = self.records(folder) + parts_in(folder, told)
        for n, copy in enumerate(copies):
            restore(copy, folder / f"again{n}")
            there, more = acted(folder / f"again{n}")
            wrong += more + [f"the back-up lacks {n}" for n in {"0", "1", "2"} - there]
        return wrong + lost(told, {"copied"} if copies else set())


class Restore(Filled):
    """A back-up brought back over records that have more in them; either the old ones stand or the restored do."""

    form = "copy"

    def prepare(self, folder):
        super().prepare(folder)
        with open_store(folder / "shop") as store:
            made = (
                backup(store, folder / "safe") if self.form == "copy" else export_to(store, folder / "safe" / "plain")
            )
            made.rename(folder / "kept")
            for n in range(3, 6):
                act(store, n)

    def do(self, folder, told):
        try_each(told, [("restored", lambda: restore(folder / "kept", folder / "shop", replace=True))])

    def look(self, folder, told):
        there, wrong = acted(folder / "shop")
        old, new = {str(n) for n in range(6)}, {"0", "1", "2"}
        if there not in (old, new):
            wrong.append(f"neither the old records nor the restored ones: {sorted(there)}")
        if "restored" in told.names and there != new:
            wrong.append("acknowledged and lost: restored")
        asides = list((folder / "shop" / BACKUPS).glob("before-restore*.db"))
        if there == new and not asides:
            wrong.append("what was there before is gone")
        for n, aside in enumerate(asides):
            if there == new or "restored" in told.names:
                restore(aside, folder / f"again{n}")
                found, more = acted(folder / f"again{n}")
                wrong += more + ([] if found == old else ["what was set aside is not whole"])
        return wrong + parts_in(folder, told)


class RestoreExport(Restore):
    """The same from plain files."""

    form = "export"


class Export(Filled):
    """Plain files made; whole or not there."""

    def do(self, folder, told):
        with open_store(folder / "shop") as store:
            try_each(told, [("exported", lambda: export_to(store, folder / "plain"))])

    def look(self, folder, told):
        wrong = self.records(folder) + parts_in(folder, told)
        if not (folder / "plain").exists():
            return wrong + lost(told, set())
        with open_store(folder / "again") as store:
            import_from(store, folder / "plain")
        there, more = acted(folder / "again")
        return wrong + more + [f"the export lacks {n}" for n in {"0", "1", "2"} - there]


class Import(Filled):
    """Plain files brought into new records: all of it or nothing."""

    def prepare(self, folder):
        super().prepare(folder)
        with open_store(folder / "shop") as store:
            export_to(store, folder / "plain")

    def do(self, folder, told):
        def bring():
            with open_store(folder / "new") as store:
                import_from(store, folder / "plain")

        try_each(told, [("imported", bring)])

    def look(self, folder, told):
        if not (folder / "new" / FILE_NAME).exists():
            return lost(told, set())
        with open_store(folder / "new") as store:
            empty = not store.all(MachineRecord)
            wrong = [f"check: {one.words}" for one in store.check()]
        if empty:
            return wrong + lost(told, set())
        there, more = acted(folder / "new")
        return wrong + more + ([] if there == {"0", "1", "2"} else ["half an import"])


class SaveDrafts(Deed):
    """A draft typed and saved with every field; a second one made."""

    def prepare(self, folder):
        Drafts(folder / "drafts").new("ring", {"title": "0"})
        Drafts(folder / "drafts").new("old", {"title": "old"})

    def do(self, folder, told):
        drafts = Drafts(folder / "drafts")

        def save(n):
            draft = drafts.get("ring")
            draft.table = {"title": str(n)}
            try:
                drafts.save(draft)
            except SavedElsewhereError as error:
                raise AssertionError("what was typed is thrown away: nobody else saved") from error

        try_each(told, [(str(n), lambda n=n: save(n)) for n in range(1, 4)])
        try_each(told, [("flange", lambda: drafts.new("flange", {"title": "flange"}))])
        try_each(told, [("gone", lambda: drafts.remove("old"))])

    def look(self, folder, told):
        drafts = Drafts(folder / "drafts")
        stands = drafts.get("ring").table["title"]
        newest = max((name for name in told.names if name.isdigit()), default="0")
        wrong = [] if int(stands) >= int(newest) else [f"acknowledged and lost: {newest}, {stands} stands"]
        there = {"flange"} & set(drafts.ids()) | ({"gone"} - {"gone" for id in drafts.ids() if id == "old"})
        if "flange" in there and drafts.get("flange").table != {"title": "flange"}:
            wrong.append("half a draft")
        return wrong + lost(told, there | {"1", "2", "3"}) + parts_in(folder, told)


class Let(Deed):
    """People let in, taken out again, and the trail of it."""

    def prepare(self, folder):
        with closing(Accounts(folder)) as accounts:
            accounts.add("Noor", "administer", PASSWORD, by="Noor")
            accounts.add("Ilse", "look", PASSWORD, by="Noor")

    def do(self, folder, told):
        try:
            accounts = Accounts(folder)
        except HeldtrueError as error:
            told.said(error)
            accounts = Accounts(folder)
        with closing(accounts):
            try_each(told, [("out", lambda: accounts.remove("Ilse", by="Noor"))])
            try_each(told, [(f"note {n}", lambda n=n: self._note(accounts, f"note {n}")) for n in range(3)])

    def _note(self, accounts, what):
        """A line that is on disk; one that is owed, as the disk refused it, was not acknowledged."""
        accounts.note("Noor", what)
        if accounts.owes:
            raise StorageError(f"{what} is owed")

    def look(self, folder, told):
        with closing(Accounts(folder)) as accounts:
            there = {line.what for line in accounts.trail()}
            if not any(person.name == "Ilse" for person in accounts.people()):
                there.add("out")
                if "person removed" not in there:
                    return ["half an action: removed without a trace"]
            return lost(told, there)


class Sheets(Deed):
    """Output files written over old ones."""

    NAMES = ("sheet.pdf", "jaw.dxf", "jaw.svg")

    def prepare(self, folder):
        write_all({folder / name: f"old {name}" * 400 for name in self.NAMES})

    def do(self, folder, told):
        new = {folder / name: f"new {name}" * 400 for name in self.NAMES}
        try_each(told, [("files", lambda: write_all(new))])
        try_each(told, [("more", lambda: write_all({folder / "a" / "b" / "more": "more" * 400}, make_folders=True))])

    def look(self, folder, told):
        wrong = parts_in(folder, told)
        ages = set()
        for name in self.NAMES:
            text = (folder / name).read_text() if (folder / name).exists() else ""
            if text not in (f"old {name}" * 400, f"new {name}" * 400):
                wrong.append(f"{name} is neither the old nor the new one")
            ages.add(text[:3])
        if "files" in told.names and ages != {"new"}:
            wrong.append("acknowledged and lost: files")
        if "files" not in told.names and len(ages) > 1 and not told.was_cut:
            wrong.append("some files are new, some old, and it was said that they cannot be written")
        more = folder / "a" / "b" / "more"
        if more.exists() and more.read_text() != "more" * 400:
            wrong.append("half a file")
        if not more.exists() and (folder / "a").exists() and not told.was_cut:
            wrong.append("left behind: a folder for a file that is not there")
        return wrong + lost(told, {"files"} | ({"more"} if more.exists() else set()))


OLD_SET = {name: f"old {name}" * 300 for name in ("bore-J-1.nc", "proof.json", "jaw.svg", "steps.txt")}
NEW_SET = {name: f"new {name}" * 300 for name in ("bore-J-1.nc", "proof.json", "bore.json", "steps.txt")}


class JawCut(Deed):
    """A set of files for the machine put in place of another, a file among them changed by hand since."""

    @staticmethod
    def put(folder, files):
        return replace_set(folder, files, is_program=lambda name: name.endswith(".nc"))

    def prepare(self, folder):
        self.put(folder / "jaws", OLD_SET)
        for name, text in (("notes.txt", "mine"), ("steps.txt", "with a remark")):
            (folder / "jaws" / name).write_text(text)

    def do(self, folder, told):
        try_each(told, [("set", lambda: self.put(folder / "jaws", NEW_SET))])

    def look(self, folder, told):
        folder = folder / "jaws"
        found = standing(folder)
        wrong = parts_in(folder, told)
        there = {path.name: path.read_text() for path in folder.iterdir() if "part-" not in path.name}
        if there.get("notes.txt") != "mine" or "with a remark" not in there.values():
            wrong.append("what somebody else wrote, or changed, is gone")
        sets = [all(there.get(name) == text for name, text in one.items() if name != "steps.txt")
                for one in (OLD_SET, NEW_SET)]  # fmt: skip
        if found.complete and not any(sets):
            wrong.append(f"said to be one whole set: {sorted(there)}")
        if "bore-J-1.nc" in there and not any(sets):
            wrong.append("a program beside files of another set")
        if "set" in told.names and not (found.whole and sets[1]):
            wrong.append("acknowledged and lost: the new set")
        if "set" not in told.names and not told.was_cut and not told.could_not_clean and not sets[0] and found.complete:
            wrong.append("it was said that it cannot be written, and the old set is not there")
        self.put(folder, NEW_SET)
        if not standing(folder).whole:
            wrong.append("the next run does not make it whole")
        return wrong


DEEDS = {
    deed.__name__: deed
    for deed in (
        Write, FirstEntry, Upgrade, BackUp, Restore, RestoreExport, Export, Import, SaveDrafts, Let, Sheets, JawCut
    )
}  # fmt: skip
