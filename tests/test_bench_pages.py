"""The bench pack: what is in its folder, what its forms ask for, and the bars of its targets."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from focuschart.bench.advice import FAR_MM, bench_distances
from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from focuschart.layout.page import Page, Text
from focuschart.layout.sheet.papers import PAPERS, paper_size
from focuschart.pages.bench import CAUTIONS, CHECK, Bench, bench_pages
from focuschart.pages.pack import GLUE
from focuschart.renderers import RENDERERS
from focuschart.units import parse_length
from tests import readback
from tests.command import run
from tests.kits import kit_text, plain_kit
from tests.sheets import FACE

SAMPLES = Path(__file__).parent.parent / "sample_kits"
NAMES = (*sorted(path.stem for path in SAMPLES.glob("*.toml")), "plain")
DOCUMENTS = ("rulers", "bench-forms", "targets", "distance-cards", "squeeze-card")


def text_of(name: str) -> str:
    if name == "plain":
        return kit_text(plain_kit())
    return (SAMPLES / f"{name}.toml").read_text(encoding="utf-8")


def pages_of(
    text: str, bench: Bench | None = None
) -> tuple[Kit, list[Chart], Mapping[str, list[Page]]]:
    kit = load_kit(text, source="kit.toml")
    charts = list(build_charts(kit))
    return kit, charts, bench_pages(kit, charts, face=FACE, bench=bench or Bench())


@cache
def pack(name: str, paper: str) -> tuple[Kit, list[Chart], Mapping[str, list[Page]]]:
    return pages_of(text_of(name), Bench(paper))


def words(page: Page, start: str) -> str:
    found = [s.text for s in page.shapes if isinstance(s, Text) and s.key.startswith(start)]
    return " ".join(found)


def distances_on(page: Page) -> list[str]:
    return [s.text for s in page.shapes if isinstance(s, Text) and s.key.startswith("distance:")]


def length_mm(label: str, kit: Kit) -> float:
    """Return a printed label's length, where both units are printed by the metric one."""
    return parse_length(" ".join(label.split()[:2]) if kit.units == "both" else label)


def forms_by_rig(charts: list[Chart], documents: Mapping[str, list[Page]]) -> dict[str, Page]:
    """Return each rig's form where all forms have one page."""
    assert len(documents["bench-forms"]) == len(charts)
    return {c.rig.rig_id: p for c, p in zip(charts, documents["bench-forms"], strict=True)}


# --- the targets' bars, computed again -----------------------------------------------------------


def through(gap_mm: float) -> np.ndarray:
    return np.array([[1.0, gap_mm], [0.0, 1.0]])


def bend(focal_mm: float) -> np.ndarray:
    return np.array([[1.0, 0.0], [-1.0 / focal_mm, 1.0]])


def conjugates_mm(between_mm: float, focal_mm: float) -> tuple[float, float]:
    """Return u and v of a thin lens: both roots of x² − between·x + f·between = 0."""
    roots = np.roots([1.0, -between_mm, focal_mm * between_mm]).real
    return float(max(roots)), float(min(roots))


def vertex_mm(kit: Kit, rig_id: str) -> float:
    """Return the front vertex: as measured, or the sum of what stands before the sensor."""
    rig = kit.rigs[rig_id]
    if rig.front_vertex is not None:
        return rig.front_vertex
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    assert lens.length is not None
    assert attachment.length is not None
    parts = {**kit.step_rings, **kit.clamps}
    flange = kit.cameras[rig.camera].flange_focal_distance or 0.0
    return flange + lens.length + sum(parts[p].thickness for p in rig.chain) + attachment.length


def bars_mm(kit: Kit, rig_id: str, distance_mm: float) -> tuple[float, float]:
    """Return the bars that image to c and to c/S: horizontal lines, vertical lines.

    Glass is a plate in the one meridian, taking 0.36 of its thickness off the distance; in the
    other, ray transfer matrices through thin groups of A = separation/(S − 1) and S·A, the front
    one 0.18 of the front glass ahead of that glass's middle, and the separation sought at which
    the target is sharp on the sensor.
    """
    rig = kit.rigs[rig_id]
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    mode = kit.mode(rig)
    diagonal = math.hypot(mode.sensor_width, mode.sensor_height)
    kits = kit.circle_of_confusion if rig.mode is None else None
    circle = mode.circle_of_confusion or kits or diagonal / 1500.0
    plate = 0.36 * (attachment.front_glass_mm + attachment.rear_glass_mm)
    u, v = conjugates_mm(distance_mm - plate, lens.focal_length)
    front_focal = attachment.separation_mm / (attachment.squeeze - 1.0)
    rear_focal = attachment.squeeze * front_focal
    carried = v - lens.focal_length if lens.front_moves else 0.0
    front = vertex_mm(kit, rig_id) - (0.5 - 0.18) * attachment.front_glass_mm
    to_front = distance_mm - front - carried
    afocal = rear_focal - front_focal

    def ray(separation: float) -> np.ndarray:
        moves = attachment.moving_group == "front"
        to_rear = to_front + (afocal if moves else separation)
        return np.asarray(
            through(v) @ bend(lens.focal_length) @ through(u - to_rear) @ bend(rear_focal)
            @ through(separation) @ bend(-front_focal) @ through(to_rear - separation)
        )  # fmt: skip

    sharp = brentq(lambda separation: float(ray(separation)[0, 1]), 0.3 * afocal, afocal)
    across = abs(float(ray(float(sharp))[0, 0]))
    return circle * u / v, circle / attachment.squeeze / across


def targets_read_back(pages: list[Page]) -> list[tuple[str, str, np.ndarray, np.ndarray]]:
    """Return heading, all words, and the widths of the bars of both kinds of each target's PDF."""
    if not pages:
        return []
    ((_, pdf),) = RENDERERS["pdf"](pages, face=FACE, title="t")
    found = []
    for page, paths, lines in zip(
        pages, readback.pdf_paths(pdf), readback.pdf_texts(pdf), strict=True
    ):
        middle = (16.0 + page.width_mm - 8.0) / 2.0
        widths: tuple[list[float], list[float]] = ([], [])
        for path in paths:
            low, high = path.points.min(axis=0), path.points.max(axis=0)
            upright = bool(np.all((path.points == low) | (path.points == high)))  # no wedge's
            if path.fill and not path.stroke and upright:
                left = high[0] < middle
                widths[not left].append(float((high - low)[1 if left else 0]))
        (heading,) = (line for line in lines if line.startswith("Hang at"))
        found.append((heading, " ".join(lines), np.array(widths[0]), np.array(widths[1])))
    return found


def assert_bars(kit: Kit, charts: list[Chart], documents: Mapping[str, list[Page]]) -> int:
    """Each target in its order has the bars computed again; return how many there are."""
    asked = [
        (chart.rig.rig_id, label)
        for chart, form in zip(charts, documents["bench-forms"], strict=True)
        for number, label in enumerate(distances_on(form))
        if label != "far" and "too coarse" not in words(form, f"why:{number}:")
    ]
    read = targets_read_back(documents["targets"])
    assert len(read) == len(asked)
    for (rig_id, label), (heading, said, level, upright) in zip(asked, read, strict=True):
        assert heading == f"Hang at {label} from the sensor mark"
        (multiple,) = {int(m) for m in re.findall(r"(\d+) × the circle", said)}
        for found, bar in zip((level, upright), exact_bars(kit, rig_id, label), strict=True):
            factors = np.round(found / found.min())
            assert 1.0 in factors
            assert set(factors) <= {1.0, 2.0, 4.0}
            # A PDF's coordinates are written to 1e-4 mm.
            assert found == pytest.approx(factors * multiple * bar, abs=2e-4)
        assert multiple == 1 or (multiple - 1) * level.min() / multiple < 0.16
    return len(read)


def exact_bars(kit: Kit, rig_id: str, label: str) -> tuple[float, float]:
    return bars_mm(kit, rig_id, length_mm(label, kit))


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", NAMES)
def test_every_target_has_the_bars_that_image_to_one_criterion(name: str, paper: str) -> None:
    kit, charts, documents = pack(name, paper)
    assert assert_bars(kit, charts, documents) == 4 * len(charts)


def changed(**lens: str) -> dict[str, Any]:
    kit = {**plain_kit(), "readings": [], "distances": ["4 m", "inf"]}
    kit["taking_lenses"]["long"].update(lens)
    return kit


@pytest.mark.parametrize("focal", ["8 mm", "12 mm", "300 mm"])
@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_a_distance_without_a_target_is_one_whose_bars_no_sheet_holds(
    focal: str, paper: str
) -> None:
    kit, charts, documents = pages_of(kit_text(changed(focal_length=focal)), Bench(paper))
    assert_bars(kit, charts, documents)
    (form,) = documents["bench-forms"]
    width, height = paper_size(paper)
    for number, label in enumerate(distances_on(form)[:-1]):
        three = 5.0 * max(exact_bars(kit, "portrait", label))
        if "too coarse for a sheet" in words(form, f"why:{number}:"):
            assert three > 0.45 * min(height, width / 2.0)
        else:
            assert three < min(height, width / 2.0)


def test_a_rear_group_that_moves_and_a_front_that_stands_are_no_matter() -> None:
    text = changed(focusing="internal")
    text["taking_lenses"]["long"]["front_moves"] = False
    text["attachments"]["double"]["moving_group"] = "rear"
    assert assert_bars(*pages_of(kit_text(text))) == 4


# --- the forms -----------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", NAMES)
def test_forms_list_the_distances_chosen_with_a_cell_for_each_ring_and_repeat(
    name: str, paper: str
) -> None:
    kit, charts, documents = pack(name, paper)
    for chart in charts:
        form = forms_by_rig(charts, documents)[chart.rig.rig_id]
        chosen = bench_distances(kit, chart.rig, min(kit.stops))
        listed = distances_on(form)
        assert listed[-1] == "far"
        assert chosen[-1] == FAR_MM
        printed = [length_mm(label, kit) for label in listed[:-1]]
        assert printed == pytest.approx(chosen[:-1].tolist(), abs=1.3)
        cells = {s.key for s in form.shapes if s.key.startswith("cell:") and ":" in s.key[7:]}
        readings = {key for key in cells if re.fullmatch(r"cell:\d+:[01]:\d", key)}
        assert readings == {
            f"cell:{row}:{ring}:{n}" for row in range(len(chosen)) for ring in "01" for n in "12"
        }
        names = (chart.rig.lens.name, chart.rig.attachment.name)
        for ring, part in enumerate(names):
            assert words(form, f"heading:{ring}:0") == f"{part}: ruler, mm"


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("name", NAMES)
def test_every_form_says_what_to_do_and_what_never(name: str, paper: str) -> None:
    kit, charts, documents = pack(name, paper)
    ((_, pdf),) = RENDERERS["pdf"](documents["bench-forms"], face=FACE, title="t")
    for chart, form, lines in zip(
        charts, documents["bench-forms"], readback.pdf_texts(pdf), strict=True
    ):
        said = words(form, "step:")
        for phrase in (
            "Measure from the sensor mark on the body, not from the front glass",
            "turn both rings away, and focus both anew from the side it names",
            "Focus the taking lens on the horizontal lines",
            "focus the attachment on the vertical lines",
            f"focuschart read KIT --rig {chart.rig.rig_id} ",
        ):
            assert phrase in said
        assert words(form, "caution:1:") == CAUTIONS[0]
        assert words(form, "check:why:") == CHECK
        assert all(blank in " ".join(lines) for blank in ("Date", "Read by", "Remarks", "check"))
        assert any("Never point the rig at the sun" in line for line in lines)
        (told,) = re.findall(r'Write "inf" only for one beyond (\d+) (m|ft)', said)
        beyond = float(told[0]) * {"m": 1000.0, "ft": 304.8}[told[1]]
        assert told[1] == ("ft" if kit.units == "imperial" else "m")
        assert chart.infinity_target_mm <= beyond < 1.11 * chart.infinity_target_mm
    for sheet in documents["rulers"]:
        assert any(GLUE in text.text for text in sheet.shapes if isinstance(text, Text))


def test_inf_is_allowed_beyond_the_distance_that_the_published_rule_of_thumb_asks_for() -> None:
    """By hand: 4·85²/(0.029·1.8)·2 mm for 85 mm at f/1.8 and 2x is 1107 m, in two figures 1200."""
    _, charts, documents = pack("two-lenses", "A4")
    form = forms_by_rig(charts, documents)["portrait-85"]
    assert "only for one beyond 1200 m." in words(form, "step:")


def test_the_cross_is_asked_for_where_the_marks_will_be_for() -> None:
    """A sixth of the frame above its middle, if nothing else is said; in the plain kit, in it."""
    for name, where, entered in (
        (
            "feet-and-inches",
            "17 % of the frame's height above its middle",
            "stood (4 mm on the sensor",
        ),
        ("plain", "in the middle of the frame", "cross stood."),
    ):
        said = words(pack(name, "A4")[2]["bench-forms"][-1], "step:")
        assert f"its cross {where}" in said
        assert entered in said


def test_repeats_and_setups_are_as_asked_and_one_reading_speaks_of_no_second() -> None:
    _, _, documents = pages_of(text_of("plain"), Bench("A4", setups=7, repeats=1))
    (form,) = documents["bench-forms"]
    assert len(distances_on(form)) == 7
    assert "anew" not in words(form, "step:")
    assert "further column" not in words(form, "step:")
    keys = {s.key for s in form.shapes}
    assert "cell:0:1:1" in keys
    assert "cell:0:1:2" not in keys


@pytest.mark.parametrize("units", ["metric", "imperial", "both"])
def test_a_kit_in_feet_is_asked_in_feet(units: str) -> None:
    _, _, documents = pages_of(kit_text({**plain_kit(), "units": units}))
    (form,) = documents["bench-forms"]
    said = words(form, "step:") + words(form, "why:") + words(form, "distance:")
    assert bool(re.search(r"\d m\b", said)) == (units != "imperial")
    assert bool(re.search(r"\d ft\b|\d'", said)) == (units != "metric")


def test_readings_change_nothing() -> None:
    """What to print for the bench does not depend on what was read there before.

    But for the words where infinity lies on a ruler, which a read ring tells to half a centimetre:
    the rulers themselves are the same.
    """
    read = plain_kit()
    for kept in (read["readings"], read["readings"][:3]):
        documents = dict(pages_of(kit_text({**read, "readings": kept}))[2])
        plain = dict(pages_of(kit_text({**read, "readings": []}))[2])
        rulers, unread = (
            [shape for page in pages.pop("rulers") for shape in page.shapes if shape.group == "cut"]
            for pages in (documents, plain)
        )
        assert rulers == unread
        assert documents == plain


# --- odd kits ------------------------------------------------------------------------------------


def inside(page: Page) -> bool:
    """Whether all ink but turned words keeps to the sheet."""
    for shape in page.shapes:
        if not isinstance(shape, Text):
            xs, ys = zip(*shape.points, strict=True)
        elif shape.rotation:
            continue
        else:
            width = FACE.width_mm(shape.text, cap_mm=shape.cap_mm)
            left = shape.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * width
            xs, ys = (left, left + width), (shape.y, shape.y + shape.cap_mm)
        if min(*xs, *ys) < 0.0 or max(xs) > page.width_mm or max(ys) > page.height_mm:
            return False
    return True


def with_names(kit: dict[str, Any], name: str, rig_id: str) -> dict[str, Any]:
    kit["name"] = name
    kit["taking_lenses"]["long"]["name"] = name
    kit["attachments"]["double"]["name"] = name
    return {**kit, "readings": [], "rigs": {rig_id: {**kit["rigs"]["portrait"], "name": name}}}


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("repeats", [1, 4])
@pytest.mark.parametrize("name", ["W" * 60, "many words " * 5, "i"])
def test_the_longest_names_and_forms_keep_to_the_sheet(name: str, repeats: int, paper: str) -> None:
    kit = with_names(plain_kit(), name.strip(), "w" * 40)
    _, _, documents = pages_of(
        kit_text({**kit, "units": "both"}), Bench(paper, setups=12, repeats=repeats)
    )
    assert all(inside(page) for pages in documents.values() for page in pages)
    said = " ".join(words(page, "step:") for page in documents["bench-forms"])
    assert f"--rig {'w' * 40} " in said


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("around", ["60 mm", "900 mm"])
def test_rings_of_any_size_get_their_rulers(around: str, paper: str) -> None:
    kit = changed()
    for part in (kit["taking_lenses"]["long"], kit["attachments"]["double"]):
        del part["ring"]["diameter"]
        part["ring"]["circumference"] = around
    _, _, documents = pages_of(kit_text(kit), Bench(paper))
    assert len(documents["targets"]) == 4
    said = [s.text for page in documents["rulers"] for s in page.shapes if isinstance(s, Text)]
    # Once round in the middle of the strip's 0.2 mm of paper.
    length = f"ruler, {parse_length(around) + 0.2 * math.pi:.1f} mm round"
    assert {text.partition(":")[0] for text in said if length in text} == {"85 mm", "2x"}
    assert all(inside(page) for pages in documents.values() for page in pages)


def many_rigs(count: int) -> dict[str, Any]:
    kit = plain_kit()
    rigs = {f"rig-{n}": {**kit["rigs"]["portrait"], "name": f"Rig {n}"} for n in range(count)}
    return {**kit, "readings": [], "rigs": rigs}


# --- the command ---------------------------------------------------------------------------------


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def kit_file(folder: Path, text: str) -> Path:
    path = folder / "bag.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", NAMES)
def test_the_folder_holds_every_document_as_pdf_and_svg_and_comes_out_the_same_again(
    name: str, tmp_path: Path
) -> None:
    kit = kit_file(tmp_path, text_of(name))
    assert run("bench", kit, "--out", tmp_path / "a").exit_code == 0
    first = files_in(tmp_path / "a" / "bag-bench")
    for paper in (None, "Letter", "A4"):  # over itself, over another and back
        more = ("--paper", paper) if paper else ()
        result = run("bench", kit, "--out", tmp_path / "a", *more)
        assert result.exit_code == 0
        again = files_in(tmp_path / "a" / "bag-bench")
        assert (again == first) == (paper != "Letter")
    _, _, documents = pack(name, "A4")
    names = {f"{document}.pdf" for document in DOCUMENTS} | {"pack-record.json"}
    names |= {f"{d}-{n}.svg" for d in DOCUMENTS for n in range(1, len(documents[d]) + 1)}
    assert first.keys() == names
    assert f"targets {len(documents['targets'])} pages" in result.output
    assert "Never point the rig at the sun" in result.output


def test_a_smaller_pack_takes_its_own_stale_files_away(tmp_path: Path) -> None:
    kit = SAMPLES / "two-lenses.toml"
    assert run("bench", kit, "--out", tmp_path).exit_code == 0
    (tmp_path / "two-lenses-bench" / "mine.txt").write_text("mine")
    assert run("bench", kit, "--out", tmp_path, "--rig", "portrait-85").exit_code == 0
    left = files_in(tmp_path / "two-lenses-bench")
    assert "bench-forms-2.svg" not in left
    assert "targets-4.svg" in left
    assert "targets-5.svg" not in left
    assert left["mine.txt"] == b"mine"


def test_a_file_the_user_changed_stays_unless_forced(tmp_path: Path) -> None:
    kit = kit_file(tmp_path, text_of("plain"))
    assert run("bench", kit, "--out", tmp_path).exit_code == 0
    noted = tmp_path / "bag-bench" / "bench-forms.pdf"
    noted.write_bytes(b"my figures")
    before = files_in(tmp_path)
    result = run("bench", kit, "--out", tmp_path, "--paper", "A3")
    assert result.exit_code == 2
    assert "bench-forms.pdf: is there already and not as a build left it" in result.output
    assert files_in(tmp_path) == before
    assert run("bench", kit, "--out", tmp_path, "--force").exit_code == 0
    assert noted.read_bytes().startswith(b"%PDF")


def test_bench_and_build_leave_each_other_alone(tmp_path: Path) -> None:
    kit = kit_file(tmp_path, text_of("plain"))
    assert run("bench", kit, "--out", tmp_path).exit_code == 0
    bench = files_in(tmp_path)
    assert run("build", kit, "--out", tmp_path).exit_code == 0
    both = files_in(tmp_path)
    assert bench.items() < both.items()
    assert run("bench", kit, "--out", tmp_path, "--force").exit_code == 0
    assert run("build", kit, "--out", tmp_path, "--force").exit_code == 0
    assert files_in(tmp_path) == both


def test_a_kit_named_as_a_bench_folder_leaves_the_bench_pack_alone(tmp_path: Path) -> None:
    """Both have a record of the same name in one folder: the build asks for another one."""
    kit = kit_file(tmp_path, text_of("plain"))
    other = tmp_path / "bag-bench.toml"
    other.write_text(text_of("plain"), encoding="utf-8")
    assert run("bench", kit, "--out", tmp_path / "out").exit_code == 0
    before = files_in(tmp_path)
    refused = run("build", other, "--out", tmp_path / "out")
    assert refused.exit_code == 2
    assert "not the record of a pack of this kit, choose another --out" in refused.stderr
    assert files_in(tmp_path) == before
    assert run("build", other, "--out", tmp_path / "else").exit_code == 0
    assert run("bench", kit, "--out", tmp_path / "out").exit_code == 0
    assert {k: v for k, v in files_in(tmp_path).items() if "else" not in k} == before


LABELS = "labels 99.1 x 38.1 mm, 2 x 7 on Letter, left 4.65 mm, top 5 mm, pitch 101.6 x 38.1 mm"


@pytest.mark.parametrize(("paper", "sheet"), [("roll 100 mm", "A4"), (LABELS, "Letter")])
def test_what_fills_a_page_is_on_a_whole_sheet_where_strips_are_not(paper: str, sheet: str) -> None:
    _, _, documents = pages_of(text_of("plain"), Bench(paper))
    for name in ("bench-forms", "targets"):
        for page in documents[name]:
            size = sorted((page.width_mm, page.height_mm))
            assert size == pytest.approx(sorted(PAPERS[sheet]))
    assert all(page.width_mm == 100.0 for page in documents["rulers"]) == (paper == "roll 100 mm")


BAD = {
    "paper": (("--paper", "A9"), 'unknown paper "A9": choose A4, A3, Letter'),
    "few": (("--setups", "3"), "Invalid value for '--setups': 3 is not in the range 4<=x<=12"),
    "many": (("--setups", "13"), "Invalid value for '--setups': 13 is not in the range 4<=x<=12"),
    "none": (("--repeats", "0"), "Invalid value for '--repeats': 0 is not in the range 1<=x<=4"),
    "words": (("--repeats", "two"), "Invalid value for '--repeats': 'two' is not a valid integer"),
    "rig": (("--rig", "nobody"), '--rig is "nobody": no such rig; the kit has portrait'),
    "font": (("--font", "nowhere.ttf"), "nowhere.ttf: cannot be read, No such file"),
}


@pytest.mark.parametrize(("options", "complaint"), BAD.values(), ids=BAD)
def test_bad_options_are_refused_in_a_sentence_and_nothing_is_written(
    options: tuple[str, str], complaint: str, tmp_path: Path
) -> None:
    kit = kit_file(tmp_path, text_of("plain"))
    result = run("bench", kit, "--out", tmp_path / "out", *options)
    assert result.exit_code == 2
    assert complaint in result.output.splitlines()[-1]
    assert not (tmp_path / "out").exists()


def test_an_output_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    kit = kit_file(tmp_path, text_of("plain"))
    taken = tmp_path / "taken"
    taken.write_text("keep me")
    result = run("bench", kit, "--out", taken)
    assert result.exit_code == 2
    assert "cannot be written" in result.output
    assert len(result.output.splitlines()) == 1
    assert taken.read_text() == "keep me"


def test_names_the_font_lacks_are_all_named_and_nothing_is_written(tmp_path: Path) -> None:
    kit = plain_kit()
    kit["name"] = "鞄"
    kit["rigs"]["portrait"]["name"] = "Портрет 像"
    result = run("bench", kit_file(tmp_path, kit_text(kit)), "--out", tmp_path / "out")
    assert result.exit_code == 2
    said = result.output.splitlines()
    assert len(said) == 2
    assert "name" in said[0]
    assert "rigs.portrait.name" in said[1]
    assert not (tmp_path / "out").exists()


def test_thirty_rigs_have_thirty_forms(tmp_path: Path) -> None:
    kit = kit_file(tmp_path, kit_text(many_rigs(30)))
    result = run("bench", kit, "--out", tmp_path)
    assert result.exit_code == 0
    assert "rulers 1 page, bench-forms 30 pages, targets 120 pages" in result.output
    assert (tmp_path / "bag-bench" / "bench-forms-30.svg").exists()
