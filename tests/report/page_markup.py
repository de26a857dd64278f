"""Reads a page back: its elements, strictly nested, the texts in them, and its drawings."""

from __future__ import annotations

import functools
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

from page_samples import CASES

from gaugelink.report.page_content import PageContent
from gaugelink.report.page_html import page_html

VOID = {"meta", "link", "br", "hr", "img", "input"}
_SVG = re.compile(r"<svg .*?</svg>", re.S)


@dataclass
class Node:
    tag: str
    attributes: dict[str, str]
    children: list[Node | str] = field(default_factory=list)

    def walk(self) -> Iterator[Node]:
        yield self
        for child in self.children:
            if isinstance(child, Node):
                yield from child.walk()

    def all(self, *tags: str) -> list[Node]:
        return [node for node in self.walk() if node.tag in tags]

    def one(self, tag: str) -> Node:
        (found,) = self.all(tag)
        return found

    @property
    def text(self) -> str:
        parts = (c if isinstance(c, str) else c.text for c in self.children)
        return " ".join("".join(parts).split())


class _Strict(HTMLParser):
    """Refuses what a browser would mend: a tag that is not closed, or closed by another."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"<{tag}> has an attribute twice"
        node = Node(tag, {name: value or "" for name, value in attrs})
        self._open[-1].children.append(node)
        if tag not in VOID:
            self._open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._open[-1].children.append(Node(tag, {k: v or "" for k, v in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self._open[-1].tag == tag, f"</{tag}> closes <{self._open[-1].tag}>"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        self._open[-1].children.append(data)

    def finish(self) -> Node:
        self.close()
        assert self._open == [self.root], f"<{self._open[-1].tag}> is not closed"
        return self.root


@functools.cache
def parsed(page: str) -> Node:
    """Read a page, each once: tests only look at it."""
    parser = _Strict()
    parser.feed(page)
    return parser.finish()


@functools.cache
def sample(case: str) -> PageContent:
    return CASES[case]()


@functools.cache
def page_of(case: str) -> str:
    return page_html(sample(case))


@functools.cache
def drawings(case: str) -> dict[str, ET.Element]:
    """The drawings of a page by the prefix of their ids; namespaces are taken off the tags."""
    found = {}
    for markup in _SVG.findall(page_of(case)):
        root = ET.fromstring(markup)
        for node in root.iter():
            node.tag = node.tag.partition("}")[2]
        found[root.attrib["aria-labelledby"].removesuffix("-title")] = root
    return found
