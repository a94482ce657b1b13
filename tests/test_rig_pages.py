"""The document of rigs: who gets a sheet, what stands on it, and how far apart."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from focuschart.chart.charts import build_charts
from focuschart.checks.coverage import Coverage
from focuschart.checks.rig_check import RigCheck, check_rigs
from focuschart.cli import main
from focuschart.errors import GlyphError
from focuschart.layout.page import Page, Text
from focuschart.pages.rigs import CAUTIONS, rig_pages
from tests import readback
from tests.kits import kit_text, loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit
from tests.shapes import apart, corners, keyed
from tests.sheets import FACE, pdf_of

SAMPLES = sorted((FilePath(__file__).parent.parent / "sample_kits").glob("*.toml"))


def sheets_of(kit: dict[str, Any], paper: str = "A4") -> list[Page]:
    bag = loaded(kit)
    charts = list(build_charts(bag))
    return rig_pages(bag, charts, face=FACE, paper=paper).get("rigs", [])


def check_of(kit: dict[str, Any]) -> RigCheck:
    bag = loaded(kit)
    (check,) = check_rigs(bag, build_charts(bag))
    return check


def words(page: Page, start: str = "") -> str:
    """Return texts by the start of their key, spaces that bind made plain."""
    found = [s.text for s in page.shapes if isinstance(s, Text) and s.key.startswith(start)]
    return " ".join(found).replace("\N{NO-BREAK SPACE}", " ")


def fact(page: Page, label: str) -> str:
    labels = {s.text: s.key for s in page.shapes if isinstance(s, Text) and s.key[:5] == "fact:"}
    return words(page, f"{labels[label]}:")


def scale_of(page: Page, key: str) -> float:
    shape = keyed(page.shapes)[key]
    assert isinstance(shape, Text)
    paper, true = shape.text.removeprefix("Scale ").split(" : ")
    return float(paper) / float(true)


# By hand from the kit: 18 + 74 = 92 to the lens's rim, 12 mm of clamp, 95 mm of attachment.
BOXES = ((0.0, 18.0), (18.0, 92.0), (92.0, 104.0), (104.0, 199.0), (199.0, 203.0))
# Body at −5, lens at 18 + 40, clamp at 98, attachment at 154, filter at 201, support at 140 mm.
CENTRE_MM = (-5 * 700 + 58 * 400 + 98 * 100 + 154 * 800 + 201 * 30 + 140 * 150) / 2180


def test_the_sheet_is_to_scale_from_its_shapes() -> None:
    (page,) = sheets_of(full_kit())
    found, scale = keyed(page.shapes), scale_of(page, "view:scale")
    plane = corners(found["plane"])[0, 0]
    for number, ends in enumerate(BOXES):
        xs = (corners(found[f"piece:{number}"])[:, 0] - plane) / scale
        assert (xs.min(), xs.max()) == pytest.approx(ends, abs=1e-9)
    for key, at in (("gravity", CENTRE_MM), ("thread", 10.0), ("support", 140.0)):
        xs = (corners(found[key])[:, 0] - plane) / scale
        assert (xs.min() + xs.max()) / 2.0 == pytest.approx(at, abs=1e-9)
    heights = [np.ptp(corners(found[f"piece:{n}"])[:, 1]) / scale for n in range(1, 5)]
    # The lens's barrel, the clamp's thread, the attachment's ring, the filter's thread.
    assert heights == pytest.approx([72.0, 67.0, 82.0, 77.0], abs=1e-9)


def test_the_sheet_is_to_scale_in_the_pdf() -> None:
    (page,) = sheets_of(full_kit())
    (drawn,) = readback.pdf_paths(pdf_of(page))
    boxes = [(p.points.min(axis=0), p.points.max(axis=0)) for p in drawn]
    for number in range(len(BOXES)):
        wanted = corners(keyed(page.shapes)[f"piece:{number}"])
        low, high = wanted.min(axis=0), wanted.max(axis=0)
        off = [max(np.abs(b[0] - low).max(), np.abs(b[1] - high).max()) for b in boxes]
        assert min(off) < 0.01


def test_footprints_are_the_coverages() -> None:
    """Percentages are the coverage's; the corner is the picture's upper right: x and y positive.

    At infinity a beam is f/N high at the rear group and stands at e·X/f, e from the pupil.
    """
    kit = full_kit() | {"readings": []}  # the lens as engraved, not as fitted
    (page,) = sheets_of(kit)
    found, covered = keyed(page.shapes), check_of(kit).coverage
    assert isinstance(covered, Coverage)
    light = covered.passed[list(covered.stops).index(2.8)]
    for j in range(2):
        for group in ("rear", "front"):
            assert f"Sensor corner: {100 * light[j]:.0f} %" in words(page, f"{group}:{j}:label:2")
            crop = covered.deliveries[0].passed[list(covered.stops).index(2.8)]
            assert f"2.39 corner: {100 * crop[j]:.0f} %" in words(page, f"{group}:{j}:label:3")
    scale = scale_of(page, "rear:0:scale")
    axis = corners(found["rear:0:axis:across"]).mean(axis=0)
    opening, centre, corner = (
        (corners(found[f"rear:0:figure:{n}"]) - axis) / scale for n in range(3)
    )
    crop = (corners(found["rear:0:figure:3"]) - axis) / scale
    assert np.ptp(opening, axis=0) == pytest.approx([48.0, 48.0])
    assert np.ptp(centre[:, 1]) == pytest.approx(85.0 / 2.8)
    middle = (corner.min(axis=0) + corner.max(axis=0)) / 2.0
    # By hand: the rear group's middle at 199 − 6 − 88 = 105 mm, the pupil at 60 mm; each half of
    # the rear glass, 7 mm, shortens the way by 0.36 of itself; F = 2 · 88 mm.
    to_group, beyond = 45.0 - 0.36 * 7.0, 7.0 - 0.36 * 7.0
    across = to_group + beyond * (1.0 - to_group / 176.0)
    assert middle == pytest.approx([18.0 / 85.0 * across, 12.0 / 85.0 * (to_group + beyond)])
    # The delivery is, at infinity, 2.39 · 24 / 2 mm wide and as high as the sensor.
    middle = (crop.min(axis=0) + crop.max(axis=0)) / 2.0
    assert middle == pytest.approx([14.34 / 85.0 * across, 12.0 / 85.0 * (to_group + beyond)])


def test_the_sensor_shows_crop_and_clear_field() -> None:
    kit = full_kit()
    (page,) = sheets_of(kit)
    found, covered = keyed(page.shapes), check_of(kit).coverage
    assert isinstance(covered, Coverage)
    scale = scale_of(page, "sensor:scale")
    sizes = [np.ptp(corners(found[f"sensor:figure:{n}"]), axis=0) / scale for n in range(4)]
    assert sizes[0] == pytest.approx([36.0, 24.0])
    # The delivery at the nearest mark, where the squeeze is the least and the crop the widest.
    squeeze = check_of(kit).picture.squeeze[0]
    assert sizes[1] == pytest.approx([2.39 * 24.0 / squeeze, 24.0])
    shares = np.minimum(covered.full_crop[list(covered.stops).index(2.8)], 1.0)
    assert [size[0] / 36.0 for size in sizes[2:]] == pytest.approx(shares.tolist())


def test_what_to_set_up_is_told() -> None:
    (page,) = sheets_of(full_kit())
    assert fact(page, "Chain") == "Body; 85 mm; Clamp; 2x; Clear"
    assert (
        fact(page, "Plate") == f"Carrier's axis {CENTRE_MM - 10:.0f} mm before the tripod thread."
    )
    assert fact(page, "Support").startswith("Rods, 140 mm before the sensor mark, raised ")
    assert fact(page, "Mass") == "2.18 kg on Head, 1.82 kg to spare. Rods and plate not counted."
    assert fact(page, "Lens mount").endswith("raised too hard; stated limit 2 N m.")
    assert fact(page, "Nearest").startswith("1 m from the sensor mark")
    # 2·atan(2·28.68 / (2·85)) over seven seconds, 28.68 mm being what 2.39 leaves of the width.
    assert fact(page, "Pans").startswith("Subject at 1.2 m / ∞: 4.5° / 5.3° a second at most")
    assert " at 1.2 m; " in fact(page, "Frame 2.39")
    printed = words(page, "caution:")
    for caution in CAUTIONS:
        assert printed.count(caution) == 1


def test_without_deliveries_the_frame_is_called_the_whole_one() -> None:
    (page,) = sheets_of(full_kit() | {"deliveries": []})
    assert " at 1.2 m; " in fact(page, "Whole frame")


def test_each_caution_of_the_check_stands_on_the_sheet_once() -> None:
    kit = changed_kit("carriers", "head", "plate_range", to=["-40 mm", "73 mm"])
    kit["taking_lenses"]["long"]["front_rotates"] = True
    (page,) = sheets_of(kit)
    cautions, printed = check_of(kit).cautions, words(page, "fact:")
    assert len(cautions) >= 2
    for caution in cautions:
        assert printed.count(f"{caution[0].upper()}{caution[1:]}.") == 1


def test_facts_without_room_are_named() -> None:
    kit = full_kit() | {"deliveries": [f"{1 + i / 20:.2f}" for i in range(60)]}
    (page,) = sheets_of(kit)
    told = words(page, "caution:")
    assert "No room here for all: see the check for " in told
    assert "Frame 3.95" in told


def test_lines_never_part_a_figure_from_its_unit() -> None:
    (page,) = sheets_of(full_kit())
    lines = [s.text for s in page.shapes if isinstance(s, Text) and s.key.startswith("fact:")]
    assert not any(line.startswith(("m ", "mm ", "N ", "kg ", "× ")) for line in lines)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_nothing_leaves_the_page_and_no_words_meet(path: FilePath, paper: str) -> None:
    from focuschart.kit.load import load_kit

    kit = load_kit(path.read_text(encoding="utf-8"), source=path.name)
    charts = list(build_charts(kit))
    pages = rig_pages(kit, charts, face=FACE, paper=paper).get("rigs", [])
    assert len(pages) == {"two-lenses": 2, "feet-and-inches": 1, "mild-street": 0}[path.stem]
    for page in pages:
        for shape in page.shapes:
            box = corners(shape)
            assert np.all(box >= 3.0), shape.key
            assert np.all(box <= np.array([page.width_mm, page.height_mm]) - 3.0), shape.key
        texts = [shape for shape in page.shapes if isinstance(shape, Text)]
        for one, two in combinations(texts, 2):
            assert apart(corners(one), corners(two)), (one.text, two.text)


# --- who gets a sheet -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        ("attachments", "double", "mass"),
        ("taking_lenses", "long", "centre_of_gravity"),
        ("filters", "clear", "thickness"),
        ("supports", "rods", "mass"),
    ],
)
def test_a_rig_whose_balance_is_not_known_gets_none(path: tuple[str, ...]) -> None:
    assert sheets_of(changed_kit(*path, to=None)) == []


def test_a_kit_without_facts_gets_no_document(tmp_path: FilePath) -> None:
    kits = {"plain": plain_kit(), "full": full_kit()}
    for name, kit in kits.items():
        (tmp_path / f"{name}.toml").write_text(kit_text(kit), encoding="utf-8")
        done = CliRunner().invoke(
            main, ["build", str(tmp_path / f"{name}.toml"), "--out", str(tmp_path / "out")]
        )
        assert done.exit_code == 0, done.output
    names = {
        name: {path.name for path in (tmp_path / "out" / name).rglob("rigs*")} for name in kits
    }
    assert names == {"plain": set(), "full": {"rigs.pdf", "rigs-1.svg"}}


def test_a_rig_without_a_known_pupil_says_why_it_has_no_footprints() -> None:
    (page,) = sheets_of(changed_kit("taking_lenses", "long", "entrance_pupil", to=None))
    assert "No footprints: taking_lenses.long.entrance_pupil not given." in words(page, "caution:")
    assert not any(key.startswith(("rear:", "front:", "sensor:")) for key in keyed(page.shapes))


def test_what_is_not_told_is_said_or_left_out() -> None:
    (page,) = sheets_of(changed_kit("cameras", "body", "tripod_thread", to=None))
    assert "cameras.body.tripod_thread not given" in fact(page, "Plate")
    assert "thread" not in keyed(page.shapes)
    (page,) = sheets_of(changed_kit("rigs", "portrait", "support", to=None))
    assert fact(page, "Support") == "None: the lens mount carries all."
    assert "support" not in keyed(page.shapes)
    (page,) = sheets_of(changed_kit("cameras", "body", "readout_time", to=None))
    assert "Pans" not in words(page)


def test_what_cannot_work_is_told_first() -> None:
    kit = changed_kit("carriers", "head", "payload", to="1 kg")
    kit["carriers"]["head"]["plate_range"] = ["-40 mm", "5 mm"]
    kit["cameras"]["body"]["mount_moment_limit"] = "0.2 N m"
    del kit["rigs"]["portrait"]["support"]
    (page,) = sheets_of(kit)
    first, *_ = check_of(kit).faults
    assert words(page, "fact:0") == f"DOES NOT WORK {first[0].upper()}{first[1:]}."
    assert fact(page, "Mass").endswith("TOO MUCH. Rods and plate not counted.")
    assert fact(page, "Plate").endswith(": BEYOND THE PLATE.")
    assert fact(page, "Lens mount").endswith("stated limit 0.2 N m: EXCEEDED.")


def test_a_name_that_cannot_be_printed_is_told_with_its_key() -> None:
    with pytest.raises(GlyphError, match=r"clamps\.clamp\.name: the font has no glyph for"):
        sheets_of(changed_kit("clamps", "clamp", "name", to="環"))
