"""What every folder of documents needs: a typeface, a check of its texts, and rendered files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from focuschart.errors import GlyphError, KitError, LeftOut, Problem

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Page
    from focuschart.renderers.cutter import Cutter
    from focuschart.renderers.glyphs import TypeFace

MOST_RIGS = 200
"""The most rigs of which one run writes documents or keeps charts."""
FONT_BYTES = 64_000_000
"""The largest font file that is read."""


def font_bytes(font: Path | None) -> bytes:
    """Return the bytes of a font file, or of the default one; raises InputError."""
    from focuschart.renderers.fonts import default_font_path
    from focuschart.store.files import read_bytes

    return read_bytes(font or default_font_path(), limit_bytes=FONT_BYTES)


def font_name(font: Path | None) -> str:
    """Return the name by which messages refer to a font file, or to the default one."""
    return "the default font" if font is None else f"font {font}"


def load_face(font: Path | None) -> TypeFace:
    """Return the typeface of a font file, or the default one."""
    from focuschart.renderers.glyphs import TypeFace

    return TypeFace(font_bytes(font), source=font_name(font))


def require_few(kit: Path, rigs: tuple[str, ...]) -> None:
    """Raise KitError if there are more rigs than `MOST_RIGS`."""
    if len(rigs) > MOST_RIGS:
        rule = f"{len(rigs)} are more than the {MOST_RIGS} of one pack: choose some with --rig"
        raise KitError(str(kit), [Problem("rigs", "", rule)])


def unprintable(kit: Kit, rigs: Iterable[str], face: TypeFace) -> dict[str, list[Problem]]:
    """Return a problem for each text that the typeface cannot print, by rig."""
    from focuschart.pages.pack import printed_texts

    problems: dict[str, list[Problem]] = {}
    for rig_id in rigs:
        for key, text in printed_texts(kit, rig_id):
            try:
                face.check(text)
            except GlyphError as error:
                problems.setdefault(rig_id, []).append(Problem(key, "", str(error)))
    return problems


def left_out_for_texts(unprintable_texts: Mapping[str, list[Problem]]) -> Iterator[LeftOut]:
    """Yield, for each problem of `unprintable`, that its rig is left out."""
    from focuschart.kit.load import WHOLE_RIG

    for rig_id, problems in unprintable_texts.items():
        for problem in problems:
            yield LeftOut(rig_id, WHOLE_RIG, problem.place, problem.rule, "rig")


def rendered(
    documents: Mapping[str, list[Page]], *, face: TypeFace, title: str,
    cutter: Cutter | None = None, only: str | None = None,
) -> dict[str, bytes]:  # fmt: skip
    """Return the files of all documents by name, as PDF and as SVG, or `only` as one of these.

    Raises PageError for a document without pages, GlyphError for a text the face cannot print.
    """
    from focuschart.renderers import RENDERERS
    from focuschart.renderers.cutter import PLAIN

    draws = [RENDERERS[kind] for kind in ([only] if only else RENDERERS)]
    jobs = [(name, draw) for name in documents for draw in draws]
    return {
        f"{name}{suffix}": data
        for name, draw in jobs
        for suffix, data in draw(
            documents[name], face=face, title=f"{title}: {name}", cutter=cutter or PLAIN
        )
    }
