"""Photographs read: recorded renders of the program's own printed rulers, and what is refused.

POV-Ray 3.7 made the pictures; `tests/photographs` draws them again, and measures larger sets.
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from focuschart.cli import main
from focuschart.errors import InputError
from focuschart.layout.tag.ids import strip_ids
from focuschart.photo.pairs import pair_of
from focuschart.photo.picture import Photograph, photograph
from focuschart.photo.read import Outcome, rings_in
from focuschart.photo.refusal import Unread
from focuschart.photo.strips import TaggedStrip
from focuschart.photo.tags import turned
from tests.photographs.prints import KITS
from tests.photographs.sets import DIAMETERS_MM, RECORDED, strips

ORDINARY = sorted(RECORDED.glob("ordinary-*.jpg"))
BOTH = sorted(RECORDED.glob("both-*.jpg"))
SMALL = sorted(RECORDED.glob("small-print-*.jpg"))
ODD = sorted(RECORDED.glob("odd-*.jpg"))
HOSTILE = {truth["thing"]: path for path in sorted(RECORDED.glob("hostile-*.jpg"))
           if (truth := json.loads(path.with_suffix(".json").read_text()))}  # fmt: skip


def truth_of(path: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(path.with_suffix(".json").read_text())
    return data


def known(path: Path) -> list[TaggedStrip]:
    return strips(truth_of(path)["kit"])


def read(path: Path) -> Outcome:
    return rings_in(photograph(path.read_bytes()), known(path))


def changed(path: Path, picture: NDArray[Any]) -> Outcome:
    """Read a recorded photograph after something was done to its picture."""
    done, data = cv2.imencode(".png", picture)
    assert done
    return rings_in(photograph(data.tobytes()), known(path))


def grey(path: Path) -> NDArray[np.uint8]:
    return np.asarray(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE), np.uint8)


def refusals(outcome: Outcome) -> list[str]:
    assert not outcome.rings
    assert all(":" in each.why for each in outcome.refused), "every refusal has a cure"
    return [each.code for each in outcome.refused]


# --- what is read ---------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ORDINARY + BOTH, ids=lambda path: path.stem)
def test_the_figure_under_the_line_is_read_to_hundredths(path: Path) -> None:
    """Truth by the scene. 0.080 mm is the most that the agreed ordinary set may be off."""
    arcs, outcome = truth_of(path)["arcs"], read(path)
    assert not outcome.refused
    assert {ring.strip.ring for ring in outcome.rings} == set(arcs)
    for ring in outcome.rings:
        off = ring.arc_mm - arcs[ring.strip.ring]
        assert abs(off) < min(0.080, 3.0 * ring.sigma_mm)
        assert ring.sigma_mm < 0.04


def test_the_recorded_photographs_have_no_bias() -> None:
    off = [
        ring.arc_mm - truth_of(path)["arcs"][ring.strip.ring]
        for path in ORDINARY + BOTH
        for ring in read(path).rings
    ]
    assert len(off) >= 10
    assert abs(np.mean(off)) < 0.008
    assert np.std(off) < 0.020


def test_the_figure_does_not_hang_on_the_way_the_phone_is_held() -> None:
    path = ORDINARY[0]
    upright, (ring,) = grey(path), read(path).rings
    for quarter in (1, 2, 3):
        (turned,) = changed(path, np.rot90(upright, quarter)).rings
        assert turned.arc_mm == pytest.approx(ring.arc_mm, abs=0.003)


@pytest.mark.parametrize("path", ODD, ids=lambda path: str(truth_of(path)["thing"]))
def test_uncommon_rings_are_read_as_well(path: Path) -> None:
    """A tapered ring, an index on the subject's side, strips printed light on dark."""
    (ring,) = read(path).rings
    assert abs(ring.arc_mm - truth_of(path)["arc_mm"]) < min(0.080, 3.0 * ring.sigma_mm)


def test_a_mirrored_picture_is_turned_back() -> None:
    path = ORDINARY[0]
    (ring,) = changed(path, np.ascontiguousarray(grey(path)[:, ::-1])).rings
    assert ring.arc_mm == pytest.approx(read(path).rings[0].arc_mm, abs=0.003)


@pytest.mark.parametrize("light", [(0.8, 0.02, 0.02), (1.0, 0.6, 0.1), (0.05, 0.1, 0.8)])
def test_the_colour_of_light_or_paper_does_no_harm(light: tuple[float, float, float]) -> None:
    """Curve of sRGB: IEC 61966-2-1, its power law alone."""
    path = ORDINARY[0]
    red_last = np.array(light[::-1])
    coloured = np.round(
        255.0 * ((grey(path)[..., np.newaxis] / 255.0) ** 2.2 * red_last) ** (1 / 2.2)
    )
    (ring,) = changed(path, coloured.astype(np.uint8)).rings
    assert ring.arc_mm == pytest.approx(truth_of(path)["arc_mm"], abs=0.08)


def test_a_focal_length_that_is_not_told_may_be_any() -> None:
    path = ORDINARY[0]
    photo = photograph(path.read_bytes())
    for factor in (0.6, 2.8):
        (ring,) = rings_in(replace(photo, focal_px=factor * photo.focal_px), known(path)).rings
        assert ring.arc_mm == pytest.approx(truth_of(path)["arc_mm"], abs=0.08)


def test_another_rings_strip_in_the_picture_does_no_harm() -> None:
    path = HOSTILE["other-strip"]
    (ring,) = read(path).rings
    assert ring.arc_mm == pytest.approx(truth_of(path)["arc_mm"], abs=0.08)


# --- what is refused ------------------------------------------------------------------------------


def test_a_small_picture_is_refused_for_its_resolution() -> None:
    path = ORDINARY[0]
    tiny = cv2.resize(grey(path), None, fx=0.45, fy=0.45, interpolation=cv2.INTER_AREA)
    assert refusals(changed(path, tiny)) == ["low-resolution"]


def test_a_cropped_picture_is_refused() -> None:
    path = ORDINARY[0]
    assert refusals(changed(path, grey(path)[:, 90:])) == ["cropped"]


def test_a_picture_cropped_to_the_same_shape_is_refused_for_its_middle() -> None:
    assert refusals(read(HOSTILE["crop"])) == ["cropped"]


def test_an_index_with_an_end_up_is_refused() -> None:
    assert refusals(read(HOSTILE["curled"])) == ["inconsistent"]


def test_a_blurred_picture_is_refused() -> None:
    path = ORDINARY[0]
    assert refusals(changed(path, cv2.GaussianBlur(grey(path), (0, 0), 4.2)))[0] in (
        "blur", "few-tags", "residual",
    )  # fmt: skip


def test_a_page_made_to_fit_the_paper_is_refused() -> None:
    """97 % is what a common A4 printer's "fit" makes of a page with margins; common practice."""
    codes = [code for path in SMALL for code in refusals(read(path))]
    assert codes == ["scale"] * len(SMALL)


def covered(path: Path, *, on_index: bool) -> Outcome:
    """Read a photograph with the tag nearest to the line, or one of the index, hidden."""
    outcome = read(path)
    (ring,) = outcome.rings
    strip = ring.index if on_index else ring.strip
    places = strip.middles[:, 0] - (0.0 if on_index else ring.arc_mm)
    number = strip.tags[int(np.argmin(np.abs(places)))].number
    square = outcome.seen.corners[outcome.seen.numbers.tolist().index(number)]
    picture = grey(path).copy()
    grown = square.mean(axis=0) + 1.3 * (square - square.mean(axis=0))
    cv2.fillConvexPoly(picture, grown.astype(np.int32), 90)
    return changed(path, picture)


def test_a_tag_hidden_at_the_line_is_refused() -> None:
    assert refusals(covered(ORDINARY[0], on_index=False)) == ["not-bracketed"]


def test_an_index_may_lack_one_tag() -> None:
    (ring,) = covered(ORDINARY[0], on_index=True).rings
    assert ring.arc_mm == pytest.approx(truth_of(ORDINARY[0])["arc_mm"], abs=0.04)


def test_a_picture_without_tags_is_refused() -> None:
    flat = np.full((900, 1200), 120, np.uint8)
    assert refusals(changed(ORDINARY[0], flat)) == ["few-tags"]


# --- which strip ----------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ORDINARY + BOTH, ids=lambda path: path.stem)
def test_a_strip_of_no_known_print_is_never_read(path: Path) -> None:
    photo = photograph(path.read_bytes())
    for number in range(len(DIAMETERS_MM)):
        if number != truth_of(path)["kit"]:
            outcome = rings_in(photo, strips(number))
            assert not outcome.rings
            assert {each.code for each in outcome.refused} == {"unknown-strip"}


def test_a_former_print_is_named() -> None:
    path = ORDINARY[0]
    (ring,) = read(path).rings
    old = [replace(s, former=s.code == ring.strip.code) for s in known(path)]
    outcome = rings_in(photograph(path.read_bytes()), old)
    assert refusals(outcome) == ["wrong-strip"]
    assert ring.strip.code in outcome.refused[0].why


def test_the_index_of_another_ring_is_named() -> None:
    path = ORDINARY[0]
    (ring,) = read(path).rings
    others = [
        replace(s, part="fifty-eight", name="Another lens") if s.code == ring.index.code else s
        for s in known(path)
    ]
    outcome = rings_in(photograph(path.read_bytes()), others)
    assert refusals(outcome) == ["wrong-strip"]
    assert "Another lens" in outcome.refused[0].why


def renumbered(strip: TaggedStrip, code: str) -> TaggedStrip:
    """Return the strip as it would be printed with another code."""
    pool = strip.ring if strip.on_ring else f"{strip.ring}/index"
    ids = strip_ids(code, pool, length=len(strip.tags))
    tags = tuple(replace(tag, number=n) for tag, n in zip(strip.tags, ids, strict=True))
    return replace(strip, code=code, tags=tags)


@pytest.mark.parametrize("path", ORDINARY, ids=lambda path: path.stem)
@pytest.mark.parametrize("on_index", [False, True])
def test_each_wrong_strip_is_named_where_its_code_is_known(path: Path, on_index: bool) -> None:
    """A former print, another lens's, a marker strip's partner; and one that nobody knows."""
    seen, (ring,) = turned(photograph(path.read_bytes()).grey).seen, read(path).rings
    wrong = ring.index if on_index else ring.strip
    rest = [each for each in known(path) if each.ring == wrong.ring and each.code != wrong.code]
    present = renumbered(wrong, "22222-2")
    of_a_rig = {"kind": "index" if on_index else "marker", "rig": "a"}
    for changes in ({"former": True}, {"part": "other"}, of_a_rig):
        with pytest.raises(Unread) as refused:
            pair_of(seen, wrong.ring, [*rest, present, replace(wrong, **changes)])
        assert refused.value.refused.code == "wrong-strip"
        assert wrong.code in refused.value.refused.why
    with pytest.raises(Unread) as refused:
        pair_of(seen, wrong.ring, [*rest, present])
    assert refused.value.refused.code == "unknown-strip"


# --- files ----------------------------------------------------------------------------------------


def test_a_heic_file_is_named_with_the_cure() -> None:
    with pytest.raises(InputError, match="HEIC file, which is not read: set the phone's camera"):
        photograph(b"\0\0\0\x18ftypheic" + bytes(40))


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\xff\xd8\xff\xe0broken"])
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match="no JPEG or PNG picture"):
        photograph(data)


def with_exif(data: bytes, **tags: Any) -> bytes:
    from io import BytesIO

    from PIL import Image

    numbers = {"taken": 0x9003, "focal": 0xA405, "wide": 0xA002, "high": 0xA003}
    out = BytesIO()
    with Image.open(BytesIO(data)) as image:
        exif = image.getexif()
        exif.get_ifd(0x8769).update({numbers[name]: value for name, value in tags.items()})
        image.save(out, "JPEG", exif=exif, quality=95)
    return out.getvalue()


def test_time_and_focal_length_are_read_from_the_file_and_nothing_else() -> None:
    data = with_exif(ORDINARY[0].read_bytes(), taken="2031:05:06 07:08:09", focal=26)
    photo: Photograph = photograph(data)
    assert str(photo.taken) == "2031-05-06 07:08:09"
    # By the definition of the 35 mm equivalent (CIPA DC-008): equal diagonal field, 43.27 mm.
    assert photo.focal_px == pytest.approx(26.0 * np.hypot(*photo.grey.shape) / 43.27)


def test_a_picture_smaller_than_its_own_exif_says_was_cropped() -> None:
    data = ORDINARY[0].read_bytes()
    assert not photograph(with_exif(data, wide=4032, high=2268)).whole
    assert photograph(with_exif(data, wide=4032, high=3024)).whole


# --- the command ----------------------------------------------------------------------------------


def kit_file(folder: Path, number: int, *, readings: bool = False) -> Path:
    taking, attachment = DIAMETERS_MM[number]
    text = (KITS / "two-lenses.toml").read_text()
    text = text.replace('diameter = "78 mm"', f'diameter = "{taking:g} mm"')
    text = text.replace('diameter = "92 mm"', f'diameter = "{attachment:g} mm"')
    if not readings:
        text = text[: text.index("[[readings]]")]
    path = folder / "bag.toml"
    path.write_text(text)
    return path


def run(*words: object, status: int, answer: str = "") -> str:
    result = CliRunner().invoke(main, ["photo", *map(str, words)], input=answer)
    assert result.exit_code == status, result.output
    return result.output


def test_a_photograph_becomes_a_reading_with_its_own_noise(tmp_path: Path) -> None:
    path = BOTH[0]
    kit = kit_file(tmp_path, truth_of(path)["kit"])
    before = kit.read_text()
    out = run(kit, path, "--distance", "2 m", "--dry-run", "--out", tmp_path, status=0)
    assert "portrait-85" in out
    assert kit.read_text() == before
    run(kit, path, "--distance", "2 m", "--out", tmp_path, status=0, answer="n\n")
    assert kit.read_text() == before
    run(kit, path, "--distance", "2 m", "--yes", "--out", tmp_path, status=0)
    added = kit.read_text().removeprefix(before)
    for key in ("taking", "attachment", "taking_error", "attachment_error", "photo"):
        assert f"\n{key} = " in added
    assert "left out" in run(kit, path, "--distance", "2 m", "--yes", "--out", tmp_path, status=0)
    assert kit.read_text().count("[[readings]]") == 1


def test_the_data_for_other_programs(tmp_path: Path) -> None:
    path = BOTH[0]
    kit = kit_file(tmp_path, truth_of(path)["kit"])
    data = json.loads(run(kit, path, "--distance", "2 m", "--format", "json", "--out", tmp_path,
                          status=0))  # fmt: skip
    (photo,) = data["photos"]
    assert data["format"] == 1
    assert photo.keys() == {"file", "rings", "distance_mm", "refused"}
    assert photo["distance_mm"] == 2000.0
    for ring in photo["rings"]:
        assert ring.keys() == {"rig", "ring", "strip", "arc_mm", "arc_95_mm"}
        assert ring["arc_mm"] == pytest.approx(truth_of(path)["arcs"][ring["ring"]], abs=0.08)
    assert "[[readings]]" not in kit.read_text()


def test_without_a_distance_nothing_is_entered_but_the_figure_is_told(tmp_path: Path) -> None:
    path = next(path for path in ORDINARY if "taking" in truth_of(path)["arcs"])
    kit = kit_file(tmp_path, truth_of(path)["kit"])
    (photo,) = json.loads(run(kit, path, "--yes", "--format", "json", "--out", tmp_path, status=2))[
        "photos"
    ]
    assert len(photo["rings"]) == 1
    assert [each["code"] for each in photo["refused"]] == ["no-distance"]
    assert "[[readings]]" not in kit.read_text()


def test_some_refused_is_status_1_and_another_rigs_ring_is_named(tmp_path: Path) -> None:
    path = BOTH[0]
    kit = kit_file(tmp_path, truth_of(path)["kit"])
    out = run(kit, path, "--distance", "2 m", "--dry-run", "--rig", "portrait-58",
              "--out", tmp_path, status=1)  # fmt: skip
    assert "wrong-strip" in out
    assert "85 mm f/1.8" in out


def test_without_opencv_the_command_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "cv2", None)
    out = run(kit_file(tmp_path, 0), ORDINARY[0], "--out", tmp_path, status=2)
    assert "pip install opencv-python-headless" in out
    assert out.count("\n") == 1


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    kit = kit_file(tmp_path, 0)
    assert "is not there" in run(kit, tmp_path / "no.jpg", status=2)
    (tmp_path / "empty").mkdir()
    assert "no photograph" in run(kit, tmp_path / "empty", status=2)
