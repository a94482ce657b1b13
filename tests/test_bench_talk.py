"""`focuschart read KIT` alone: the bench form as a conversation, and the file that follows it."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from focuschart.bench.advice import SIDES
from focuschart.bench.forecast import forecast
from focuschart.cli import main
from focuschart.kit.load import load_kit
from focuschart.kit.reading import Reading
from focuschart.kit.schema import Kit
from focuschart.report.bench_talk import lines_to_read
from focuschart.rig.assemble import assemble
from focuschart.rig.ring import RINGS
from tests.designs.bench import drawn_facts, noisy_readings
from tests.designs.kits import chart_of
from tests.designs.recorded import load_designs
from tests.kits import kit_text, plain_kit
from tests.test_designs import FAR_TARGET

LINES = 5
SAMPLE = Path(__file__).parent.parent / "sample_kits" / "two-lenses.toml"
BARE = (
    SAMPLE.read_text(encoding="utf-8")
    .partition("[[readings]]")[0]
    .replace('nearest = "0.9 m"', 'nearest = "1 m"')
    .replace('["0.9 m", ', "[")
)
TRUE = {  # the sample kit's invented readings of rig portrait-85, at the form's distances
    "1 m": (80.1, 231.9), "1.2 m": (66.7, 200.0), "1.5 m": (54.8, 165.6), "5 m": (23.3, 67.1),
    "60 m ± 3 m": (13.0, 25.4),
}  # fmt: skip


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    path = tmp_path / "kit.toml"
    path.write_text(BARE, encoding="utf-8")
    return path


def talk(kit: Path, *lines: str, rig: str = "portrait-85") -> Result:
    typed = "".join(f"{line}\n" for line in lines)
    return CliRunner().invoke(main, ["read", str(kit), "--rig", rig], input=typed)


def loaded(path: Path) -> Kit:
    return load_kit(path.read_text(encoding="utf-8"), source="kit.toml")


def morning() -> list[str]:
    lines = ["0 mm"]
    for distance, figures in TRUE.items():
        lines += [distance, *(f"{figure}".replace(".", ",") for figure in figures * 2)]
    return lines


def test_a_whole_form_is_read_from_piped_lines(kit: Path) -> None:
    done = talk(kit, *morning())
    assert done.exit_code == 0, done.output
    readings = loaded(kit).readings
    assert len(readings) == LINES * len(SIDES)
    assert [reading.side for reading in readings[:2]] == ["nearer", "farther"]
    assert (readings[-1].distance, readings[-1].distance_error) == (60_000.0, 3000.0)
    assert {reading.stop for reading in readings} == {2.8}
    assert "Least sure: " in done.output
    assert "Next: " in done.output
    assert "are left" not in done.output
    assert "focuschart fit" in done.output
    again = talk(kit)
    assert "Every line of the bench form is read." in again.output
    assert loaded(kit).readings == readings


def test_figures_are_foretold_once_two_distances_are_in(kit: Path) -> None:
    shown = talk(kit, *morning()).output
    about = [
        (float(found[1]), float(found[2])) for found in re.finditer(r"about (-?\d+) ± (\d+)", shown)
    ]
    # From the second side of the second distance on: both rings of each.
    assert len(about) == 2 + 4 * (LINES - 2)
    read = [figure for figures in list(TRUE.values())[2:] for figure in figures * 2]
    for (figure, range_mm), true in zip(about[2:], read, strict=True):
        assert abs(figure - true) <= 1.5 * range_mm


def test_a_forecast_holds_as_often_as_it_says() -> None:
    """On traced rigs: the third, fourth and fifth reading foretold by those before them."""
    off = []
    for design in load_designs()[::4]:
        noise = np.random.default_rng([14, design.number])
        chart = chart_of(design, noisy_readings(design, FAR_TARGET, noise), drawn_facts(noise))
        for count in range(2, len(chart.kit.readings)):
            reading = chart.kit.readings[count]
            before = chart.kit.model_copy(update={"readings": chart.kit.readings[:count]})
            for which in RINGS:
                found = forecast(before, reading, which)
                assert found is not None
                off.append(found.sigmas_off(getattr(reading, which)))
    assert 0.92 <= np.mean(np.array(off) < 1.96) <= 0.98


def test_it_stops_at_any_time_and_goes_on_from_there(kit: Path) -> None:
    lines = morning()
    first = talk(kit, *lines[:2], "80,1")
    assert "Stopped. The same command goes on from here." in first.output
    assert "No marks yet" in first.output
    assert f"Of the bench form {LINES} lines are left, 1 m the next." in first.output
    (alone,) = loaded(kit).readings
    assert (alone.taking, alone.attachment) == (80.1, None)
    for _ in range(2):
        talk(kit, "0 mm", "1 m", "231,9", "q")
    readings = loaded(kit).readings
    assert [(each.taking, each.attachment, each.side) for each in readings] == [
        (80.1, None, "nearer"), (None, 231.9, "nearer"), (231.9, None, "farther"),
    ]  # fmt: skip


def test_an_answer_is_taken_back_from_the_file_too(kit: Path) -> None:
    lines = morning()
    done = talk(kit, *lines[:6], "1.2 m", "66", "<", "66.7", "200", "<", "200.0", "q")
    assert done.exit_code == 0, done.output
    last = loaded(kit).readings[-1]
    assert (last.taking, last.attachment) == (66.7, 200.0)
    assert len(loaded(kit).readings) == 3


def test_an_odd_figure_is_said_at_once_and_kept_when_typed_again(kit: Path) -> None:
    start = morning()[:11]
    odd = talk(kit, *start, "1.5 m", "71", "54.8", "195.1", "195.5", "q")
    assert "mm more than the others foretell. Look again" in odd.output
    last = loaded(kit).readings[-1]
    assert (last.taking, last.attachment) == (54.8, 195.5)


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("0,5 m", "focuses no nearer than 1 m"),
        ("1,234 m", "could be 1.234 or 1234"),
        ("two", "write a number and a unit"),
    ],
)
def test_a_distance_that_cannot_be_is_said(kit: Path, line: str, sentence: str) -> None:
    assert sentence in talk(kit, "", line, "q").output


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("999", "ruler shows"),
        ("9999", "no ruler shows that"),
        ("8o", "write the figure on the ruler in mm"),
        ("1,234", "could be 1.234 or 1234"),
    ],
)
def test_a_figure_that_cannot_be_is_said(kit: Path, line: str, sentence: str) -> None:
    assert sentence in talk(kit, "", "", line, "q").output
    assert not loaded(kit).readings


def test_a_far_target_needs_its_error(kit: Path) -> None:
    skipped = ["skip"] * (LINES - 1)
    done = talk(kit, "", *skipped, "60 m", "60 m +- 3 m", "13", "skip", "skip", "skip")
    assert "give its error too, for example 60 m ± 3 m" in done.output
    (reading,) = loaded(kit).readings
    assert (reading.distance_error, reading.taking, reading.attachment) == (3000.0, 13.0, None)


def test_sides_that_are_far_apart_are_odd(kit: Path) -> None:
    done = talk(kit, "", "", "80.1", "231.9", "70.1", "q")
    assert "10.0 mm from 80.1, read from the other side" in done.output


def test_readings_without_a_side_fill_the_form_too() -> None:
    table = plain_kit()
    kit = load_kit(kit_text(table), source="kit.toml")
    rig = assemble(kit, "portrait")
    bare = kit.model_copy(update={"readings": []})
    first = next(lines_to_read(bare, rig))
    assert first.wanted == tuple((side, which) for side in SIDES for which in RINGS)
    reading = Reading.model_validate(
        {"rig": "portrait", "distance": "1 m", "stop": 2.8, "taking": 50.0}
    )
    at = reading.model_copy(update={"distance": first.distance_mm * 1.02})
    one = bare.model_copy(update={"readings": [at]})
    assert next(lines_to_read(one, rig)).wanted == tuple(
        (side, which) for side in SIDES for which in RINGS if (side, which) != ("nearer", "taking")
    )


def test_one_of_several_rigs_is_asked_for(kit: Path) -> None:
    done = CliRunner().invoke(main, ["read", str(kit)], input="3\n2\nq\n")
    assert "give a number from 1 to 2" in done.output
    assert "Portrait 58" in done.output
    none = CliRunner().invoke(main, ["read", str(kit)], input="")
    assert none.exit_code == 2
    assert "name the rig to read, --rig portrait-85" in none.output


def test_feet_are_asked_in_feet(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_text(BARE.replace('units = "metric"', 'units = "imperial"'), encoding="utf-8")
    done = talk(path, "", "", "80,1", "q")
    assert "1. 3'3.4\". Its distance as measured [3 ft 3.4 in]" in done.output
    assert loaded(path).readings[0].distance == pytest.approx(1000.0, abs=1.3)
