"""What the program ships of its evidence says what the committed tables say."""

import json
from pathlib import Path

import pytest

from tests.shipped import (
    EVIDENCE,
    LEVERS,
    PUBLISHED,
    evidence_summary,
    lever_summary,
    published_summary,
)
from tracker.decisions.checks.evidence import (
    evidence,
    lever_evidence,
    lever_evidence_sentence,
    published_checks,
)

HERE = Path(__file__).parent

TABLE = """
3 squads of 2 players, 12 sessions: 6 seasons, 4 of them.

| requirement | wanted | found | |
|---|---|---|---|
| direction right, claimed 0.900 (bin 0.9) | within 3 points | 95.7 % (93.8 to 97.2) | **missed** |
| step12, nobody logged it: found | >= 80 % | 95.0 % | met |
| the same: 90 % intervals | >= 80 % | 78.3 % | **missed** |

| more | |
"""


def test_the_shipped_evidence_is_the_committed_table():
    text = (HERE / "evidence" / "evidence.md").read_text(encoding="utf-8")
    assert json.loads(EVIDENCE.read_text(encoding="utf-8")) == evidence_summary(text)
    assert len(evidence().requirements) == text.count("| met |") + text.count("| **missed** |")
    assert len(evidence().missed) == text.count("| **missed** |")


def test_what_is_shipped_of_first_levers_is_the_committed_table():
    text = (HERE / "recovery" / "levers.md").read_text(encoding="utf-8")
    assert json.loads(LEVERS.read_text(encoding="utf-8")) == lever_summary(text)
    found = lever_evidence()
    met = text.count("| met |")
    assert len(found.requirements) == met + text.count("| **missed** |")
    assert f"{found.academies} academies, {found.players} players" in text
    said = lever_evidence_sentence(found)
    assert f"{found.players} invented players of {found.academies} academies" in said
    assert said.endswith(f"met {met} of {len(found.requirements)} requirements.")


def test_the_shipped_published_checks_are_the_committed_table():
    text = (HERE / "published" / "published.md").read_text(encoding="utf-8")
    assert json.loads(PUBLISHED.read_text(encoding="utf-8")) == published_summary(text)
    checks = published_checks()
    met = sum(c.met for c in checks)
    assert met == text.count("| yes |\n")
    assert f"{met} of {len(checks)} rows are met" in text or met == len(checks)
    assert all(c.why_missed for c in checks if not c.met)


def test_a_table_is_read_row_by_row_and_said_in_plain_words():
    found = evidence_summary(TABLE)
    assert (found["squads"], found["players"], found["seasons"]) == (3, 2, 6)
    assert [(r["what"], r["wanted"], r["met"]) for r in found["requirements"]] == [
        ("direction right, where a chance of 0.900 was claimed", "within 3 points", False),
        ("a step of 12 mm that nobody logged: found", ">= 80 %", True),
        ("a step of 12 mm that nobody logged: 90 % intervals", ">= 80 %", False),
    ]
    assert [r["means"] for r in found["requirements"]] == [
        "A chance of 90 in 100 comes true more often than it says (96 in 100).",
        "",
        "The interval of a step of 12 mm that nobody logged holds the truth in 78 of 100 cases, "
        "not in 90: take it as somewhat too narrow.",
    ]


def test_a_table_without_its_seasons_is_no_evidence():
    with pytest.raises(ValueError, match="over how many seasons"):
        evidence_summary("| requirement | wanted | found | |")
    with pytest.raises(ValueError, match="over how many players"):
        lever_summary("| requirement | wanted | found | |")
