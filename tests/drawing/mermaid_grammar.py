"""The grammar of the Mermaid texts that are written, and what people see of them."""

import re
from typing import Final

from ventrules.outputs.draw_marks import Drawing
from ventrules.outputs.draw_mermaid import mermaid

_NODE: Final = re.compile(r'(?:  ){1,2}(\w+)\["([^"]*)"\]')
_EDGE: Final = re.compile(r'  (d\d+) (?:---|-\.-|===)\|"([^"]*)"\| (d\d+)')
_REST: Final = re.compile(
    r'flowchart LR|  subgraph findings\["Findings"\]|  end'
    r"|  classDef (found|part) stroke-(width:4px|dasharray:6 3)|  class d\d+(,d\d+)* (found|part)"
    r"|  linkStyle \d+ stroke-dasharray:[0-9 ]+"
)
_CODES: Final = re.compile(r"#(\d+);")


def plain(label: str) -> list[str]:
    """Return the lines of a Mermaid label as people see them."""
    assert "<" not in label.replace("<br/>", "")
    assert "#" not in _CODES.sub("", label)
    return [_CODES.sub(lambda code: chr(int(code.group(1))), line) for line in label.split("<br/>")]


def assert_mermaid(found: Drawing) -> None:
    """Check the grammar of a Mermaid text, and that it has every device, cable and finding."""
    nodes: dict[str, list[str]] = {}
    edges = []
    first, *lines = mermaid(found).splitlines()
    assert first == "flowchart LR"
    for line in lines:
        if edge := _EDGE.fullmatch(line):
            edges.append((edge.group(1), plain(edge.group(2)), edge.group(3)))
        elif node := _NODE.fullmatch(line):
            assert node.group(1) not in nodes
            nodes[node.group(1)] = plain(node.group(2))
        else:
            assert _REST.fullmatch(line), line
    devices = {name: key for key, (name, *_rest) in nodes.items() if key.startswith("d")}
    assert set(devices) == set(found.survey.models)
    assert [(start, end) for start, _label, end in edges] == [
        tuple(devices[port.device] for port in cable.view.ends) for cable in found.cables
    ]
    for cable, (_start, label, _end) in zip(found.cables, edges, strict=True):
        assert label[0] == f"{cable.label} {cable.kind_words}"
    for number in range(1, len(found.findings) + 1):
        assert nodes[f"f{number}"][0].startswith(f"{number}: ")
