"""YAML read so that every fault can name its line.

Each scalar stays the text that was written: YAML 1.1 would make `on` true and 10:30 a number.
A key that stands twice is an error, since YAML would silently keep the last one, and so is an
anchor, which can make a small file unfold into a huge one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

_TAGS = {f"tag:yaml.org,2002:{kind}" for kind in ("str", "seq", "map")}


@dataclass
class Yaml:
    """What was read: the value, the line of each path ("phrases.3"), and what is at fault.

    Faults are (line, "syntax" or "duplicate", message); with a syntax fault `value` is empty.
    """

    value: dict[str, object] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)
    faults: list[tuple[int, str, str]] = field(default_factory=list)


def read_yaml(text: str, first_line: int = 1) -> Yaml:
    """Read a mapping; `first_line` is the line of the file on which `text` begins."""
    result = Yaml()
    try:
        root = _compose(text)
    except yaml.MarkedYAMLError as error:
        # A quote never closed is found at the end of the file, but stands where it began.
        unclosed = "end of stream" in (error.problem or "")
        mark = (error.context_mark if unclosed else None) or error.problem_mark
        line = first_line + (mark.line if mark else 0)
        reason = " ".join(part for part in (error.context, error.problem) if part)
        result.faults.append((line, "syntax", f"this is not YAML: {reason}"))
        return result
    except yaml.YAMLError as error:
        reason = " ".join(str(error).split())
        result.faults.append((first_line, "syntax", f"this is not YAML: {reason}"))
        return result
    if root is None:
        return result
    if not isinstance(root, MappingNode):
        result.faults.append((first_line, "syntax", "write fields, each as 'name: value'"))
        return result
    value = _Reader(result, first_line).value(root, "")
    if isinstance(value, dict) and not any(kind == "syntax" for _, kind, _ in result.faults):
        result.value = value
    return result


def _compose(text: str) -> Node | None:
    """Compose by libyaml where it is there; a fault is told by the plain reader, in more words."""
    try:
        return yaml.compose(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))
    except yaml.YAMLError:
        return yaml.compose(text, Loader=yaml.BaseLoader)


class _Reader:
    """Turns nodes into plain values, noting lines and faults on the way."""

    def __init__(self, result: Yaml, first_line: int) -> None:
        self.result = result
        self.first_line = first_line
        self.seen: set[int] = set()

    def value(self, node: Node, path: str) -> object:
        line = node.start_mark.line + self.first_line
        if path:
            line = self.result.lines.setdefault(path, line)
        if id(node) in self.seen:
            self.result.faults.append((line, "syntax", "write the value out: '*' repeats another"))
            return ""
        self.seen.add(id(node))
        if node.tag not in _TAGS:
            self.result.faults.append((line, "syntax", f"take away the tag '{node.tag}'"))
        if isinstance(node, ScalarNode):
            return str(node.value)
        if isinstance(node, SequenceNode):
            return [self.value(item, f"{path}.{i}") for i, item in enumerate(node.value)]
        return self.mapping(node, path)

    def mapping(self, node: Node, path: str) -> dict[str, object]:
        found: dict[str, object] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            line = key_node.start_mark.line + self.first_line
            inner = f"{path}.{key}" if path else key
            if key in found:
                message = f"'{key}' stands twice; keep one"
                self.result.faults.append((line, "duplicate", message))
            self.result.lines[inner] = line
            found[key] = self.value(value_node, inner)
        return found
