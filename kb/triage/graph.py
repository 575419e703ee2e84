"""The trees as one graph of steps: what can be reached, what goes in circles, how long it gets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter

from kb.triage.tree import Branch, Tree

Place = tuple[str, str]
Graph = Mapping[Place, Iterable[Place]]


def landing(trees: Mapping[str, Tree], branch: Branch) -> Place | None:
    """Find where a branch leads, as (tree, step); None where there is no such step."""
    tree = trees.get(branch.target_tree)
    if tree is None:
        return None
    step = branch.target_step or tree.first
    return (tree.slug, step) if step in tree.steps else None


def graph_of(trees: Mapping[str, Tree]) -> dict[Place, list[Place]]:
    """Map every step to the steps that its branches land on."""
    graph: dict[Place, list[Place]] = {}
    for tree in trees.values():
        for step in tree.steps.values():
            ends = (landing(trees, branch) for branch in step.branches)
            landed = dict.fromkeys(place for place in ends if place is not None)
            graph[tree.slug, step.id] = list(landed)
    return graph


def reachable(graph: Graph, starts: Iterable[Place]) -> set[Place]:
    """Find every place that can be reached from one of the starts, these included."""
    found: set[Place] = set()
    waiting = list(starts)
    while waiting:
        place = waiting.pop()
        if place not in found:
            found.add(place)
            waiting += graph[place]
    return found


def circles(graph: Graph) -> list[list[Place]]:
    """List circles until, with one edge of each taken away, none is left.

    Each is given in the direction of walking, and its last place leads back to its first.
    """
    open_graph = {place: list(ends) for place, ends in graph.items()}
    found: list[list[Place]] = []
    while True:
        try:
            TopologicalSorter(open_graph).prepare()
        except CycleError as error:
            circle: list[Place] = list(reversed(error.args[1]))[:-1]
            found.append(circle)
            open_graph[circle[-1]].remove(circle[0])
        else:
            return found


def longest(graph: Graph) -> dict[Place, list[Place]]:
    """Find the longest walk from every place to its end, in a graph without circles."""
    walks: dict[Place, list[Place]] = {}
    # The sorter gives what a place leads to before the place itself.
    for place in TopologicalSorter(graph).static_order():
        ahead = (walks[end] for end in graph[place])
        walks[place] = [place, *max(ahead, key=len, default=[])]
    return walks
