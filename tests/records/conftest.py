"""One suite, two databases: every test that asks for ``store`` or ``place`` runs on both."""

import shutil
from itertools import count

import pytest

from heldtrue.records.store import open_store

from . import cluster as clusters

_numbers = count(1)


@pytest.fixture(scope="session")
def cluster():
    reason = clusters.why_not()
    if reason and clusters.REQUIRED:
        pytest.fail(f"HELDTRUE_REQUIRE_POSTGRES=1, but {reason}")
    if reason:
        pytest.skip(reason)
    server = clusters.Cluster()
    yield server
    server.stop()


@pytest.fixture(scope="session")
def template(cluster):
    """A database with the tables made, to be copied."""
    cluster.sql("CREATE DATABASE made")
    open_store(cluster.url("made")).close()
    return "made"


@pytest.fixture(scope="module", autouse=True)
def tables_made_once():
    """Here the migrations run each time that records begin, as in a shop."""


@pytest.fixture
def folder(made_folder, tmp_path):
    shutil.copytree(made_folder, tmp_path / "shop")
    return tmp_path / "shop"


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request):
    """Where an empty store is: a folder, or the address of a database."""
    if request.param == "sqlite":
        return request.getfixturevalue("folder")
    return new_database(request)


@pytest.fixture
def postgres_place(request):
    return new_database(request)


def new_database(request) -> str:
    cluster, template = request.getfixturevalue("cluster"), request.getfixturevalue("template")
    name = f"shop{next(_numbers)}"
    cluster.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
    request.addfinalizer(lambda: cluster.sql(f"DROP DATABASE {name} WITH (FORCE)"))
    return cluster.url(name)


@pytest.fixture
def store(place):
    with open_store(place) as opened:
        yield opened
