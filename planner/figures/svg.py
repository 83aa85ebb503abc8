"""SVG as drawn into SVG as served: presentation attributes for style rules, a title and a description."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

_SVG = "http://www.w3.org/2000/svg"
_LINK = "http://www.w3.org/1999/xlink"
_FONT = re.compile(r"^(?:(italic|oblique)\s+)?(?:(bold|\d{3})\s+)?([\d.]+px)\s+(.+)$")
_FAMILY = "sans-serif"


def tidy(drawn: str, *, title: str, text: str) -> str:
    """The same picture without style rules and data about data, named for screen readers.

    Style rules become presentation attributes, so that the picture stands under a content security policy that
    allows no inline style. Letters stay text in the reader's own sans-serif.

    Args:
        drawn: what matplotlib wrote.
        title: the picture's name.
        text: what it shows, in words.
    """
    ET.register_namespace("", _SVG)
    ET.register_namespace("xlink", _LINK)
    root = ET.fromstring(drawn)  # noqa: S314 - our own drawing, not a stranger's
    _drop(root)
    for element in root.iter():
        _attributes_for_style(element)
    root.set("role", "img")
    root.set("aria-labelledby", "title desc")
    for place, (name, content) in enumerate((("title", title), ("desc", text))):
        child = ET.Element(f"{{{_SVG}}}{name}", {"id": name})
        child.text = content
        root.insert(place, child)
    return ET.tostring(root, encoding="unicode") + "\n"


def _drop(root: ET.Element) -> None:
    """Take out metadata and the one general style rule (its two properties go to the root)."""
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{_SVG}}}metadata", f"{{{_SVG}}}style"):
                parent.remove(child)
    for empty in [child for child in root if child.tag == f"{{{_SVG}}}defs" and not len(child)]:
        root.remove(empty)
    root.set("stroke-linejoin", "round")
    root.set("stroke-linecap", "butt")


def _attributes_for_style(element: ET.Element) -> None:
    for rule in element.attrib.pop("style", "").split(";"):
        name, _, value = (part.strip() for part in rule.partition(":"))
        if not value:
            continue
        if name == "font":
            _font(element, value)
        elif name == "font-family":
            element.set(name, _FAMILY)
        else:
            element.set(name, value)


def _font(element: ET.Element, shorthand: str) -> None:
    found = _FONT.match(shorthand)
    if found is None:
        raise ValueError(f"a font in an unforeseen form: {shorthand}")
    slant, weight, size, _ = found.groups()
    element.set("font-size", size)
    element.set("font-family", _FAMILY)
    for name, value in (("font-style", slant), ("font-weight", weight)):
        if value is not None:
            element.set(name, value)
