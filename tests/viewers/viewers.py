"""Other people's viewers: each turns our bytes into grey pixels, or prints them to a PDF anew.

Those that are programs of the machine may be missing, or unable to start: `Absent` says why.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.readback import grey_pdf, grey_svg

DPI = 600
_SECONDS = 120
_CHROMIUM = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars")

Grey = NDArray[np.uint8]


class Absent(Exception):
    """A viewer that is not on this machine, or does not run here."""


def _run(program: str, *arguments: str) -> None:
    if shutil.which(program) is None:
        raise Absent(f"{program} is not installed")
    try:
        subprocess.run((program, *arguments), check=True, capture_output=True, timeout=_SECONDS)
    except (subprocess.SubprocessError, OSError) as error:
        raise Absent(f"{program} does not run here: {error}") from error


def _through(data: bytes, suffix: str, result: str, run: Callable[[str, str], None]) -> bytes:
    """Return what a program makes of a file: `run` gets the paths of the file and of the result."""
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, f"page{suffix}"), Path(folder, result)
        source.write_bytes(data)
        run(str(source), str(target))
        if not target.exists():
            raise Absent("the program wrote nothing")
        return target.read_bytes()


def _grey(picture: bytes) -> Grey:
    image = Image.open(io.BytesIO(picture)).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    return np.asarray(Image.alpha_composite(white, image).convert("L"), dtype=np.uint8)


def poppler(pdf: bytes, page: int) -> Grey:
    """Return a page, from 0, as poppler draws it by itself, fine strokes snapped to pixels."""
    number = str(page + 1)
    options = ("-r", str(DPI), "-gray", "-f", number, "-l", number, "-singlefile")

    def run(source: str, target: str) -> None:
        _run("pdftoppm", *options, source, target.removesuffix(".pgm"))

    return _grey(_through(pdf, ".pdf", "drawn.pgm", run))


def cairo(pdf: bytes, page: int) -> Grey:
    """Return a page, from 0, as poppler draws it by cairo."""
    number = str(page + 1)
    options = ("-png", "-r", str(DPI), "-gray", "-f", number, "-l", number, "-singlefile")

    def run(source: str, target: str) -> None:
        _run("pdftocairo", *options, source, target.removesuffix(".png"))

    return _grey(_through(pdf, ".pdf", "drawn.png", run))


def librsvg(svg: bytes) -> Grey:
    """Return a page as librsvg draws it."""
    dpi = ("-d", str(DPI), "-p", str(DPI))
    return _grey(
        _through(svg, ".svg", "drawn.png", lambda a, b: _run("rsvg-convert", *dpi, a, "-o", b))
    )


def inkscape(svg: bytes) -> Grey:
    """Return a page as Inkscape draws it."""
    options = ("--export-type=png", f"--export-dpi={DPI}", "--export-area-page")

    def run(source: str, target: str) -> None:
        _run("inkscape", source, *options, f"--export-filename={target}")

    return _grey(_through(svg, ".svg", "drawn.png", run))


def chromium(svg: bytes) -> Grey:
    """Return a page as Chromium shows it, 96 pixels of CSS to the inch."""
    height, width = grey_svg(svg, 96).shape
    size = f"--window-size={width + 1},{height + 1}"
    scale = f"--force-device-scale-factor={DPI / 96}"

    def run(source: str, target: str) -> None:
        _run("chromium", *_CHROMIUM, size, scale, f"--screenshot={target}", f"file://{source}")

    return _grey(_through(svg, ".svg", "drawn.png", run))


OF_PDF: dict[str, Callable[[bytes, int], Grey]] = {
    "pdfium": lambda pdf, page: grey_pdf(pdf, page, DPI),
    "poppler": poppler,
    "cairo": cairo,
}
OF_SVG: dict[str, Callable[[bytes], Grey]] = {
    "resvg": lambda svg: grey_svg(svg, DPI),
    "librsvg": librsvg,
    "inkscape": inkscape,
    "chromium": chromium,
}


def _chromium_print(source: str, target: str) -> None:
    _run("chromium", *_CHROMIUM, "--no-pdf-header-footer", f"--print-to-pdf={target}",
         f"file://{source}")  # fmt: skip


PRINTS: dict[str, Callable[[str, str], None]] = {
    "librsvg": lambda a, b: _run("rsvg-convert", "-f", "pdf", a, "-o", b),
    "inkscape": lambda a, b: _run("inkscape", a, "--export-type=pdf", f"--export-filename={b}"),
    "chromium": _chromium_print,
}


def printed(svg: bytes, by: str) -> bytes:
    """Return the PDF that a viewer prints of an SVG."""
    return _through(svg, ".svg", "printed.pdf", PRINTS[by])
