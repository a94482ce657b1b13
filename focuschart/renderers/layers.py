"""Layers and a spot colour in a PDF, which reportlab has no functions for."""

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

    Each layer has its group's name and is visible. With `spot` the canvas can stroke in the spot
    colour (Separation) of that name; devices without such an ink show the cut's plain colour.
    """

    def __init__(self, canvas: Canvas, *, spot: str | None) -> None:
        self._canvas = canvas
        self._groups = {group: self._registered(group) for group in GROUPS}
        self._spot = None if spot is None else self._separation(spot)
        order = PDFArray([self._groups[group] for group in GROUPS])
        shown = {"Name": PDFString("Layers"), "Order": order, "ON": order}
        catalog = canvas._doc.Catalog
        catalog.OCProperties = PDFDictionary({"OCGs": order, "D": PDFDictionary(shown)})
        # reportlab writes only listed entries; this adds one to this document, not to its class.
        catalog.__NoDefault__ = [*catalog.__NoDefault__, "OCProperties"]

    def _registered(self, group: Group) -> PDFObjectReference:
        layer = PDFDictionary({"Type": PDFName("OCG"), "Name": PDFString(group)})
        return self._canvas._doc.Reference(layer, f"layer.{group}")

    def _separation(self, name: str) -> PDFObjectReference:
        """Return a Separation colour space (ISO 32000-1, 8.6.6.4) from white to the cut's colour.

        Its alternate space is RGB: reportlab's own has CMYK, in which viewers show another red.
        """
        white, full = PDFArray([1, 1, 1]), PDFArray(rgb(OPERATION_COLOUR["cut"]))
        tints = {"FunctionType": 2, "Domain": PDFArray([0, 1]), "N": 1, "C0": white, "C1": full}
        parts = [PDFName("Separation"), _name(name), PDFName("DeviceRGB"), PDFDictionary(tints)]
        return self._canvas._doc.Reference(PDFArray(parts), "separation.cut")

    @contextmanager
    def drawing(self, group: Group) -> Iterator[None]:
        """Put all that is drawn in the block into a group's layer."""
        self._canvas._code.append(f"/OC /{group} BDC")
        yield
        self._canvas._code.append("EMC")

    def stroke_spot(self) -> None:
        """Set the stroke to the full spot colour."""
        self._canvas._code.append(f"/{_SPOT} CS 1 SCN")

    def close(self) -> None:
        """Enter layers and spot colour in the resources of all pages, after the last one."""
        resources = PDFResourceDictionary()
        resources.basicFonts()
        resources.Properties = dict(self._groups)
        resources.ColorSpace = {} if self._spot is None else {_SPOT: self._spot}
        shared = self._canvas._doc.Reference(resources, "page.resources")
        for page in self._canvas._doc.Pages.pages:
            page.Resources = shared


def _name(text: str) -> str:
    """Return a PDF name with all but letters and digits as #xx (ISO 32000-1, 7.3.5).

    reportlab's own PDFName leaves a slash as it is, which would begin another name.
    """
    return "/" + "".join(c if c.isalnum() else f"#{ord(c):02x}" for c in text)
