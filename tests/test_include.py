"""Kits that include other files: one kit, however it is divided, and whose file a mistake is in."""

from __future__ import annotations

import os
import posixpath
import random
import shutil
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.chart.charts import build_charts
from focuschart.errors import InputError, KitError
from focuschart.kit.include import MAX_DEPTH, MAX_FILES, Place
from focuschart.kit.json_schema import json_schema
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from focuschart.report.data import as_json
from tests.command import run
from tests.kits import kit_text, loaded, plain_kit
from tests.rig_parts import full_kit

SAMPLES = Path(__file__).parent.parent / "sample_kits"
RENTAL = SAMPLES / "rental"

Tables = dict[str, Any]


class Texts:
    """A shelf of texts by their paths."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = texts
        self.read_names: list[str] = []

    def find(self, source: str, path: str) -> Place:
        name = posixpath.normpath(posixpath.join(posixpath.dirname(source), path))
        return Place(name, name)

    def read(self, place: Place) -> str:
        if place.name not in self._texts:
            raise InputError(f"{place.name}: cannot be read, check the path")
        self.read_names.append(place.name)
        return self._texts[place.name]


def together(texts: Mapping[str, str], start: str = "kit.toml") -> Kit:
    return load_kit(texts[start], source=start, shelf=Texts(texts))


def problems(texts: Mapping[str, str]) -> list[str]:
    with pytest.raises(KitError) as caught:
        together(texts)
    return str(caught.value).splitlines()


def divided(kit: Tables, names: list[str], chance: random.Random) -> dict[str, str]:
    """Deal a kit's entries out to files, each included by one or more of those before it."""
    files: dict[str, Tables] = {name: {"format": 1} for name in names}
    for key, value in kit.items():
        if key == "format":
            continue
        if isinstance(value, dict):
            for entry, table in value.items():
                files[chance.choice(names)].setdefault(key, {})[entry] = table
        else:
            files[chance.choice(names)][key] = value
    for number, name in enumerate(names[1:], start=1):
        for parent in chance.sample(names[:number], chance.randint(1, min(2, number))):
            path = posixpath.relpath(name, posixpath.dirname(parent) or ".")
            files[parent].setdefault("include", []).insert(0, path)
    for tables in files.values():
        chance.shuffle(tables.get("include", []))
    return {name: kit_text(tables) for name, tables in files.items()}


NAMES = ["kit.toml", "lenses.toml", "house/rings.toml", "house/deep/more.toml", "z/other.toml"]


@given(st.randoms(use_true_random=False), st.integers(1, len(NAMES)), st.booleans())
def test_a_kit_divided_over_files_is_the_whole_kit(
    chance: random.Random, count: int, full: bool
) -> None:
    kit = full_kit() if full else plain_kit()
    assert together(divided(kit, NAMES[:count], chance)) == loaded(kit)


def test_and_gives_the_same_charts() -> None:
    whole = as_json(build_charts(loaded(plain_kit())))
    for seed in range(5):
        kit = together(divided(plain_kit(), NAMES, random.Random(seed)))
        assert as_json(build_charts(kit)) == whole


@given(st.randoms(use_true_random=False))
def test_the_order_of_includes_means_nothing(chance: random.Random) -> None:
    kit = plain_kit()
    readings, kit["readings"] = kit["readings"], []
    parts = {f"r{i}.toml": kit_text({"format": 1, "readings": [r]}) for i, r in enumerate(readings)}
    kits = []
    for _ in range(2):
        include = list(parts)
        chance.shuffle(include)
        kits.append(together({"kit.toml": kit_text({"include": include, **kit}), **parts}))
    assert kits[0] == kits[1]
    assert len(kits[0].readings) == len(readings)


def test_each_file_is_read_once_however_many_include_it() -> None:
    layers = [["kit.toml"], *([f"{side}{i}.toml" for side in "ab"] for i in range(MAX_DEPTH))]
    texts = {
        name: kit_text({"format": 1, "include": after})
        for at, after in pairwise(layers)
        for name in at
    }
    texts |= dict.fromkeys(layers[-1], "format = 1\n")
    texts["kit.toml"] = kit_text({"include": layers[1], **plain_kit()})
    shelf = Texts(texts)
    assert load_kit(texts["kit.toml"], source="kit.toml", shelf=shelf) == loaded(plain_kit())
    assert sorted(["kit.toml", *shelf.read_names]) == sorted(texts)


def test_the_kits_own_readings_come_first_and_keep_their_numbers() -> None:
    kit = plain_kit()
    first, *rest = kit["readings"]
    part = kit_text({"format": 1, "readings": rest})
    text = kit_text({**kit, "include": ["a.toml"], "readings": [first]})
    assert together({"kit.toml": text, "a.toml": part}) == loaded(kit)


# --- what is refused --------------------------------------------------------------------------

LENSES = "../lenses.toml"


def with_lenses(change: Tables | None = None, **own: Any) -> dict[str, str]:
    """Return a kit in a folder, and beside that folder its lenses, changed."""
    kit = plain_kit()
    lenses = {"format": 1, "taking_lenses": kit.pop("taking_lenses"), **(change or {})}
    return {"job/kit.toml": kit_text({"include": [LENSES], **kit, **own}),
            "lenses.toml": kit_text(lenses)}  # fmt: skip


def told(texts: Mapping[str, str]) -> list[str]:
    with pytest.raises(KitError) as caught:
        together(texts, "job/kit.toml")
    return str(caught.value).splitlines()


def test_a_kit_and_its_lenses_in_another_folder_load() -> None:
    assert together(with_lenses(), "job/kit.toml") == loaded(plain_kit())


def test_one_id_in_two_files_names_both() -> None:
    texts = with_lenses({"clamps": {"clamp": {"name": "Clamp", "thickness": "3 mm"}}})
    assert told(texts) == [
        "lenses.toml: clamps.clamp: stands in job/kit.toml too: rename one, or keep one"
    ]


@pytest.mark.parametrize("key", ["name", "stops", "distances"])
def test_a_key_of_the_kit_repeated_in_an_included_file_is_refused(key: str) -> None:
    (sentence,) = told(with_lenses({key: plain_kit()[key]}))
    assert sentence.startswith(f"lenses.toml: {key} is ")
    assert "stands in job/kit.toml too" in sentence


@pytest.mark.parametrize("stated", [2, "1", True, 1.5])
def test_an_included_file_says_its_format(stated: object) -> None:
    (sentence,) = told(with_lenses({"format": stated}))
    assert sentence.startswith("lenses.toml: format is ")
    texts = with_lenses()
    texts["lenses.toml"] = texts["lenses.toml"].removeprefix("format = 1\n")
    assert told(texts) == ["lenses.toml: format: is missing, add it: format = 1"]


def test_every_mistake_names_the_file_in_which_it_stands() -> None:
    kit = plain_kit()
    lenses = kit["taking_lenses"]
    lenses["long"]["widest_stop"] = "wide"
    lenses["spare"]["neerest"] = lenses["spare"].pop("nearest")
    readings = [{**kit["readings"][0], "rig": "nobody"}]
    texts = with_lenses({"taking_lenses": lenses, "readings": readings, "clamp": {}},
                        circle_of_confusion="9 m")  # fmt: skip
    sentences = told(texts)
    by_file = {name: [s for s in sentences if s.startswith(f"{name}: ")]
               for name in ("lenses.toml", "job/kit.toml")}  # fmt: skip
    assert sum(map(len, by_file.values())) == len(sentences)
    text = "\n".join(by_file["lenses.toml"])
    for key in ("taking_lenses.long.widest_stop", "taking_lenses.spare.neerest", "clamp ",
                "readings[0].rig"):  # fmt: skip
        assert f"lenses.toml: {key}" in text
    assert [s.split(" is ")[0] for s in by_file["job/kit.toml"]] == [
        "job/kit.toml: circle_of_confusion"
    ]


def test_a_contradiction_names_the_file_of_its_key() -> None:
    lenses = plain_kit()["taking_lenses"]
    lenses["long"]["ring"]["nearer_turns"] = "anticlockwise"
    (sentence,) = told(with_lenses({"taking_lenses": lenses}))
    assert sentence.startswith("lenses.toml: taking_lenses.long.ring.nearer_turns")


@pytest.mark.parametrize(
    ("broken", "start"),
    [
        ("format = ", "lenses.toml: not valid TOML"),
        ("format = 1\nx = 3 mm", "lenses.toml: not valid TOML, line 2, column 7: put a length"),
        ("format = 1\ntaking_lenses = 3", "lenses.toml: taking_lenses is 3: must be a table"),
        ("format = 1\nreadings = 3", "lenses.toml: readings is 3: must be a list"),
        ('format = 1\ninclude = "a.toml"', 'lenses.toml: include is "a.toml": must be a list'),
    ],
)
def test_an_included_file_that_is_broken_is_named(broken: str, start: str) -> None:
    assert told({**with_lenses(), "lenses.toml": broken})[0].startswith(start)


@pytest.mark.parametrize("path", ["", 3, "a\x00b", ["a"]])
def test_what_is_no_path_is_refused(path: object) -> None:
    (sentence,) = problems({"kit.toml": kit_text({"include": [path], **plain_kit()})})
    assert sentence.startswith("kit.toml: include[0] is ")
    assert "must be the path of a file in quotes" in sentence


def test_an_included_file_that_is_not_there_is_named_with_its_key() -> None:
    texts = with_lenses()
    del texts["lenses.toml"]
    assert told(texts) == [
        'job/kit.toml: include[0] is "../lenses.toml": lenses.toml: cannot be read, check the path'
    ]


def test_files_that_include_each_other_are_named_in_their_order() -> None:
    texts = {name: kit_text({"format": 1, "include": [after]})
             for name, after in (("a.toml", "b.toml"), ("b.toml", "a.toml"))}  # fmt: skip
    texts["kit.toml"] = kit_text({"include": ["a.toml"], **plain_kit()})
    assert problems(texts) == [
        'b.toml: include[0] is "a.toml": files include each other in a circle, '
        "a.toml, b.toml, a.toml: take one include out"
    ]
    own = problems({"kit.toml": kit_text({"include": ["./kit.toml"], **plain_kit()})})
    assert "in a circle, kit.toml, kit.toml" in own[0]


def chained(count: int) -> dict[str, str]:
    texts = {f"{i}.toml": kit_text({"format": 1, "include": [f"{i + 1}.toml"]})
             for i in range(1, count)}  # fmt: skip
    texts[f"{count}.toml"] = "format = 1\n"
    return {**texts, "kit.toml": kit_text({"include": ["1.toml"], **plain_kit()})}


def test_includes_go_so_deep_and_no_deeper() -> None:
    assert together(chained(MAX_DEPTH)) == loaded(plain_kit())
    (sentence,) = problems(chained(MAX_DEPTH + 1))
    assert "8.toml: include[0]" in sentence
    assert f"more than {MAX_DEPTH} deep" in sentence


def test_a_kit_has_so_many_files_and_no_more() -> None:
    def wide(count: int) -> dict[str, str]:
        parts = {f"{i}.toml": "format = 1\n" for i in range(count)}
        return {**parts, "kit.toml": kit_text({"include": list(parts), **plain_kit()})}

    assert together(wide(MAX_FILES - 1)) == loaded(plain_kit())
    (sentence,) = problems(wide(MAX_FILES))
    assert f"more than {MAX_FILES} files" in sentence


def test_the_files_of_a_kit_are_not_too_long_together() -> None:
    parts = dict.fromkeys(("a.toml", "b.toml"), "format = 1\n" + "#" * 2_100_000)
    (sentence,) = problems({**parts, "kit.toml": kit_text({"include": list(parts), **plain_kit()})})
    assert sentence.startswith('kit.toml: include[1] is "b.toml": the files of this kit are longer')


def test_without_a_shelf_a_kit_that_includes_is_refused() -> None:
    with pytest.raises(KitError, match="cannot be read here"):
        load_kit(kit_text({"include": ["a.toml"], **plain_kit()}), source="kit.toml")


def test_the_json_schema_knows_includes_and_included_files() -> None:
    schema = json_schema()
    included = {"$ref": "#/$defs/Included", "$defs": schema["$defs"]}
    jsonschema.Draft202012Validator.check_schema(included)
    for path in RENTAL.glob("*.toml"):
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        jsonschema.validate(tables, schema if "include" in tables else included)
    wrong: Tables
    for wrong in ({"format": 1, "lences": {}}, {"clamps": {}}, {"format": 1, "include": "a"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, included)


# --- on the disk ------------------------------------------------------------------------------


@pytest.fixture
def rental(tmp_path: Path) -> Path:
    shutil.copytree(RENTAL, tmp_path / "rental")
    return tmp_path / "rental" / "portrait-day.toml"


def test_the_rental_sample_is_checked_and_charted() -> None:
    kit = RENTAL / "portrait-day.toml"
    assert run("check", kit).exit_code == 0
    shown = run("chart", kit)
    assert shown.exit_code == 0
    assert "Portrait 85" in shown.output


def test_the_rental_samples_readings_are_those_of_the_sample_kit() -> None:
    own = tomllib.loads((RENTAL / "portrait-day.toml").read_text(encoding="utf-8"))["readings"]
    other = tomllib.loads((SAMPLES / "two-lenses.toml").read_text(encoding="utf-8"))["readings"]
    assert all(any(reading.items() <= known.items() for known in other) for reading in own)


def test_paths_are_relative_to_the_file_that_names_them(
    rental: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(rental.parent)
    near = run("chart", "portrait-day.toml", "--format", "json").stdout
    monkeypatch.chdir(rental.parent.parent.parent)
    assert run("chart", rental, "--format", "json").stdout == near


def test_a_file_included_by_two_paths_is_one_file(rental: Path) -> None:
    (rental.parent / "same.toml").symlink_to("lenses.toml")
    text = rental.read_text().replace(
        '["lenses.toml"', '["lenses.toml", "./lenses.toml", "same.toml"'
    )
    rental.write_text(text)
    assert run("chart", rental).exit_code == 0


def test_included_files_that_cannot_be_read_are_refused(rental: Path) -> None:
    os.mkfifo(rental.parent / "pipe.toml")
    (rental.parent / "bytes.toml").write_bytes(b"name = '\xff'")
    for path in ("none.toml", "pipe.toml", "/dev/zero", "bytes.toml", "."):
        rental.write_text((RENTAL / "portrait-day.toml").read_text().replace("lenses.toml", path))
        refused = run("chart", rental)
        assert refused.exit_code == 2
        (sentence,) = refused.stderr.splitlines()
        assert f'{rental}: include[0] is "{path}": ' in sentence


def test_a_reading_goes_to_the_kit_and_never_to_an_included_file(rental: Path) -> None:
    """The rig stands in an included file, and so do other readings."""
    text = rental.read_text()
    start = text.index("[rigs.portrait-85]")
    own, house = text[:start], "format = 1\n\n" + text[start:]
    rental.write_text(own.replace('"rings.toml"]', '"rings.toml", "house.toml"]'))
    (rental.parent / "house.toml").write_text(house)
    before = {path: path.read_bytes() for path in rental.parent.iterdir() if path != rental}
    reading = ("--distance", "2 m", "--taking", "42.1", "--attachment", "131.0")
    done = run("read", rental, "--rig", "portrait-85", *reading)
    assert done.exit_code == 0, done.output
    named = "portrait-85 at 2 m (taking 42.1): ", "portrait-85 at 2 m (attachment 131): "
    assert all(name in done.stdout for name in named)
    assert {path: path.read_bytes() for path in before} == before
    assert len(tomllib.loads(rental.read_text())["readings"]) == 1
    again = run("read", rental, "--rig", "portrait-85", *reading)
    assert "Written to" in again.stdout


def test_a_reading_that_does_not_fit_is_told_by_its_option(rental: Path) -> None:
    reading = ("--distance", "0.2 m", "--taking", "42.1")
    refused = run("read", rental, "--rig", "portrait-85", *reading)
    assert refused.exit_code == 2
    assert "--distance is" in refused.stderr


def test_repeats_that_disagree_in_an_included_file_are_named_there(rental: Path) -> None:
    own, first, *others = rental.read_text().replace("[[readings]]", "\0[[readings]]").split("\0")
    house = rental.parent / "house.toml"
    house.write_text("format = 1\n\n" + first.replace("80.1", "95.1") + first + "".join(others))
    rental.write_text(own.replace('"rings.toml"]', '"rings.toml", "house.toml"]') + others[0])
    refused = run("chart", rental)
    assert refused.exit_code == 1
    place = "lenses.toml: taking_lenses.eighty-five (readings)"
    assert f"left out, {place}: " in refused.stderr
    assert "(taking 80.1) and portrait-85 at " in refused.stderr
    assert "(taking 95.1) repeat one set-up" in refused.stderr
