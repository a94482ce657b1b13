"""What reportlab has no words for: layers and a spot colour, put into the document it makes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from reportlab.pdfbase.pdfdoc import (
    PDFArray,
    PDFDictionary,
    PDFName,
    PDFObjectReference,
    PDFResourceDictionary,
    PDFString,
)
from reportlab.pdfgen.canvas import Canvas

from focuschart.layout.page import GROUPS, OPERATION_COLOUR, Group, rgb

_SPOT = "Spot"


class Layers:
    """Optional content groups (ISO 32000-1, 8.11) of a canvas, one for each group of a page.

    They bear the groups' names and are all switched on. With `spot` the canvas can stroke in the
    Separation of that name, which looks like the cut's own colour where there is no such ink.
    """

    def __init__(self, canvas: Canvas, *, spot: str | None) -> None:
        self._canvas = canvas
        self._groups = {group: self._registered(group) for group in GROUPS}
        self._spot = None if spot is None else self._separation(spot)
        order = PDFArray([self._groups[group] for group in GROUPS])
        shown = {"Name": PDFString("Layers"), "Order": order, "ON": order}
        catalog = canvas._doc.Catalog
        catalog.OCProperties = PDFDictionary({"OCGs": order, "D": PDFDictionary(shown)})
        # reportlab writes the entries that it finds listed; this adds one to this document alone.
        catalog.__NoDefault__ = [*catalog.__NoDefault__, "OCProperties"]

    def _registered(self, group: Group) -> PDFObjectReference:
        layer = PDFDictionary({"Type": PDFName("OCG"), "Name": PDFString(group)})
        return self._canvas._doc.Reference(layer, f"layer.{group}")

    def _separation(self, name: str) -> PDFObjectReference:
        """Return a Separation space (ISO 32000-1, 8.6.6.4) whose tints run from white to the cut's.

        reportlab's own has CMYK for its alternate, which viewers show as another red than plain.
        """
        white, full = PDFArray([1, 1, 1]), PDFArray(rgb(OPERATION_COLOUR["cut"]))
        tints = {"FunctionType": 2, "Domain": PDFArray([0, 1]), "N": 1, "C0": white, "C1": full}
        parts = [PDFName("Separation"), _name(name), PDFName("DeviceRGB"), PDFDictionary(tints)]
        return self._canvas._doc.Reference(PDFArray(parts), "separation.cut")

    @contextmanager
    def drawing(self, group: Group) -> Iterator[None]:
        """Put what is drawn meanwhile into a group's layer."""
        self._canvas._code.append(f"/OC /{group} BDC")
        yield
        self._canvas._code.append("EMC")

    def stroke_spot(self) -> None:
        """Stroke in the full tint of the spot colour from here on."""
        self._canvas._code.append(f"/{_SPOT} CS 1 SCN")

    def close(self) -> None:
        """Name layers and spot colour in every page, once all pages are drawn."""
        resources = PDFResourceDictionary()
        resources.basicFonts()
        resources.Properties = dict(self._groups)
        resources.ColorSpace = {} if self._spot is None else {_SPOT: self._spot}
        shared = self._canvas._doc.Reference(resources, "page.resources")
        for page in self._canvas._doc.Pages.pages:
            page.Resources = shared


def _name(text: str) -> str:
    """Return a name with all but letters and digits spelt out (ISO 32000-1, 7.3.5).

    reportlab's own leaves a slash as it is, which would begin another name.
    """
    return "/" + "".join(c if c.isalnum() else f"#{ord(c):02x}" for c in text)
