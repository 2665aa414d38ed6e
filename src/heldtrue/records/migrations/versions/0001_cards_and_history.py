"""Cards, history and how the sets stand."""

from alembic import op

from heldtrue.records.columns import Bytes, Json, Moment, Number, Whole, Words, YesNo
from heldtrue.records.migrations.building import card, has, history, index, key, maybe, refers
from heldtrue.records.migrations.guards import make_guard, only_added

revision = "0001"
down_revision = None


def upgrade() -> None:
    """From nothing."""
    make_guard()
    _actions()
    _hardware()
    _sets_and_setups()
    _history_of_sets()
    _history_of_setups()
    _history_of_chucks()
    _standings()


def _actions() -> None:
    op.create_table(
        "actions", key("id", Words), has("at", Moment()), has("by", Words), has("why", Words), has("program", Words)
    )
    only_added("actions")
    op.create_table(
        "versions", key("kind", Words), key("thing", Words), key("version", Whole),
        refers("action", "actions", nullable=False), has("document", Json()),
    )  # fmt: skip
    only_added("versions")


def _hardware() -> None:
    card("machines", has("name", Words), maybe("max_speed_rpm", Number), maybe("max_swing", Number))
    card(
        "actuators", has("name", Words), maybe("pull_area", Number), maybe("push_area", Number),
        maybe("max_pressure", Number), has("gauge", Words),
    )  # fmt: skip
    card(
        "chucks", has("name", Words), refers("machine", "machines"), refers("actuator", "actuators"),
        has("serration", Words), has("jaws", Whole), has("gauge", Words), maybe("grease_days", Whole),
    )  # fmt: skip
    card(
        "blanks", has("name", Words), has("style", Words), has("material", Words), has("serration", Words),
        maybe("width", Number), maybe("length", Number), maybe("height", Number), has("in_stock", Whole),
        has("place", Words),
    )  # fmt: skip
    card(
        "rings", has("name", Words), has("kind", Words), has("outside", Number), maybe("inside", Number),
        has("width", Number), has("place", Words),
    )  # fmt: skip
    card("tools", has("name", Words), maybe("nose_radius", Number), has("place", Words))


def _sets_and_setups() -> None:
    card("parts", has("name", Words), has("material", Words))
    history("photos", has("name", Words), has("content", Bytes))
    history("revisions", refers("part", "parts", nullable=False), has("revision", Words), has("changes", Words))
    index("revisions", "part", "at")
    card(
        "jaw_sets", has("name", Words), has("style", Words), has("material", Words), has("serration", Words),
        has("jaws", Whole), refers("blank", "blanks"), refers("part", "parts"),
    )  # fmt: skip
    card(
        "setups", has("title", Words), refers("part", "parts"), has("revision", Words), has("operation", Words),
        refers("machine", "machines"), refers("chuck", "chucks"), refers("jaw_set", "jaw_sets"),
        has("document", Json()), maybe("plan", Json()),
    )  # fmt: skip


def _history_of_sets() -> None:
    history(
        "set_cuts", refers("jaw_set", "jaw_sets", nullable=False), has("kind", Words), has("side", Words),
        has("diameter", Number), maybe("depth", Number), refers("machine", "machines"), refers("chuck", "chucks"),
        maybe("tooth", Whole), has("jaw_order", Json()), maybe("pressure", Number), maybe("taper", Number),
        maybe("web_left", Number), maybe("cuts_left", Whole), refers("ring", "rings"), refers("tool", "tools"),
        refers("setup", "setups"), refers("photo", "photos"),
    )  # fmt: skip
    index("set_cuts", "at")
    index("set_cuts", "diameter", "at", "machine", "chuck", "jaw_set")
    index("set_cuts", "jaw_set", "at")
    index("set_cuts", "machine", "at")
    history(
        "set_moves", refers("jaw_set", "jaw_sets", nullable=False), has("kind", Words), has("place", Words),
        has("holder", Words), has("condition", Words), has("missing", Json()), refers("photo", "photos"),
    )  # fmt: skip
    index("set_moves", "jaw_set", "at")


def _history_of_setups() -> None:
    history(
        "start_decisions", refers("setup", "setups", nullable=False), has("setup_version", Whole),
        has("gauge_pressure", Number), has("gauge_text", Words), has("verdict", Words), has("reason", Words),
        has("override_reason", Words),
    )  # fmt: skip
    index("start_decisions", "setup", "at")
    history(
        "runs", refers("setup", "setups", nullable=False), has("setup_version", Whole), refers("machine", "machines"),
        refers("chuck", "chucks"), refers("jaw_set", "jaw_sets"), refers("decision", "start_decisions"),
        maybe("rough_pressure", Number), maybe("finish_pressure", Number), maybe("speed_rpm", Number),
        has("quantity", Whole), has("scrap", Whole), has("lot", Words), has("readings", Json()),
        has("changed", Json()),
    )  # fmt: skip
    index("runs", "jaw_set", "at")
    index("runs", "setup", "at")
    history(
        "indicator_readings", refers("run", "runs"), refers("jaw_set", "jaw_sets"), has("surface", Words),
        maybe("z", Number), has("clamped", YesNo), has("angles", Json()), has("deviations", Json()),
    )  # fmt: skip
    index("indicator_readings", "jaw_set", "at")
    index("indicator_readings", "run", "at")


def _history_of_chucks() -> None:
    history(
        "gauge_readings", refers("chuck", "chucks", nullable=False), has("pressure", Number), has("force", Number),
        has("speed_rpm", Number), has("device", Words),
    )  # fmt: skip
    index("gauge_readings", "chuck", "at")
    history("greasings", refers("chuck", "chucks", nullable=False), has("grease", Words))
    index("greasings", "chuck", "at")


def _standings() -> None:
    op.create_table(
        "standings", refers("jaw_set", "jaw_sets", nullable=False, primary_key=True), has("retired", YesNo),
        has("words", Words), has("style", Words), has("material", Words), has("serration", Words), has("jaws", Whole),
        maybe("part", Words), maybe("last_cut", Words), maybe("last_cut_at", Moment()), has("latest", Moment()),
        has("side", Words),
        maybe("diameter", Number), maybe("depth", Number), maybe("machine", Words), maybe("chuck", Words),
        maybe("tooth", Whole), has("jaw_order", Json()), maybe("web_left", Number), maybe("cuts_left", Whole),
        has("cuts_done", Whole), has("place", Words), has("holder", Words), has("condition", Words),
        has("missing", Json()),
    )  # fmt: skip
    index("standings", "latest")
    index("standings", "material", "latest")
    index("standings", "side", "diameter")
