"""The noisy-MAX network: faults above hidden conditions above signs, and exact inference on it.

    nodes       the network of one boat: which nodes and links are live
    evidence    what was reported, as likelihoods, folded into the nodes above where that is exact
    eliminate   the frontier forward-backward pass over what is left, many variants at once
    results     what a look could show: its chances and what each result would do
"""
