"""The databases' errors in our words: every one a user can meet, and what is tried again."""

import doctest
import sqlite3
from types import SimpleNamespace

import pytest
from sqlalchemy.exc import DBAPIError, OperationalError

from heldtrue.records import cells, remembering, store
from heldtrue.records.database import passing, translated, unreached


def sqlite_failure(name):
    cause = sqlite3.OperationalError("as SQLite says it")
    cause.sqlite_errorname = name
    return DBAPIError("", {}, cause)


def server_failure(state, text="as the server says it"):
    cause = type("ServerError", (Exception,), {"sqlstate": state})(text)
    return OperationalError("", {}, cause)


@pytest.mark.parametrize(
    ("name", "words", "again"),
    [
        ("SQLITE_BUSY", "another program is writing", True),
        ("SQLITE_BUSY_SNAPSHOT", "another program is writing", True),
        ("SQLITE_LOCKED", "another program is writing", True),
        ("SQLITE_FULL", "disk is full", False),
        ("SQLITE_IOERR_WRITE", "is it full", False),
        ("SQLITE_READONLY_DIRECTORY", "may not be written", False),
        ("SQLITE_CANTOPEN", "cannot be opened", False),
        ("SQLITE_CORRUPT", "damaged", False),
        ("SQLITE_NOTADB", "not a records file", False),
        ("SQLITE_CONSTRAINT_FOREIGNKEY", "do not fit together", False),
        ("", "as SQLite says it", False),
    ],
)
def test_sqlite(name, words, again):
    error = sqlite_failure(name)
    assert words in str(translated(error, "shop"))
    assert passing(error) == again
    if "BUSY" in name:
        assert "as SQLite says it" not in str(translated(error, "shop"))


@pytest.mark.parametrize(
    ("state", "words", "again"),
    [
        ("40001", "nothing was changed", True),
        ("40P01", "nothing was changed", True),
        ("55P03", "another program is writing", True),
        ("57P01", "cannot be reached", True),
        ("53300", "nothing was changed", True),
        ("53100", "disk is full", False),
        ("25006", "takes no writing", False),
        ("42501", "may not do that", False),
        ("28P01", "does not let this user in", False),
        ("23503", "as the server says it", False),
    ],
)
def test_server(state, words, again):
    error = server_failure(state)
    assert words in str(translated(error, "shop"))
    assert passing(error) == again
    assert not unreached(error)


def test_a_server_that_is_not_there_is_waited_for_only_if_it_was():
    error = server_failure(None)
    assert unreached(error)
    assert not passing(error)
    assert "cannot be reached" in str(translated(error, "shop"))


@pytest.mark.parametrize("module", [remembering, store], ids=lambda module: module.__name__)
def test_examples_in_the_docstrings_run(module):
    result = doctest.testmod(module, optionflags=doctest.ELLIPSIS)
    assert result.attempted
    assert result.failed == 0


@pytest.mark.parametrize("text", ["", "=1", "+1", "-1", "@x", "'x", "\tx", "\rx", "\nx", "x", "''", " =1", "x=1"])
@pytest.mark.parametrize("nullable", [True, False])
def test_a_text_in_a_cell_comes_back(text, nullable):
    column = SimpleNamespace(type=None, nullable=nullable)
    cell = cells.cell_of(text, column)
    assert not cell.startswith(cells.FORMULA)
    assert cells.parsed_cell(cell, column, "here") == text
    assert cells.cell_of(None, column) == ""
