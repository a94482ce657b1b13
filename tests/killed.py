"""Kill real builds at random moments, two processes and all: `python -m tests.killed [N [SEED]]`.

After each kill every file is whole, as of the build before or of this one; no code of a strip that
may be on a barrel is forgotten; workers have ended by
themselves; the next build makes what was not finished and touches nothing else; and what the
killed one left behind is taken away once it is a day old.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from focuschart.store.record import RECORD
from tests.kits import kit_text, plain_kit

ROOT = Path(__file__).parent.parent
RIGS = 8
"""More than enough for two processes."""
ORPHANED_S = 20.0
"""So long workers may take to notice, on a busy machine."""
_TWO_DAYS_S = 172_800.0
_DEFAULTS = ("100", "1")
_BUILT = re.compile(r"^(\S+)  \S+$", re.MULTILINE)

Files = Mapping[str, bytes]


def bag(rigs: int, *, changed: bool) -> str:
    """Return a kit of some rigs, or the same with two figures that move every rig's marks."""
    kit: dict[str, Any] = plain_kit()
    for number in range(1, rigs):
        kit["rigs"][f"rig-{number}"] = {**kit["rigs"]["portrait"], "name": f"Rig {number}"}
    if changed:
        kit["readings"][1].update(taking=56.2, attachment=131.2)
    return kit_text(kit)


@dataclass(frozen=True, slots=True)
class Trial:
    """A kit in a folder of its own, and what complete builds of it and of the last one hold."""

    folder: Path
    old: Files
    new: Files

    @property
    def packs(self) -> Path:
        """The folder of the packs."""
        return self.folder / "bag"

    def start(self) -> subprocess.Popen[str]:
        """Start a build; its workers hold the pipe of its output too."""
        command = [sys.executable, "-m", "focuschart", "build", str(self.folder / "bag.toml")]
        return subprocess.Popen(
            [*command, "--out", str(self.folder)],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
        )  # fmt: skip

    def build(self) -> str:
        """Build to the end and return what was said."""
        process = self.start()
        said = process.communicate()[0]
        assert process.returncode == 0, said
        return said

    def kill(self, delay_s: float, *, once_writing: bool) -> None:
        """Kill a build after a while, or a while after it began to write."""
        before = changes(self.packs)
        process = self.start()
        while once_writing and process.poll() is None and changes(self.packs) == before:
            time.sleep(0.001)
        time.sleep(delay_s)
        process.kill()
        process.communicate(timeout=ORPHANED_S)  # ends once no worker holds the pipe

    def check_files(self) -> None:
        """Assert that every file is that of a complete build, the old one or the new one."""
        for name, data in files(self.packs).items():
            assert data in (self.old.get(name), self.new.get(name)), f"{name} is partial"
        for record in self.packs.glob(f"*/{RECORD}"):
            json.loads(record.read_bytes())

    def finished(self) -> set[str]:
        """Return the rigs whose packs were written to the end."""
        records = (json.loads(path.read_bytes()) for path in self.packs.glob(f"*/{RECORD}"))
        noted = {record["notes"].get("rig") for record in records if record["finished"]}
        left = files(self.packs)
        unlike = {name.split("/")[0] for name, data in self.new.items() if left.get(name) != data}
        return noted - unlike - {None}

    def codes(self) -> set[str]:
        """Return every code that the records know, of what was printed last and before."""
        records = (json.loads(path.read_bytes()) for path in self.packs.glob(f"*/{RECORD}"))
        noted = [record["notes"] for record in records]
        return {one["code"] for notes in noted for key in ("prints", "former")
                for one in notes.get(key, ())}  # fmt: skip

    def check_next(self, finished: set[str]) -> None:
        """Assert that the next build makes the rest, touches nothing else, and leaves no litter."""
        before = changes(self.packs)
        said = self.build()
        after = changes(self.packs)
        kept = {name for name in before if name.split("/")[0] in finished}
        rigs = {name.split("/")[0] for name in self.new}
        assert set(_BUILT.findall(said)) == rigs - finished
        assert {name: before[name] for name in kept} == {name: after[name] for name in kept}
        assert files(self.packs) == self.new
        left = litter(self.packs)
        for path in left:
            os.utime(path, times=(time.time() - _TWO_DAYS_S,) * 2)
        if left:
            self.build()
        assert not litter(self.packs)


def files(packs: Path) -> Files:
    """Return every file but records and temporaries, by rig and name."""
    found = (path for path in packs.glob("*/*") if path.suffix != ".tmp" and path.name != RECORD)
    return {f"{path.parent.name}/{path.name}": path.read_bytes() for path in found}


def changes(packs: Path) -> Mapping[str, int]:
    """Return when each file was last written, temporaries left out."""
    found: dict[str, int] = {}
    for path in packs.glob("*/*"):
        if path.suffix != ".tmp":
            found[f"{path.parent.name}/{path.name}"] = path.stat().st_mtime_ns
    return found


def litter(packs: Path) -> list[Path]:
    """Return the temporaries."""
    return list(packs.glob("*/.*.tmp"))


@dataclass(frozen=True, slots=True)
class Course:
    """Complete builds of both kits, and how long the second takes, and how long it writes."""

    home: Path
    rigs: int
    old: Files
    new: Files
    whole_s: float
    writing_s: float

    def trial(self, name: str, *, from_nothing: bool) -> Trial:
        """Return a changed kit with the packs of the last one, or with none."""
        folder = self.home / name
        folder.mkdir()
        (folder / "bag.toml").write_text(bag(self.rigs, changed=True), encoding="utf-8")
        if not from_nothing:
            shutil.copytree(self.home / "complete" / "bag", folder / "bag")
        return Trial(folder, {} if from_nothing else self.old, self.new)


def course(home: Path, rigs: int) -> Course:
    """Build both kits to the end."""
    complete, again = home / "complete", home / "again"
    for folder, changed in ((complete, False), (again, True)):
        folder.mkdir()
        (folder / "bag.toml").write_text(bag(rigs, changed=changed), encoding="utf-8")
    Trial(complete, {}, {}).build()
    start = time.monotonic()
    trial = Trial(again, {}, {})
    trial.build()
    took = time.monotonic() - start
    times = changes(trial.packs).values()
    writing = (max(times) - min(times)) / 1e9
    return Course(home, rigs, files(complete / "bag"), files(trial.packs), took, writing)


def kill_once(runs: Course, number: int, chance: random.Random) -> int:
    """Kill one build, check what it left and the next; return how many rigs were finished."""
    trial = runs.trial(f"trial-{number}", from_nothing=number % 4 == 3)
    once_writing = number % 3 != 0
    # Half the time it takes to write: it is noticed late, and the machine may be less busy now.
    most = 0.5 * runs.writing_s if once_writing else runs.whole_s
    codes = trial.codes()
    trial.kill(chance.uniform(0.0, most), once_writing=once_writing)
    trial.check_files()
    assert codes <= trial.codes(), "a code was forgotten"
    finished = trial.finished()
    trial.check_next(finished)
    assert codes <= trial.codes(), "a code was forgotten"
    shutil.rmtree(trial.folder)
    return len(finished)


def killed(times: int, *, rigs: int = RIGS, seed: int = 1) -> list[int]:
    """Return how many rigs each killed build had finished; raises AssertionError."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as home:
        runs = course(Path(home), rigs)
        return [kill_once(runs, number, chance) for number in range(times)]


def main() -> None:
    """Kill a hundred builds, or as many as are asked for, at moments that a seed decides."""
    times, seed = (int(one) for one in [*sys.argv[1:3], *_DEFAULTS[len(sys.argv) - 1 :]])
    found = killed(times, seed=seed)
    print(f"{len(found)} builds of {RIGS} rigs killed: every file was whole, every next one ended")
    for count in range(RIGS + 1):
        print(f"{count} rigs finished when killed: {found.count(count):4d} times")


if __name__ == "__main__":
    main()
