"""Random noisy-MAX networks of every shape the solver meets."""

from __future__ import annotations

import numpy as np

from diagnose.network.nodes import cumulative, make_net


def falling(rng, count, low=0.02, high=0.97):
    """Cumulative chances of falling strengths, no two so close that their difference loses digits in enumeration."""
    return cumulative(sorted(rng.choice(np.linspace(low, high, 48), count, replace=False), reverse=True))


def random_net(rng, faults=4, conditions=2, signs=3, density=0.6, stages=(1, 2), grades=(1, 2)):
    """A network with staged faults, a caused fault, conditions on conditions and signs of mixed parents."""
    nodes, links, prior = [], [], {}
    sizes = {}

    def add(name, kind, size, background):
        nodes.append((name, kind, size, background))
        sizes[name] = size

    for i in range(faults):
        size = int(rng.choice(stages)) + 1
        add(f"f{i}", "fault", size, None)
        p = rng.uniform(0.2, 1.0, size - 1)
        p *= rng.uniform(0.01, 0.3) / p.sum()
        prior[i] = np.concatenate([[1 - p.sum()], p])
    for i in range(conditions):
        add(f"c{i}", "condition", int(rng.choice(grades)) + 1, None)
    for i in range(signs):
        add(f"s{i}", "sign", int(rng.choice(grades)) + 1, None)
    nodes = [(n, k, s, None if k == "fault" else falling(rng, s - 1, 0.005, 0.15)) for n, k, s, _ in nodes]

    def link(parent, child):
        table = np.array([np.ones(sizes[child]), *(falling(rng, sizes[child] - 1) for _ in range(sizes[parent] - 1))])
        links.append((parent, child, table))

    for i in range(faults):
        for j in range(conditions):
            if rng.random() < density:
                link(f"f{i}", f"c{j}")
        for j in range(signs):
            if rng.random() < density / 2:
                link(f"f{i}", f"s{j}")
    if faults > 2 and rng.random() < 0.5:
        link("f0", f"f{faults - 1}")
    for i in range(conditions):
        for j in range(i + 1, conditions):
            if rng.random() < density:
                link(f"c{i}", f"c{j}")
        for j in range(signs):
            if rng.random() < density:
                link(f"c{i}", f"s{j}")
    return make_net(nodes, links), prior


def random_likelihood(rng, size):
    """Hard, absent, at most, at least, soft, or flat."""
    kind = rng.integers(6)
    out = np.zeros(size)
    if kind == 0:
        out[0] = 1
    elif kind == 1:
        out[rng.integers(size)] = 1
    elif kind == 2:
        out[: rng.integers(size) + 1] = 1
    elif kind == 3:
        out[rng.integers(size) :] = 1
    elif kind == 4:
        out[:] = rng.uniform(0.01, 1, size)
    else:
        out[:] = 1
    return out
