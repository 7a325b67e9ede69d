"""A file into the store in one go: all of it or nothing, and once."""

import csv
import io
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.traits import TRAITS
from tracker.errors import BadRequest, ConflictingShots, FileRefused, RowProblem
from tracker.readings.shot_frame import shots_of
from tracker.records import Change, Shot
from tracker.store.loading import load_changes, load_shots
from tracker.store.store import Store

TODAY = date(2026, 6, 30)
HEAD = "player,session,strike_toe_mm,note"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(f"sqlite:///{tmp_path / 'shots.db'}") as opened:
        yield opened


def write(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(lines) + "\n")
    return path


def test_a_file_is_stored_and_reported(store, tmp_path):
    path = write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1.5,", "Ann,2026-05-31,2.5,x")
    report = load_shots(store, path, today=TODAY)
    assert (report.rows, report.stored, report.already_stored) == (2, 2, 0)
    assert (report.rejected, report.rejected_path) == ((), None)
    assert [s.readings["strike_toe_mm"] for s in shots_of(store.shots_frame())] == [1.5, 2.5]
    assert [load.source for load in store.loads()] == ["a.csv"]
    again = load_shots(store, path, today=TODAY)
    assert (again.rows, again.stored, again.already_stored) == (2, 0, 2)


def test_a_file_with_a_bad_row_stores_nothing(store, tmp_path):
    path = write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1.5,", "Ann,2026-05-31,x,")
    with pytest.raises(FileRefused, match="1 of 2 rows cannot be used, so nothing was stored:"):
        load_shots(store, path, today=TODAY)
    assert set(store.rows_by_table().values()) == {0}
    assert sorted(p.name for p in tmp_path.glob("*.csv")) == ["a.csv"]


def test_skipping_stores_the_good_rows_and_writes_the_bad_ones_beside(store, tmp_path):
    path = write(
        tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1,", "Ann,2026-05-31,x,-now", "Ann,2026-05-31,3,"
    )
    report = load_shots(store, path, skip_bad=True, today=TODAY)
    assert (report.rows, report.stored) == (3, 2)
    assert report.rejected == (
        RowProblem(3, "strike_toe_mm", "x", "a number from -60 to 60 mm, or an empty cell"),
    )
    assert report.rejected_path == tmp_path / "a.csv.rejected.csv"
    (row,) = csv.DictReader(io.StringIO(report.rejected_path.read_text()))
    assert (row["player"], row["strike_toe_mm"], row["note"]) == ("Ann", "x", "'-now")
    assert row["why"].startswith("line 3, strike_toe_mm: found 'x'")

    corrected = report.rejected_path.read_text().replace(",x,", ",2,")
    fixed = write(tmp_path / "fixed.csv", corrected)
    assert load_shots(store, fixed, today=TODAY).stored == 1
    frame = store.shots_frame()
    assert list(zip(frame["number"], frame["strike_toe_mm"], strict=True)) == [
        (1, 1.0),
        (2, 2.0),
        (3, 3.0),
    ]
    assert frame["note"].iloc[1] == "-now"


def test_rejected_rows_put_right_are_not_overwritten_by_the_next_load(store, tmp_path):
    path = write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,x,", "Ann,2026-05-31,3,")
    first = load_shots(store, path, skip_bad=True, today=TODAY).rejected_path
    assert load_shots(store, path, skip_bad=True, today=TODAY).rejected_path == first
    assert first is not None
    first.write_text("work in progress")
    second = load_shots(store, path, skip_bad=True, today=TODAY).rejected_path
    assert second == tmp_path / "a.csv.rejected-2.csv"
    assert first.read_text() == "work in progress"


def test_a_file_of_bad_rows_only_stores_nothing_and_keeps_them_all(store, tmp_path):
    path = write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,x,", ",2026-05-31,3,")
    report = load_shots(store, path, skip_bad=True, today=TODAY)
    assert (report.rows, report.stored, len(report.rejected)) == (2, 0, 2)
    assert report.rejected_path is not None
    assert len(report.rejected_path.read_text().splitlines()) == 3
    assert store.loads() == ()


def test_a_conflict_leaves_no_rejected_file(store, tmp_path):
    load_shots(store, write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1,"), today=TODAY)
    other = write(tmp_path / "b.csv", HEAD, "Ann,2026-05-31,9,", "Ann,2026-05-31,x,")
    with pytest.raises(ConflictingShots) as caught:
        load_shots(store, other, skip_bad=True, today=TODAY)
    assert caught.value.problems[0].line == 2
    assert sorted(p.name for p in tmp_path.glob("*.csv")) == ["a.csv", "b.csv"]
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


def test_nothing_is_stored_when_the_bad_rows_cannot_be_kept(store, tmp_path, monkeypatch):
    path = write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1,", "Ann,2026-05-31,x,")

    def refuse(**_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    with pytest.raises(BadRequest, match=r"cannot be written beside it \(Permission denied\)"):
        load_shots(store, path, skip_bad=True, today=TODAY)
    assert store.rows_by_table()["shot"] == 0


def test_bytes_from_a_page_give_the_rejected_rows_back(store):
    data = f"{HEAD}\nAnn,2026-05-31,1,\nAnn,2026-05-31,x,\n".encode()
    report = load_shots(store, data, skip_bad=True, today=TODAY, name="upload.csv")
    assert report.rejected_path is None
    assert report.rejected_csv is not None
    assert b"found 'x'" in report.rejected_csv
    assert store.loads()[0].source == "upload.csv"


def test_replace_and_append_reach_the_store(store, tmp_path):
    load_shots(store, write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1,"), today=TODAY)
    other = write(tmp_path / "b.csv", HEAD, "Ann,2026-05-31,9,")
    replaced = load_shots(store, other, on_conflict="replace", today=TODAY)
    assert (replaced.stored, replaced.replaced) == (0, 1)
    more = write(tmp_path / "c.csv", HEAD, "Ann,2026-05-31,5,", "Ann,2026-05-31,6,")
    assert load_shots(store, more, on_conflict="append", today=TODAY).stored == 2
    assert list(store.shots_frame()["strike_toe_mm"]) == [9.0, 5.0, 6.0]


def test_appending_one_file_twice_stores_it_once_until_it_is_undone(store, tmp_path):
    load_shots(store, write(tmp_path / "a.csv", HEAD, "Ann,2026-05-31,1,"), today=TODAY)
    more = write(tmp_path / "b.csv", HEAD, "Ann,2026-05-31,5,", "Ann,2026-05-31,6,")
    assert load_shots(store, more, on_conflict="append", today=TODAY).stored == 2
    again = load_shots(store, more, on_conflict="append", today=TODAY)
    assert (again.stored, again.already_stored) == (0, 2)
    store.undo_last_load()
    assert load_shots(store, more, on_conflict="append", today=TODAY).stored == 2


def test_changes_are_loaded_once_and_unknown_players_listed(store, tmp_path):
    load_shots(store, write(tmp_path / "a.csv", HEAD, "Ann Berg,2026-05-31,1,"), today=TODAY)
    head = "player,start,kind,name,trait"
    good = write(tmp_path / "c.csv", head, "Ann Berg,2026-05-01,drill,Low tee,strike_up_mm")
    report = load_changes(store, good, today=TODAY)
    assert (report.rows, report.stored) == (1, 1)
    assert load_changes(store, good, today=TODAY).already_stored == 1
    assert store.changes() == (
        Change("Ann Berg", date(2026, 5, 1), "drill", "Low tee", "strike_up_mm"),
    )
    bad = write(tmp_path / "d.csv", head, "Ann Borg,2026-05-01,drill,x,", "Zed,2026-05-01,drill,y,")
    with pytest.raises(FileRefused) as caught:
        load_changes(store, bad, today=TODAY)
    assert caught.value.summary == "2 of 2 rows cannot be used, so nothing was stored:"
    assert [(p.line, p.found) for p in caught.value.problems] == [(2, "Ann Borg"), (3, "Zed")]
    assert "the closest is Ann Berg" in caught.value.problems[0].wanted


# --- the round trip: records -> CSV in any units -> store -> records ---

# exact factors to the stored unit, written apart from the program (inch and yard: international
# yard and pound agreement, 1959)
SPELLINGS: dict[str, dict[str, float]] = {
    "mm": {"mm": 1.0, "cm": 10.0, "in": 25.4},
    "mps": {"mps": 1.0, "mph": 0.44704, "kmh": 1 / 3.6},
    "deg": {"deg": 1.0},
    "rpm": {"rpm": 1.0},
    "m": {"m": 1.0, "yd": 0.9144},
}
NAMES = st.text(
    st.characters(min_codepoint=0x21, max_codepoint=0x17F, exclude_categories=("C", "Z")),
    min_size=1,
    max_size=8,
)
READINGS = st.fixed_dictionaries(
    {},
    optional={
        name: st.floats(trait.low, trait.high, allow_nan=False) for name, trait in TRAITS.items()
    },
).filter(bool)
SHOTS = st.lists(
    st.tuples(
        NAMES,
        st.integers(0, 400),
        st.integers(1, 60),
        READINGS,
        st.sampled_from(["unstated", "spray", "camera"]),
        st.none() | NAMES,
    ),
    max_size=8,
    min_size=1,
    unique_by=lambda row: row[:3],
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=SHOTS, data=st.data())
def test_shots_survive_the_way_through_a_file_in_any_unit(tmp_path, rows, data):
    units = {}
    for name in TRAITS:
        stem, _, stored = name.rpartition("_")
        suffix = data.draw(st.sampled_from(sorted(SPELLINGS[stored])))
        units[name] = (f"{stem}_{suffix}", SPELLINGS[stored][suffix])
    shots = [
        Shot(
            player,
            datetime(2025, 1, 1) + timedelta(days=day),
            number,
            readings,
            strike_method=method,
            note=note,
        )
        for player, day, number, readings, method, note in rows
    ]
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(
        ["player", "session", "shot", "strike_method", "note", *(u[0] for u in units.values())]
    )
    for shot in shots:
        cells = [
            repr(shot.readings[name] / factor) if name in shot.readings else ""
            for name, (_, factor) in units.items()
        ]
        writer.writerow(
            [
                shot.player,
                shot.session.date().isoformat(),
                shot.number,
                shot.strike_method,
                shot.note or "",
                *cells,
            ]
        )
    with Store.open("sqlite://") as store:
        report = load_shots(store, out.getvalue().encode(), today=date(2026, 6, 30))
        back = shots_of(store.shots_frame())
        again = load_shots(store, out.getvalue().encode(), today=date(2026, 6, 30))
    assert (report.stored, again.already_stored) == (len(shots), len(shots))
    shots.sort(key=lambda s: (s.player, s.session, s.number))
    assert [s.key for s in back] == [s.key for s in shots]
    for stored, given_shot in zip(back, shots, strict=True):
        assert stored.readings.keys() == given_shot.readings.keys()
        assert dict(stored.readings) == pytest.approx(
            dict(given_shot.readings), rel=1e-12, abs=1e-12
        )
        assert (stored.strike_method, stored.note) == (given_shot.strike_method, given_shot.note)
