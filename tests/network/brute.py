"""Exact enumeration of small noisy-MAX networks: slow, plain, and written without looking at the solver."""

from __future__ import annotations

import itertools

import numpy as np


def enumerate_net(net, prior, likelihoods):
    """Evidence and unnormalised posterior masses by summing over every joint state of all nodes."""
    order = range(len(net.ids))
    mass = {i: np.zeros(net.sizes[i]) for i in order}
    total = 0.0
    for states in itertools.product(*(range(n) for n in net.sizes)):
        p = 1.0
        for i in order:
            p *= _chance(net, prior, i, states)
            if p == 0.0:
                break
        else:
            for sign, likelihood in likelihoods.items():
                p *= likelihood[states[sign]]
            total += p
            for i in order:
                mass[i][states[i]] += p
    return total, mass


def _chance(net, prior, i, states):
    def at_most(g):
        if g < 0:
            return 0.0
        own = prior[i][: g + 1].sum() if net.background[i] is None else net.background[i][g]
        for link in net.parents[i]:
            own *= link.table[states[link.parent], g]
        return own

    return at_most(states[i]) - at_most(states[i] - 1)
