"""The corpus of tests/campaign_fuzz.py, and a few inputs more of each kind, the same in every run."""

import random

import pytest
from fuzzing import CORPUS, TARGETS, Coverage, outcome, seeds, spoiled

FEW = {"unit": 60, "inline": 60, "tank": 12, "log": 12}


@pytest.mark.parametrize("target", TARGETS)
def test_inputs_kept_and_a_few_more_end_in_a_result_or_one_message(target):
    known, chance = seeds(target), random.Random(f"suite {target}")
    more = [spoiled(target, known, chance) for _ in range(FEW.get(target, 4))]
    for data in [*known, *more]:
        assert outcome(target, data) in ("result", "refused"), data


def test_the_corpus_is_of_these_targets():
    assert {folder.name for folder in CORPUS.iterdir()} <= set(TARGETS)


def test_what_is_no_tanksolve_error_would_be_found(monkeypatch):
    monkeypatch.setattr("tanksolve.units.split_quantity", lambda *_: 1 // 0)
    assert "ZeroDivisionError" in outcome("unit", b"42L")


def test_new_lines_are_noticed_and_known_ones_are_not():
    cover = Coverage()
    assert cover.of(lambda: outcome("unit", b"42L"))[1]
    assert not cover.of(lambda: outcome("unit", b"42L"))[1]
    assert cover.of(lambda: outcome("unit", b"1:4"))[1]
