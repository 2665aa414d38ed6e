"""What a search for tracebacks found of interest (``bench/fuzz.py``), read again: a value, or an error in words."""

import pytest
from readers import CORPUS, READERS, read

KEPT = sorted(CORPUS.glob("*/*"))


@pytest.mark.parametrize("name", READERS)
def test_a_reader_gives_a_value_or_words(name):
    kept = [path for path in KEPT if path.parent.name == name]
    assert len(kept) >= 5, "the corpus of this reader is gone"
    for path in kept:
        said = read(name, path.read_bytes())
        assert "Traceback" not in said


def test_every_file_of_the_corpus_has_its_reader():
    assert {path.parent.name for path in KEPT} == set(READERS)
