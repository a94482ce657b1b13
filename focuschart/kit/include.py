"""One kit put together from several files, and in which file each of its keys is.

A house that lends lenses keeps them described once, in files that nobody who borrows them writes
to; a kit names those files and adds its own. An included file may hold any table of a kit, rigs
and readings too, since readings belong with what was read, and readings name a rig. Each id and
each single key stands in one file only, so that the order of the files means nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, Protocol, get_origin

from focuschart.errors import FocusChartError, KitError, Problem, shown
from focuschart.kit.origins import Origins
from focuschart.kit.parse import MAX_BYTES, key_path, parse_kit
from focuschart.kit.schema import FORMAT, Kit

MAX_FILES = 100
MAX_DEPTH = 8
LONGEST_PATH = 1000
"""How many files may lead to one another, how deep, and by what paths; judgement, no source."""

_TABLES = {key for key, kind in Kit.model_fields.items() if get_origin(kind.annotation) is dict}


class Place(NamedTuple):
    """A file: its path as shown, and an identity that is the same for every path to it."""

    name: str
    identity: str


class Shelf(Protocol):
    """Where included files are found and read; the command line has one over the disk."""

    def find(self, source: str, path: str) -> Place:
        """Return the file that a path written in the file `source` leads to."""

    def read(self, place: Place) -> str:
        """Return a file's text; raises InputError with the cure."""


class Whole(NamedTuple):
    """All files of a kit as one, their contradictions, and the text of each by its name.

    The kit itself has an empty name.
    """

    raw: dict[str, Any]
    origins: Origins
    problems: list[Problem]
    texts: dict[str, str]


class _File(NamedTuple):
    """A file that belongs to a kit; `source` is empty for the kit itself."""

    name: str
    source: str
    raw: dict[str, Any]


def gathered(text: str, *, source: str, shelf: Shelf | None) -> Whole:
    """Return the tables of a kit's text and of the files it includes, each once.

    Raises KitError with every file that is not TOML, cannot be read or includes itself.
    """
    raw = parse_kit(text, source=source)
    if "include" not in raw:
        return Whole(raw, Origins(), [], {"": text})
    walk = _Walk(shelf, source, text)
    walk.follow(_File(source, "", raw), ())
    if walk.problems:
        raise KitError(source, walk.problems)
    kit, *others = walk.files.values()
    return _merged([kit, *sorted(others, key=lambda file: file.name)], walk.texts)


class _Walk:
    """A walk through all includes, each file once, with the problems found."""

    def __init__(self, shelf: Shelf | None, source: str, text: str) -> None:
        self.files: dict[str, _File] = {}
        self.texts = {"": text}
        self.problems: list[Problem] = []
        self._shelf = shelf
        self._start = shelf.find("", source) if shelf else Place(source, source)

    def follow(self, file: _File, trail: tuple[Place, ...]) -> None:
        """Take a file in, and what it includes; `trail` leads to it and ends with it."""
        trail = trail or (self._start,)
        self.files[trail[-1].identity] = file
        paths = file.raw.get("include", [])
        if not isinstance(paths, list):
            rule = "must be a list of file names in square brackets"
            self.problems.append(Problem("include", shown(paths), rule, file.source))
            return
        for index, path in enumerate(paths):
            found = self._next(path, trail)
            if isinstance(found, str):
                key = f"include[{index}]"
                self.problems.append(Problem(key, shown(path), found, file.source))
            elif found:
                self._take_in(
                    found, trail, Problem(f"include[{index}]", shown(path), "", file.source)
                )

    def _next(self, path: object, trail: tuple[Place, ...]) -> Place | str | None:
        """Return the file to take in, None if it was taken in before, or why it is refused."""
        if not isinstance(path, str) or not path or min(path) < " ":
            return 'must be the path of a file in quotes, for example "lenses.toml"'
        if len(path) > LONGEST_PATH:
            return f"is longer than {LONGEST_PATH} characters: give the file a shorter path"
        if self._shelf is None:
            return "a kit that includes files cannot be read here"
        found = self._shelf.find(trail[-1].name, path)
        way = [place.identity for place in trail]
        if found.identity in way:
            loop = [*(place.name for place in trail[way.index(found.identity) :]), found.name]
            return f"files include each other in a circle, {', '.join(loop)}: take one include out"
        return None if found.identity in self.files else self._too_many(trail) or found

    def _too_many(self, trail: tuple[Place, ...]) -> str:
        if len(trail) > MAX_DEPTH:
            return f"is included more than {MAX_DEPTH} deep: include it nearer the kit"
        if len(self.files) >= MAX_FILES:
            return f"more than {MAX_FILES} files in one kit: put some of them together"
        return ""

    def _take_in(self, place: Place, trail: tuple[Place, ...], at: Problem) -> None:
        assert self._shelf is not None
        try:
            text = self._shelf.read(place)
            self.texts[place.name] = text
            if sum(map(len, self.texts.values())) > MAX_BYTES:
                rule = f"the files of this kit are longer than {MAX_BYTES // 1_000_000} MB together"
                self.problems.append(at._replace(rule=rule))
                return
            raw = parse_kit(text, source=place.name)
        except KitError as error:
            self.problems += [each._replace(source=place.name) for each in error.problems]
        except FocusChartError as error:
            self.problems.append(at._replace(rule=str(error)))
        else:
            self.follow(_File(place.name, place.name, raw), (*trail, place))


def _merged(files: Sequence[_File], texts: dict[str, str]) -> Whole:
    """Return the files as one, the kit first, so that its readings keep their numbers."""
    one = _Merging()
    for file in files:
        one.add(file)
    return Whole(one.raw, Origins(one.sources, one.readings), one.problems, texts)


class _Merging:
    """The kit that the files taken in so far make."""

    def __init__(self) -> None:
        self.raw: dict[str, Any] = {}
        self.sources: dict[str, str] = {}
        self.readings: list[tuple[str, int]] = []
        self.problems: list[Problem] = []
        self._names: dict[str, str] = {}

    def add(self, file: _File) -> None:
        """Take a file in; a key that an earlier file has already is a problem."""
        if file.source:
            self.problems += _format_problems(file)
        for key, value in file.raw.items():
            if key == "include" or (key == "format" and file.source):
                continue
            if key in _TABLES:
                self._table(file, key, value)
            elif key == "readings":
                self._list(file, value)
            elif self._free(file, key, shown(value)):
                self.raw[key] = value

    def _table(self, file: _File, key: str, table: object) -> None:
        if not isinstance(table, dict):
            self.problems.append(Problem(key, shown(table), "must be a table", file.source))
            return
        whole = self.raw.setdefault(key, {})
        for entry, value in table.items():
            # A key that is no id is written in two ways, see `references`.
            self.sources.setdefault(f"{key}.{shown(entry)[1:-1]}", file.source)
            if self._free(file, key_path((key, entry)), ""):
                whole[entry] = value

    def _list(self, file: _File, readings: object) -> None:
        if not isinstance(readings, list):
            rule = "must be a list in square brackets"
            self.problems.append(Problem("readings", shown(readings), rule, file.source))
            return
        self.raw.setdefault("readings", []).extend(readings)
        self.readings += [(file.source, number) for number in range(len(readings))]

    def _free(self, file: _File, key: str, value: str) -> bool:
        """Return whether no file had the key before; else that is a problem."""
        first = self._names.setdefault(key, file.name)
        if first != file.name:
            rule = f"stands in {first} too: rename one, or keep one"
            self.problems.append(Problem(key, value, rule, file.source))
            return False
        self.sources[key] = file.source
        return True


def _format_problems(file: _File) -> list[Problem]:
    """An included file says which format it has, like a kit."""
    if "format" not in file.raw:
        return [Problem("format", "", f"is missing, add it: format = {FORMAT}", file.source)]
    stated = file.raw["format"]
    if stated != FORMAT or isinstance(stated, bool):
        return [Problem("format", shown(stated), f"must be {FORMAT}", file.source)]
    return []
