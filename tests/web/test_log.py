"""What a browser sends cannot forge a line of the server's log, nor fill the disk with it."""

import io
import logging

import pytest

from heldtrue.web.log import LONGEST, MOST, MOST_EQUAL, MOST_OF_PAGES, WINDOW, TameHandler, one_line
from web.chromium import Server, Visitor


class Clock:
    at = 0.0

    def __call__(self):
        return self.at


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def said(clock):
    return logging_to(clock)


def logging_to(clock):
    out = io.StringIO()
    logger = logging.Logger("nicegui")
    logger.addHandler(TameHandler(out, clock))
    return logger, out


@pytest.mark.parametrize("bad", ["\n", "\r", "\r\n", "\x1b[2J", "\x00", "\x85", "\u2028", "\u202e", "\ud800", "\x9b"])
def test_a_line_is_one_line_with_nothing_strange_in_it(said, bad):
    logger, out = said
    logger.error(f"before{bad}ERROR: forged")
    text = out.getvalue()
    assert text.count("\n") == 1
    assert text.endswith("\n")
    assert bad[0] not in text[:-1]
    text.encode()


def test_a_traceback_is_set_in_and_an_error_cannot_forge_a_line(said):
    logger, out = said
    try:
        raise ValueError("x\nERROR: forged\r\x1b[31m" + "y" * 10_000)
    except ValueError:
        logger.exception("a page failed")
    first, *others = out.getvalue().splitlines()
    assert first == "ERROR: a page failed"
    assert all(line.startswith("    ") for line in others)
    assert max(len(line) for line in others) <= LONGEST + 4
    assert "\x1b" not in out.getvalue()


def test_a_long_line_is_cut_off():
    assert len(one_line("x" * 1_000_000)) == LONGEST
    assert len(one_line("\n" * 1_000_000)) == LONGEST
    assert one_line("Ø 140.5 µm, ±") == "Ø 140.5 µm, ±"


def test_the_same_again_is_a_count(said, clock):
    logger, out = said
    for _ in range(1000):
        logger.error("the same")
    logger.error("another")
    assert out.getvalue().splitlines() == ["ERROR: the same"] * MOST_EQUAL + ["ERROR: another"]
    clock.at += WINDOW
    logger.error("the same")
    assert out.getvalue().splitlines()[-2:] == [
        f"WARNING: {1000 - MOST_EQUAL} more lines were left out: the same again, or too many", "ERROR: the same"
    ]  # fmt: skip


def word(number):
    """A word of its own for each number, without a digit."""
    return "".join("abcdefghij"[int(one)] for one in str(number))


def test_the_same_fault_is_a_count_whatever_was_sent(said):
    logger, out = said
    for number in range(100):
        try:
            int(word(number))
        except ValueError:
            logger.exception("%s failed", word(number))
    assert out.getvalue().count("Traceback") == MOST_EQUAL


def test_a_flood_is_bounded_and_pages_do_not_drown_the_server(said, clock):
    logger, out = said
    for number in range(5000):
        record = logging.LogRecord(
            "nicegui", logging.ERROR, "", 0, f"{word(number)} flood", (), None, "handle_log_message"
        )
        logger.handle(record)
    for number in range(5000):
        logger.error("%s server", word(number))
    lines = out.getvalue().splitlines()
    assert len(lines) == MOST_OF_PAGES + MOST
    assert all(line.startswith("ERROR: a page says: ") for line in lines[:MOST_OF_PAGES])
    assert "server" in lines[-1]
    for handler in logger.handlers:
        handler.close()
    assert str(10_000 - MOST_OF_PAGES - MOST) in out.getvalue().splitlines()[-1]


@pytest.mark.long
def test_an_open_page_cannot_forge_the_log_of_a_running_server(chromium, tmp_path):
    server = Server(tmp_path)
    visitor = Visitor(chromium, server.address)
    try:
        visitor.goto("/")
        visitor.page.evaluate(FLOOD)
        visitor.page.get_by_role("link", name="Stock").click()  # it goes on for everybody
        visitor.page.wait_for_url("**/stock")
    finally:
        visitor.close()
        server.close()
    text = (tmp_path / "said.txt").read_text()
    assert "a page says: x\\nERROR: forged" in text
    assert not any(line.startswith("ERROR: forged") for line in text.splitlines())
    assert len(text) < 60_000, "500 messages of 10 kB each were sent"


FLOOD = """() => { for (let number = 0; number < 500; number++) {
    const words = "x\\nERROR: forged " + String(number).repeat(3000);
    window.socket.emit("log", {client_id: window.clientId, level: "error", message: words});
    window.socket.emit("log", {client_id: window.clientId, level: "nonsense", message: "y"});
    window.socket.emit("event", {client_id: window.clientId, id: 0, args: ["{"]});
    window.socket.emit("event", {client_id: window.clientId, id: {}, args: 7}); } }"""
