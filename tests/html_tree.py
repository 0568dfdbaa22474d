"""A page as a tree, for tests of what it holds: the standard library's tokens, put together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = frozenset(("meta", "link", "br", "hr", "img", "input", "source", "base", "col", "wbr"))


@dataclass(eq=False)
class Node:
    """An element: children are nodes and texts, in order."""

    tag: str
    attributes: dict[str, str]
    parent: Node | None = None
    children: list[Node | str] = field(default_factory=list)

    def every(self, *tags: str) -> Iterator[Node]:
        """This and all below, in order; only those of ``tags`` when some are given."""
        if not tags or self.tag in tags:
            yield self
        for child in self.children:
            if isinstance(child, Node):
                yield from child.every(*tags)

    def one(self, tag: str) -> Node:
        (found,) = self.every(tag)
        return found

    def by_id(self, name: str) -> Node:
        (found,) = (node for node in self.every() if node.attributes.get("id") == name)
        return found

    def text(self) -> str:
        parts = [child if isinstance(child, str) else child.text() for child in self.children]
        return " ".join(" ".join(parts).split())


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.at = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"<{tag}> has an attribute twice: {names}"
        node = Node(tag, {name: value or "" for name, value in attrs}, self.at)
        self.at.children.append(node)
        if tag not in VOID:
            self.at = node

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.at.tag == tag, f"</{tag}> closes <{self.at.tag}>"
        assert self.at.parent is not None
        self.at = self.at.parent

    def handle_data(self, data: str) -> None:
        self.at.children.append(data)


def tree(page: str) -> Node:
    """The page's tree. Fails on an element that is closed by another's end tag."""
    builder = _Builder()
    builder.feed(page)
    builder.close()
    assert builder.at is builder.root, f"<{builder.at.tag}> is left open"
    return builder.root
