"""A drawing made fit to stand in a page: ids that are its own, no style sheet, a name for ears.

Several drawings of one page must not share ids, a style sheet inside one would reach all of
them, and the page's policy allows no style attribute. So each is parsed and written anew:
ids renamed, styles turned into the attributes that SVG has for them, everything that is not
picture (metadata, scripts, links that leave the file) left out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Final
from xml.etree import ElementTree

_KEPT: Final = frozenset(
    ("svg", "g", "defs", "title", "desc", "path", "rect", "circle", "ellipse", "line", "polyline",
     "polygon", "text", "tspan", "use", "clipPath", "pattern")
)  # fmt: skip
_FONT: Final = re.compile(r"(?:(italic)\s+)?(?:(bold|\d{3})\s+)?([\d.]+)px\b")
_INSIDE: Final = re.compile(r"url\(#([^)]+)\)")
_LONG: Final = re.compile(r"-?\d+\.\d{3,}(?:e-?\d+)?")
_DROPPED: Final = frozenset(("style", "class", "version"))


def inline_svg(
    text: str,
    prefix: str,
    title: str = "",
    description: str = "",
    tips: Mapping[str, str] | None = None,
    say: Callable[[str], str] = str,
) -> str:
    """The SVG as markup for a page. ``prefix`` is unique in it and a valid id.

    ``title`` and ``description`` replace the drawing's own when given; ``tips`` gives elements,
    by the id that they have in ``text``, words that a browser shows over them; ``say`` is how
    every text is to be told. Raises ValueError for what is no SVG.
    """
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise ValueError(f"no drawing: {error}") from None
    _name(root, title, description)
    _keep(root)
    for element in list(root.iter()):
        words = (tips or {}).get(element.get("id", ""))
        if words:
            shown = ElementTree.Element("title")
            shown.text = words
            element.insert(0, shown)
    names = _ids(root, prefix)
    for element in root.iter():
        element.attrib = _attributes(element, names)
        if element.text and not element.text.strip():
            element.text = None
        elif element.text:
            element.text = say(element.text)
        if element.tail and not element.tail.strip():
            element.tail = None
    sized = root.attrib
    heard = [f"{prefix}-{end}" for end in ("title", "desc")]
    root.attrib = {
        "role": "img",
        "viewBox": sized.get("viewBox", ""),
        "aria-labelledby": " ".join(heard),
        **{
            key: value
            for key, value in sized.items()
            if key not in ("width", "height", "viewBox", "role", "id", "aria-labelledby")
        },
    }
    for element, name in zip(root[:2], heard, strict=True):
        element.set("id", name)
    ElementTree.indent(root, "")
    return ElementTree.tostring(root, encoding="unicode")


def _name(root: ElementTree.Element, title: str, description: str) -> None:
    """Title and description as the first two children."""
    told = {"title": title, "desc": description}
    for child in list(root):
        tag = _local(child.tag)
        if tag in told:
            told[tag] = told[tag] or (child.text or "")
            root.remove(child)
    for place, (tag, words) in enumerate(told.items()):
        element = ElementTree.Element(tag)
        element.text = words or told["title"]
        root.insert(place, element)


def _keep(element: ElementTree.Element) -> None:
    element.tag = _local(element.tag)
    for child in list(element):
        if not isinstance(child.tag, str) or _local(child.tag) not in _KEPT:
            element.remove(child)
        else:
            _keep(child)


def _ids(root: ElementTree.Element, prefix: str) -> dict[str, str]:
    """A new name for every id that something refers to."""
    used = set()
    for element in root.iter():
        for key, value in element.attrib.items():
            used.update(_INSIDE.findall(value))
            if _local(key) == "href" and value.startswith("#"):
                used.add(value[1:])
    wanted = [one.get("id", "") for one in root.iter() if one.get("id") in used]
    return {name: f"{prefix}-{number}" for number, name in enumerate(dict.fromkeys(wanted))}


def _attributes(element: ElementTree.Element, names: dict[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for key, value in {**element.attrib, **_styles(element.get("style", ""))}.items():
        key = _local(key)
        if key in _DROPPED or key.startswith("on"):
            continue
        if key == "id":
            if value in names:
                found["id"] = names[value]
        elif key == "href":
            if value.startswith("#"):
                found["href"] = f"#{names.get(value[1:], '')}"
        elif "url(" not in _INSIDE.sub("", value):
            value = _INSIDE.sub(lambda ref: f"url(#{names.get(ref[1], '')})", value)
            found[key] = _LONG.sub(lambda long: f"{float(long[0]):.2f}", value)
    if "d" in found:
        found["d"] = " ".join(found["d"].split())
    return found


def _styles(text: str) -> dict[str, str]:
    """Declarations as attributes; the shorthand ``font`` has none, so it is taken apart."""
    found: dict[str, str] = {}
    for declaration in text.split(";"):
        key, _, value = (one.strip() for one in declaration.partition(":"))
        if key == "font":
            match = _FONT.match(value)
            if match:
                found["font-size"] = match[3]
                if match[2]:
                    found["font-weight"] = match[2]
        elif key:
            found[key] = value
    return found


def _local(name: str) -> str:
    return name.rsplit("}", 1)[-1]
