"""Condition-based diagnosis of a small boat's inboard diesel.

    from diagnose import assess, load_case, load_rules
    assessment = assess(load_case("case.yaml"), load_rules())
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from diagnose.case import load_case
    from diagnose.knowledge.load import load_rules
    from diagnose.triage import assess

__version__ = "0.1.0"
__all__ = ["assess", "load_case", "load_rules"]

_HOMES = {"assess": "diagnose.triage", "load_case": "diagnose.case", "load_rules": "diagnose.knowledge.load"}


def __getattr__(name: str) -> Any:
    """Load each part at its first use, so that importing the package costs nothing."""
    if name in _HOMES:
        import importlib

        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'diagnose' has no attribute '{name}'")
