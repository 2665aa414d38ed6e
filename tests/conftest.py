"""Shared by all four homes of the tests."""

import os
import shutil
import sys
import tempfile
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

os.environ["HELDTRUE_RECORDS"] = str(Path(tempfile.gettempdir()) / "heldtrue-test-records-that-are-not-there")
os.environ.pop("HELDTRUE_BY", None)
if "PYTEST_XDIST_WORKER" not in os.environ:
    # One folder a run: what a run solves is its own, and its processes share it.
    os.environ["HELDTRUE_CACHE"] = tempfile.mkdtemp(prefix="heldtrue-test-jaws-")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does; before anything loads numpy

from heldtrue.planning.setup import Setup
from heldtrue.records import open_store, schema
from heldtrue.records.database import FILE_NAME

# The same examples each time, however slow the machine; ``--hypothesis-profile wander`` tries others.
settings.register_profile("fixed", derandomize=True, database=None, deadline=None,
                          suppress_health_check=[HealthCheck.too_slow])  # fmt: skip
settings.register_profile("wander", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("fixed")

ROOT = Path(__file__).parent.parent
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))


def pytest_unconfigure():
    if "PYTEST_XDIST_WORKER" not in os.environ:
        shutil.rmtree(os.environ["HELDTRUE_CACHE"], ignore_errors=True)


def pytest_addoption(parser):
    parser.addoption("--regenerate", action="store_true", help="write the golden files anew; review the diff")


TOGETHER = {
    **dict.fromkeys(("test_accessible.py", "test_browser.py", "test_plan_browser.py", "test_typing_browser.py"),
                    "browsers"),
    **dict.fromkeys(("test_browser_floor.py", "test_browser_floor_2.py", "test_map_browser.py",
                     "test_solid_browser.py", "test_browser_lost.py", "test_measuring_browser.py"), "more browsers"),
    **dict.fromkeys(("test_compare.py", "test_cli.py", "test_docs.py", "test_same_answer_everywhere.py"), "comparing"),
    **dict.fromkeys(("test_plan.py", "test_golden.py", "test_start_gate.py", "test_floor_sheet.py"), "planning"),
    **dict.fromkeys(("test_boring.py", "test_boring_commands.py", "test_prove_command.py", "test_jaw_drawing.py"),
                    "boring"),
    **dict.fromkeys(("test_shop.py", "test_shop_commands.py", "test_against_records.py", "test_learned_plan.py",
                     "test_measure_commands.py", "test_replan.py", "test_replan_command.py"), "shop"),
    **dict.fromkeys(("test_store.py", "test_finding.py", "test_safekeeping.py", "test_plain_files.py",
                     "test_reliability.py", "test_since_last_run.py", "test_replans.py"), "records"),
}  # fmt: skip
"""Files for one process: browsers share a server, records a database server, and a part solved once is kept."""


def together(nodeid):
    """What is given to one process as a whole, so that fixtures are made once: a file, or a few of them."""
    file = nodeid.partition("::")[0]
    return TOGETHER.get(Path(file).name, file)


def pytest_collection_modifyitems(items):
    """What takes long comes first, so that no process is left alone with it at the end."""
    first = ("browsers", "more browsers", "comparing", "records", "planning", "boring", "shop")
    items.sort(key=lambda item: first.index(together(item.nodeid)) if together(item.nodeid) in first else len(first))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    from xdist.scheduler import LoadScopeScheduling

    class InOrder(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return together(nodeid)

    config.option.loadscopereorder = False
    return InOrder(config, log)


def longer(*cases):
    """Cases of a kind that ``make test`` leaves to ``make test-long``; a tuple has the arguments of one case."""
    return [pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=pytest.mark.long) for case in cases]


def example(name: str) -> Setup:
    """One of the shipped setups."""
    return Setup.from_toml(ROOT / "examples" / f"{name}.toml")


@cache
def planned(name: str):
    """The plan of a shipped setup, worked out once by each process of the tests."""
    from heldtrue.planning.plan import plan

    return plan(example(name))


def floor(setup: Setup) -> float:
    """The least pressure for all cuts together, which holds alone decide: a plan looks for the most as well. [MPa]"""
    from heldtrue.planning.judge import Step
    from heldtrue.planning.study import Study
    from heldtrue.planning.window import floors

    study = Study.of(setup)
    step = Step("all cuts", tuple(cut.name for cut in setup.cuts), True)
    return max(pressure for pressure, _ in floors(study, step, study.speed, study.held))


@pytest.fixture(scope="session")
def pie_ways():
    """Every way to hold the wear ring in pie jaws, best first."""
    from heldtrue import compare

    return compare(example("wear-ring"), ["pie"])


@pytest.fixture(scope="session")
def wear_ring() -> Setup:
    return example("wear-ring")


@pytest.fixture(scope="session")
def winch_shaft() -> Setup:
    return example("winch-shaft")


@pytest.fixture
def only_styles(monkeypatch):
    """``only_styles("pie")``: whoever compares leaves the other styles out, where what is tested is not the choice.

    ``jaws``: counts that are tried beside the stated one.  A search for ways takes only the whole of each surface, and
    plans two.
    """

    def leave_out(*styles, jaws=(3, 6)):
        from heldtrue.planning.compare import compare

        module = sys.modules[compare.__module__]
        monkeypatch.setattr(module, "JAW_COUNTS", jaws)
        monkeypatch.setattr(module, "compare", lambda setup, **more: compare(setup, styles, **more))
        from heldtrue.planning import way_space
        from heldtrue.planning.ways import Search

        search = sys.modules[Search.__module__]
        monkeypatch.setattr(way_space, "COUNTS", (3,))
        monkeypatch.setattr(way_space, "SHARES", (1.0,))
        monkeypatch.setattr(search, "MOST_PLANNED", 2)
        monkeypatch.setattr(search.Search.begin, "__defaults__", (styles,))

    return leave_out


NOT_OF_THE_PLAN = ("last_cut", "tooth", "cuts_done", "in_order", "bolt", "bolt_class")
"""Of the jaws what only their cutting asks for."""
_planned = {}


@pytest.fixture(scope="module")
def planned_once():
    """Cutting jaws asks for the plan of the part: once for setups that differ only in what the jaws are cut with."""
    from heldtrue.planning import boring

    really = boring.plan_study

    def plan_study(study, *, helped):
        table = study.job.setup.to_dict()
        table.pop("boring", None)
        for name in NOT_OF_THE_PLAN:
            table["jaws"].pop(name, None)
        key = repr((table, study.job.setup.contrary, study.is_quick, helped))
        if key not in _planned:
            _planned[key] = really(study, helped=helped)
        return _planned[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(boring, "plan_study", plan_study)
        yield


@pytest.fixture(scope="session")
def made_folder(tmp_path_factory):
    """A folder of records with the tables made, to be copied."""
    folder = tmp_path_factory.mktemp("made")
    open_store(folder).close()
    return folder


@pytest.fixture(scope="module", autouse=True)
def tables_made_once(made_folder):
    """New records in a folder are a copy: to run the migrations anew for each test takes half its time.

    That they make those tables is tested in ``records``, which runs them.
    """
    really = schema._make_folder

    def copied(folder):
        really(folder)
        shutil.copyfile(made_folder / FILE_NAME, folder / FILE_NAME)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schema, "_make_folder", copied)
        yield


def assert_same_checks(ours, theirs):
    """The same checks with the same answers; the last digits of a contact depend on those solved before it."""
    said = [[(c.name, c.state, c.decided_by, c.source, c.kind, c.group, c.subject, c.detail) for c in checks]
            for checks in (ours, theirs)]  # fmt: skip
    assert said[0] == said[1]
    for one, other in zip(ours, theirs, strict=True):
        figures = [(c.value, c.limit, c.margin, c.best_margin, *(r.margin for r in c.rules)) for c in (one, other)]
        assert figures[0] == pytest.approx(figures[1], rel=1e-9, abs=1e-12), one.name
