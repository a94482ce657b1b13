"""The squeeze read off frames of the squeeze card: recorded ones through traced glass.

`tests/stills` draws them ray by ray, with no formula of the program's own, and measures larger
sets: of 100 held back it is said in the guide how well they are read.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.command import run
from tests.designs.recorded import load_designs
from tests.kits import kit_text, plain_kit
from tests.stills.optics import Eye, Stand
from tests.stills.sets import RECORDED, Taken, kept, measured

FRAMES = dict(kept(RECORDED))
FLAT = sorted(name for name in FRAMES if name.startswith("still"))
CURLED = sorted(name for name in FRAMES if name.startswith("curled"))
ONE = FLAT[0]
AGREED = 0.003
"""The most that a reading may be off, as a share, as agreed for frames held back."""
Picture = NDArray[np.uint8]


@cache
def picture(name: str) -> Picture:
    data = np.frombuffer(FRAMES[name].data, np.uint8)
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), np.uint8)


def png(changed: Picture) -> bytes:
    done, data = cv2.imencode(".png", changed)
    assert done
    return bytes(data)


def handed(name: str, changed: Picture) -> Taken:
    """Return a recorded frame after something was done to its picture."""
    return replace(FRAMES[name], data=png(changed))


@cache
def tags(name: str) -> NDArray[np.float64]:
    """Return the corners of all tags (24 × 4 × 2), as OpenCV finds them by its own dictionary."""
    known = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    corners, _, _ = cv2.aruco.ArucoDetector(known).detectMarkers(picture(name))
    return np.reshape(corners, (-1, 4, 2))


def without(name: str, missing: int) -> Taken:
    """Return a frame some of whose tags are painted over."""
    changed = picture(name).copy()
    for corners in tags(name)[:missing]:
        cv2.fillConvexPoly(changed, corners.astype(np.int32), (150,))
    return handed(name, changed)


# --- the frames themselves ------------------------------------------------------------------------


@pytest.mark.parametrize("number", [5, 60, 100])
def test_the_truth_is_the_ratio_of_magnifications_on_the_axis(number: int) -> None:
    """Paraxial matrices against rays traced through the same glass next to the axis."""
    eye = Eye.focused(load_designs()[number].rig, 1500.0)
    near_axis = np.array([1e-3])
    across, _ = eye.on_card(near_axis, 0.0 * near_axis, Stand())
    _, up = eye.on_card(0.0 * near_axis, near_axis, Stand())
    assert across[0] / up[0] == pytest.approx(eye.squeeze, rel=1e-8)


def test_frames_are_as_various_as_is_said() -> None:
    how = [FRAMES[name].how for name in FLAT]
    assert max(abs(each["tilt_x"]) for each in how) > np.radians(4.0)
    assert max(abs(each["misaligned"]) for each in how) > np.radians(0.3)
    assert any(each["crf"] for each in how)
    assert sum(len(frame.data) for frame in FRAMES.values()) < 1_000_000


# --- what is read ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FLAT)
def test_the_squeeze_is_read_to_three_thousandths(name: str) -> None:
    trial = measured(FRAMES[name])
    assert trial.read is not None, trial.refused
    assert abs(trial.off) < AGREED
    assert abs(trial.off) < 1.5 * trial.read.squeeze_95 / trial.truth
    assert trial.read.squeeze_95 < 0.004 * trial.truth


def test_readings_have_no_bias() -> None:
    assert abs(np.mean([measured(FRAMES[name]).off for name in FLAT])) < AGREED / 3.0


@pytest.mark.parametrize("name", FLAT[:3])
def test_bars_pass_through_whole(name: str) -> None:
    """A bar said to be longer by a thousandth makes the squeeze that much smaller, or greater."""
    frame = FRAMES[name]
    across, up = (float(bar.removesuffix(" mm")) for bar in frame.bars.split(" x "))
    read = [
        measured(replace(frame, bars=f"{across + more:.2f} mm x {up + other:.2f} mm")).read
        for more, other in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5))
    ]
    first, wider, higher = (each.squeeze if each else np.nan for each in read)
    assert wider / first == pytest.approx(1.005, abs=2e-4)
    assert higher / first == pytest.approx(0.995, abs=2e-4)


def test_upside_down_is_as_good() -> None:
    turned = measured(handed(ONE, picture(ONE)[::-1, ::-1].copy()))
    assert turned.off == pytest.approx(measured(FRAMES[ONE]).off, abs=2e-4)


@pytest.mark.parametrize("name", FLAT[:3])
def test_five_tags_hidden_change_little(name: str) -> None:
    assert measured(without(name, 5)).off == pytest.approx(measured(FRAMES[name]).off, abs=1e-3)


# --- what is refused ------------------------------------------------------------------------------


def refusal(frame: Taken) -> str:
    trial = measured(frame)
    assert trial.read is None, f"read, {trial.off:+.2%} off"
    code, _, why = trial.refused.partition(": ")
    assert ":" in why, "a refusal has a cure"
    return code


@pytest.mark.parametrize("name", FLAT)
def test_one_tag_in_four_missing_is_refused(name: str) -> None:
    assert refusal(without(name, 6)) == "few-tags"


def test_a_hand_over_the_card_is_refused() -> None:
    changed, corners = picture(ONE).copy(), tags(ONE).reshape(-1, 2)
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle, half = (low + 3.0 * high) / 4.0, (high - low) * (0.3, 0.4)
    cv2.ellipse(
        changed, middle.astype(int).tolist(), half.astype(int).tolist(), 20, 0, 360, (110,), -1
    )
    assert refusal(handed(ONE, changed)) == "few-tags"


@pytest.mark.parametrize("name", CURLED)
def test_a_curled_card_is_refused(name: str) -> None:
    """Its ends are 25 mm away from where a flat card has them."""
    assert refusal(FRAMES[name]) == "residual"


@pytest.mark.parametrize("name", FLAT)
@pytest.mark.parametrize("modules", [0.5, 1.0])
def test_blur_over_half_a_module_is_refused(name: str, modules: float) -> None:
    corners = tags(name)
    module_px = np.linalg.norm(corners[:, 1] - corners[:, 2], axis=-1).mean() / 6.0
    blurred = cv2.GaussianBlur(picture(name), (0, 0), float(modules * module_px))
    assert refusal(handed(name, np.asarray(blurred, np.uint8))) in {"blur", "few-tags"}


@pytest.mark.parametrize("name", FLAT)
def test_a_card_too_small_is_refused(name: str) -> None:
    small = cv2.resize(picture(name), None, fx=0.2, fy=0.2, interpolation=cv2.INTER_AREA)
    assert refusal(handed(name, np.asarray(small, np.uint8))) in {"low-resolution", "few-tags"}


def test_a_mirrored_frame_is_refused() -> None:
    assert refusal(handed(ONE, picture(ONE)[:, ::-1].copy())) == "inconsistent"
    assert "mirrored" in measured(handed(ONE, picture(ONE)[:, ::-1].copy())).refused


# --- by the command -------------------------------------------------------------------------------


def enter(folder: Path, name: str, data: bytes) -> tuple[int, str, list[dict[str, float]]]:
    """Hand a still over; return exit status, what is said, and the squeezes in the kit then."""
    frame, kit = FRAMES[name], plain_kit()
    for attachment in kit["attachments"].values():
        attachment["squeeze"] = round(frame.squeeze * 1.02, 2)
    still, file = folder / "still.png", folder / "kit.toml"
    still.write_bytes(data)
    file.write_text(kit_text(kit), "utf-8")
    done = run("photo", file, "--squeeze", still, "--rig", "portrait", "--bars", frame.bars,
               "--distance", f"{frame.how['distance_mm']:.0f} mm", "--yes")  # fmt: skip
    return done.exit_code, done.output, tomllib.loads(file.read_text("utf-8")).get("squeezes", [])


def test_a_frame_is_entered_with_its_error(tmp_path: Path) -> None:
    status, _, (entry,) = enter(tmp_path, ONE, FRAMES[ONE].data)
    assert status == 0
    assert entry["squeeze"] == pytest.approx(FRAMES[ONE].squeeze, rel=AGREED)
    assert 0.0 < entry["squeeze_error"] < AGREED * entry["squeeze"]


@pytest.mark.parametrize("which", ["wider", "lower", "turned"])
def test_a_desqueezed_or_turned_frame_is_refused(tmp_path: Path, which: str) -> None:
    shown = picture(ONE)
    high, wide = shown.shape
    ratio = FRAMES[ONE].squeeze
    changed = {
        "wider": cv2.resize(shown, (round(wide * ratio), high)),
        "lower": cv2.resize(shown, (wide, round(high / ratio))),
        "turned": np.rot90(shown).copy(),
    }[which]
    status, said, entries = enter(tmp_path, ONE, png(np.asarray(changed, np.uint8)))
    assert (status, entries) == (2, [])
    assert ("upright" if which == "turned" else "not desqueezed") in said
