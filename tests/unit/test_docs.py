"""Docs cannot rot: what the program has, the docs name; what the docs show, the program does."""

import importlib
import re
import sys
import tomllib
from itertools import zip_longest

import pytest
from conftest import EXAMPLES, ROOT
from typer.testing import CliRunner

from heldtrue import Setup
from heldtrue.cli import app
from heldtrue.errors import InputError

DOCS = ROOT / "docs"
PAGES = sorted([*DOCS.glob("*.md"), *ROOT.glob("*.md"), ROOT / "tests" / "golden" / "README.md"])
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


@pytest.fixture(scope="module")
def make():
    """The scripts that write the generated parts."""
    sys.path.insert(0, str(DOCS))
    yield importlib.import_module
    sys.path.remove(str(DOCS))


@pytest.fixture(scope="module")
def validation(make):
    """The script of the validation page, its rows worked out once."""
    script = make("make_validation")
    rows = script.all_rows()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(script, "all_rows", lambda: rows)
        yield script


def between(text, name):
    begin, end = f"<!-- {name}: generated -->", f"<!-- end of {name} -->"
    assert text.count(begin) == text.count(end) == 1, name
    return text.split(begin)[1].split(end)[0].strip()


def differences(found, recorded, rel, least):
    """Lines that differ by more than a number's last digits."""
    for ours, theirs in zip_longest(found.splitlines(), recorded.splitlines(), fillvalue=""):
        words = [re.sub(r"[\s─]+", " ", NUMBER.sub("#", line)) for line in (ours, theirs)]
        numbers = [[float(n) for n in NUMBER.findall(line)] for line in (ours, theirs)]
        if words[0] != words[1] or numbers[0] != pytest.approx(numbers[1], rel=rel, abs=least):
            yield ours, theirs


def test_the_reference_pages_are_up_to_date(make):
    for document, parts in make("make_reference").all_parts().items():
        text = (DOCS / document).read_text(encoding="utf-8")
        for name, content in parts.items():
            # Only the session of the readme holds computed numbers, shown to two or three figures.
            rel, least = (0.02, 1.0) if name == "session" else (0.0, 0.0)
            assert list(differences(content.strip(), between(text, name), rel, least)) == [], f"{document}: make docs"


@pytest.mark.long
def test_the_validation_page_is_up_to_date(validation):
    text = (DOCS / "validation.md").read_text(encoding="utf-8")
    for name, content in validation.parts().items():
        found = list(differences(content.strip(), between(text, name), rel=1e-3, least=0.02))
        assert found == [], f"{name}: make docs"


def test_every_validation_test_has_a_row_and_every_row_a_test(validation):
    rows = {row.test for group in validation.all_rows().values() for row in group}
    tests = set()
    for path in (ROOT / "tests" / "validation").glob("test_*.py"):
        tests |= set(re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE))
    assert rows == tests


def test_no_row_of_the_validation_page_is_far_off(validation):
    for group in validation.all_rows().values():
        for row in group:
            if row.difference is None:
                low, high = row.published
                assert low < row.ours < high, row
            else:
                assert row.difference == pytest.approx(0.0, abs=0.10), row


def test_the_comparison_of_documents_sees_a_changed_word_and_a_changed_number():
    assert list(differences("a 1.000 mm", "a 1.001 mm", 0.01, 0.0)) == []
    assert list(differences("a 1.000 mm", "a 1.100 mm", 0.01, 0.0)) != []
    assert list(differences("a 1.000 mm", "b 1.000 mm", 0.01, 0.0)) != []
    assert list(differences("a\nb", "a", 0.01, 0.0)) != []


def test_every_key_of_the_setup_file_says_what_it_is_and_what_happens_without_it(make):
    reference = make("make_reference")
    for entry in reference.TABLES.values():
        for shape in reference.fields_of(entry):
            if shape.required:
                assert shape.key not in reference.LEFT_OUT.get(entry, {}), (entry, shape.key)
            else:
                assert reference.LEFT_OUT[entry][shape.key], (entry, shape.key)
        keys = {shape.key for shape in reference.fields_of(entry)}
        assert set(reference.LEFT_OUT.get(entry, {})) <= keys


def test_every_name_of_the_json_says_what_it_means(make):
    reference = make("make_reference")
    for name, model in {**reference.MODELS, **reference.READING_MODELS}.items():
        for field, info in model.model_fields.items():
            key = info.serialization_alias or field
            assert reference.MEANING.get(f"{name}.{key}") or info.description, f"{name}.{key}"
    named = {f"{name}.{i.serialization_alias or f}" for name, m in reference.MODELS.items()
             for f, i in m.model_fields.items()}  # fmt: skip
    assert set(reference.MEANING) <= named


def test_every_command_and_option_of_the_help_is_on_the_page():
    page = (DOCS / "cli.md").read_text(encoding="utf-8")
    listed = re.findall(r"^│ (\w+) ", CliRunner().invoke(app, ["--help"]).stdout, re.MULTILINE)
    assert {"plan", "compare", "contact", "schema", "materials"} <= set(listed)
    groups = {group.name: group.typer_instance for group in app.registered_groups}
    commands = [[command] for command in listed if command not in groups]
    commands += [
        [name, one.name or one.callback.__name__] for name, g in groups.items() for one in g.registered_commands
    ]
    assert len(commands) > len(listed)
    for words in commands:
        command = " ".join(words)
        assert f"## heldtrue {command}\n" in page
        shown = CliRunner().invoke(app, [*words, "--help"]).stdout
        section = page.split(f"## heldtrue {command}\n")[1].split("\n## ")[0].split("\n### ")[0]
        for option in set(re.findall(r"(?<=│ )--[\w-]+", shown)) - {"--help"}:
            assert f"`{option}`" in section, (command, option)


# What the docs show


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
        if not target.startswith("https://"):
            assert (page.parent / target).exists(), target


def test_make_commands_of_the_docs_are_in_the_makefile():
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    named = {m for page in PAGES for m in re.findall(r"`?\bmake ([a-z]+)\b(?:`|  )", page.read_text(encoding="utf-8"))}
    assert {"demo", "test"} <= named
    assert named <= targets


def test_heldtrue_commands_of_the_docs_exist():
    commands = {one.name or one.callback.__name__ for one in app.registered_commands}
    commands |= {group.name for group in app.registered_groups}
    options = set(re.findall(r"`(--[\w-]+)`", (DOCS / "cli.md").read_text(encoding="utf-8")))
    for page in PAGES:
        for line in re.findall(r"heldtrue ([a-z]+ .*?)(?:[`\n\"]|  )", page.read_text(encoding="utf-8")):
            words = line.split()
            if words[0] in commands or "--" in line:
                assert words[0] in commands, (page.name, line)
                assert {word for word in words if word.startswith("--")} <= options, (page.name, line)


def test_the_python_of_the_readme_runs(monkeypatch, capsys, only_styles):
    only_styles("pie", jaws=(3,))
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    exec(code, {})
    printed = capsys.readouterr().out
    assert printed.startswith("passes ")
    assert "hold: rough land passes" in printed
    assert "best; two pressures; least to spare" in printed
    assert "none needed" in printed


def test_setup_files_of_the_docs_can_be_planned():
    text = (DOCS / "setup-file.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    smallest = tomllib.loads(blocks[0])
    setup = Setup.from_dict(smallest, base_dir=ROOT / "examples")
    assert setup.part.number == "BX-12"
    for block in blocks[1:]:
        tomllib.loads(block)
    readings = next(tomllib.loads(b) for b in blocks if "grip_readings" in b)
    read = Setup.from_dict({**smallest, "chuck": {**smallest["chuck"], **readings}}, base_dir=ROOT / "examples")
    assert [r.force for r in read.chuck.grip_readings] == [31_000.0, 66_000.0, 99_000.0]


def test_the_slip_that_the_docs_show_is_what_the_program_says():
    text = (ROOT / "examples" / "wear-ring.toml").read_text(encoding="utf-8")
    with pytest.raises(InputError) as caught:
        Setup.from_dict(tomllib.loads(text.replace("feed = 0.25", "feed = 25")), base_dir=ROOT / "examples")
    for page in (ROOT / "README.md", DOCS / "setup-file.md"):
        shown = re.findall(r"```\n(cut 2 .*?)\n```", page.read_text(encoding="utf-8"))
        assert shown == [caught.value.problems[0]]


def test_every_example_is_named_in_no_doc_that_lacks_it():
    examples = {path.name for path in EXAMPLES} | {path.name for path in (ROOT / "examples" / "chucks").glob("*")}
    for page in PAGES:
        for name in re.findall(r"examples/(?:chucks/)?([\w-]+\.toml)", page.read_text(encoding="utf-8")):
            assert name in examples, (page.name, name)


def test_architecture_names_every_module_of_the_floors():
    page = (DOCS / "architecture.md").read_text(encoding="utf-8")
    for path in (ROOT / "src" / "heldtrue").glob("*/*.py"):
        if path.parent.name in ("mechanics", "planning") and not path.name.startswith("_"):
            if path.name in ("shapes.py", "half_section.py", "profiles.py", "toml_file.py"):
                continue  # helpers of the reading
            assert path.name in page, path.name


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_pages_hold_no_path_of_one_machine(page):
    text = page.read_text(encoding="utf-8")
    assert not re.search(r"(?<![\w.])/(?:home|root|work|Users|tmp)/", text)


def test_every_test_that_the_page_of_security_names_is_there():
    named = set(re.findall(r"\btest_\w{4,}", (DOCS / "security.md").read_text(encoding="utf-8")))
    there = {
        name for file in (ROOT / "tests").rglob("test_*.py") for name in re.findall(r"def (test_\w+)", file.read_text())
    }
    assert len(named) > 60
    assert named - there == set()


def test_every_page_stands_in_the_site():
    import yaml

    listed = re.findall(r"[\w-]+\.md", str(yaml.safe_load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"))["nav"]))
    assert sorted(listed) == sorted(path.name for path in DOCS.glob("*.md"))
