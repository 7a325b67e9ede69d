"""A fit as bytes: what is written comes back; anything else is refused with what to do."""

import io
import json
import zipfile

import numpy as np
import pytest

from models.traits import MODELLED
from tests.fits import day, make_fit
from tracker.errors import NoFit, UnreadableFit
from tracker.fits.codec import decode, encode
from tracker.posterior import ARRAYS
from tracker.records import Change

UP = "strike_up_mm"
AGAIN = "run drive-progress fit again"


@pytest.fixture(scope="module")
def fit():
    return make_fit(
        {"Ann": {UP: [0.0, 2.0, 4.0, 6.0]}, "Bo": {UP: 1.0}},
        samples=10,
        methods=("photo", "spray"),
        changes=[Change("Ann", day(10), "drill", "ladder", UP)],
        physics={"drag_factor": np.full(10, 1.03), "restitution": np.ones((10, 2))},
        ball_check=[("carry_m", "Bo", 2, 201.0, 203.5, 211.0, 1.5)],
    )


def repacked(fit, head=None, without=(), **changed):
    """The fit's bytes with another head, without some arrays, with others put in."""
    with np.load(io.BytesIO(encode(fit))) as archive:
        parts = {name: archive[name] for name in archive if name not in without}
    told = json.loads(str(parts["head"])) | (head or {})
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **(parts | changed | {"head": np.array(json.dumps(told))}))
    return buffer.getvalue()


def array_as_bytes():
    buffer = io.BytesIO()
    np.save(buffer, np.zeros(3))
    return buffer.getvalue()


def test_every_array_and_name_comes_back(fit):
    back = decode(encode(fit), fit.info)
    for name in ARRAYS:
        found, kept = getattr(back, name), getattr(fit, name)
        np.testing.assert_array_equal(found, kept, err_msg=name)
        assert found.dtype == kept.dtype, name
    for name in ("players", "traits", "methods", "changes", "drills", "ball_checks", "info"):
        assert getattr(back, name) == getattr(fit, name), name


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_bytes_cut_short_are_refused_with_what_to_do(fit, share):
    content = encode(fit)
    with pytest.raises(UnreadableFit, match=f"fit 1 cannot be read: it is damaged .*{AGAIN}"):
        decode(content[: int(share * len(content))], fit.info)


def test_a_byte_changed_anywhere_is_refused_or_does_no_harm(fit):
    content, rng, refused = encode(fit), np.random.default_rng(3), 0
    for place in rng.integers(0, len(content), 300):
        damaged = bytearray(content)
        damaged[place] ^= 0xFF
        try:
            back = decode(bytes(damaged), fit.info)
        except UnreadableFit:
            refused += 1
        else:
            np.testing.assert_array_equal(back.level, fit.level)
    assert refused > 200


@pytest.mark.parametrize("content", [b"player,session\nAnn,2026-05-02\n", array_as_bytes()])
def test_what_is_no_fit_at_all_is_refused(fit, content):
    with pytest.raises(UnreadableFit, match=AGAIN):
        decode(content, fit.info)


@pytest.mark.parametrize("head", ["{'descr': (", "{'descr': '<f4', 'shape': (1,", "a = = b"])
def test_an_array_whose_own_head_is_damaged_is_refused(fit, head):
    with zipfile.ZipFile(io.BytesIO(encode(fit))) as written:
        parts = {name: written.read(name) for name in written.namelist()}
    text = head.ljust(118).encode()
    parts["level.npy"] = b"\x93NUMPY\x01\x00" + len(text).to_bytes(2, "little") + text
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as damaged:
        for name, content in parts.items():
            damaged.writestr(name, content)
    with pytest.raises(UnreadableFit, match=f"fit 1 cannot be read: it is damaged .*{AGAIN}"):
        decode(buffer.getvalue(), fit.info)


def test_a_fit_of_another_version_is_told_from_a_damaged_one(fit):
    with pytest.raises(UnreadableFit, match=f"made by another version .format 9, .*{AGAIN}"):
        decode(repacked(fit, {"format": 9}), fit.info)
    with pytest.raises(UnreadableFit, match=f"earlier version .it has no jump_at.*{AGAIN}"):
        decode(repacked(fit, without=("jump_at",)), fit.info)


def test_a_fit_written_before_formats_had_numbers_is_read(fit):
    with np.load(io.BytesIO(encode(fit))) as archive:
        parts = {name: archive[name] for name in archive}
    head = json.loads(str(parts["head"]))
    del head["format"]
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **(parts | {"head": np.array(json.dumps(head))}))
    np.testing.assert_array_equal(decode(buffer.getvalue(), fit.info).level, fit.level)


@pytest.mark.parametrize(
    ("why", "head", "arrays"),
    [
        ("shot_sd has shape", {}, {"shot_sd": np.ones((10, 3, len(MODELLED)))}),
        ("level has shape", {}, {"level": np.ones((10, 2, 4), dtype=np.float32)}),
        ("level holds int", {}, {"level": np.ones((10, 2, 4, len(MODELLED)), dtype=np.int64)}),
        ("drill_effect has shape", {"drills": ["ladder", "tape"]}, {}),
        ("session_start has shape", {"players": [{"name": "Ann"}]}, {}),
        ("methods of 1 traits", {"methods": [["photo"]]}, {}),
        ("more names of methods", {"methods": [["a", "b", "c"]] * len(MODELLED)}, {}),
        ("day_alike has shape", {}, {"day_alike": np.ones((9, len(MODELLED)))}),
        ("drag_factor has shape", {}, {"physics.drag_factor": np.ones(9)}),
        ("a player that is not there", {}, {"ball.player": np.array([2])}),
        ("of unlike length", {}, {"ball.predicted": np.array([1.0, 2.0])}),
        ("is damaged", {"players": 3}, {}),
    ],
)
def test_parts_that_do_not_belong_together_are_refused(fit, why, head, arrays):
    with pytest.raises(UnreadableFit, match=why):
        decode(repacked(fit, head, **arrays), fit.info)


def test_whoever_copes_without_a_fit_copes_with_one_that_cannot_be_read():
    assert issubclass(UnreadableFit, NoFit)
