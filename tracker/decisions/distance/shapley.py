"""Exact Shapley values: how a difference of outcomes divides between groups that changed together.

    phi_i = sum over S without i of |S|! (n - |S| - 1)! / n! * (v(S + i) - v(S)),
where v(S) is the outcome with the groups in S at the end and the rest at the start (Shapley 1953,
Contributions to the Theory of Games II, 307). The values sum to v(all) - v(none).

Where a group consists of two members that belong together, its value divides between them by the
mean over both orders in which the two may move (Owen 1977, Essays in Mathematical Economics and
Game Theory, 76); the two sum to the group's own value.
"""

from collections.abc import Callable, Sequence
from itertools import combinations
from math import factorial

import numpy as np

from models.arrays import Floats

Worth = Callable[[frozenset[str]], Floats]


def subsets(groups: Sequence[str]) -> tuple[frozenset[str], ...]:
    """Return every subset of the groups, the empty one first."""
    return tuple(frozenset(c) for n in range(len(groups) + 1) for c in combinations(groups, n))


def shapley_values(groups: Sequence[str], worth: Worth) -> dict[str, Floats]:
    """Return each group's share of ``worth(all) - worth(none)``; ``worth`` is asked once a set."""
    n = len(groups)
    found = {s: np.asarray(worth(s), dtype=np.float64) for s in subsets(groups)}
    shares = {}
    for group in groups:
        share = np.zeros_like(found[frozenset()])
        for without in subsets([g for g in groups if g != group]):
            weight = factorial(len(without)) * factorial(n - len(without) - 1) / factorial(n)
            share = share + weight * (found[without | {group}] - found[without])
        shares[group] = share
    return shares


def owen_values(
    groups: Sequence[str], group: str, members: tuple[str, str], worth: Worth
) -> dict[str, Floats]:
    """Return how the Shapley value of one group divides between its two members.

    ``worth`` must take a member in the group's place, and both for the group.
    """
    n = len(groups)
    first, second = members
    shares = {first: np.zeros(()), second: np.zeros(())}
    for without in subsets([g for g in groups if g != group]):
        weight = factorial(len(without)) * factorial(n - len(without) - 1) / factorial(n)
        none, both = (np.asarray(worth(without | s)) for s in (frozenset[str](), {group}))
        alone = {member: np.asarray(worth(without | {member})) for member in members}
        for member, other in ((first, second), (second, first)):
            step = (alone[member] - none + both - alone[other]) / 2
            shares[member] = shares[member] + weight * step
    return shares
