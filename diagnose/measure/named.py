"""The functions of this package by the name that rule files give them."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from functools import cache
from importlib import import_module
from typing import Any, get_type_hints

from diagnose.errors import RuleError

PACKAGE = "diagnose.measure"
Output = dict[str, float | str | None]


@cache
def function(name: str) -> Callable[..., Any]:
    """The public function that `module.function` stands for.

    Raises:
        RuleError: there is no such module, or it does not list the function as public.
    """
    module_name, _, wanted = name.partition(".")
    try:
        module = import_module(f"{PACKAGE}.{module_name}")
    except ModuleNotFoundError:
        raise RuleError(f"'{module_name}' is not a module of measures", right="a module of diagnose/measure") from None
    if wanted not in getattr(module, "__all__", ()) or not inspect.isfunction(getattr(module, wanted)):
        raise RuleError(f"'{wanted}' is not a public function of {module_name}", right=", ".join(sorted(getattr(module, "__all__", ()))))
    found: Callable[..., Any] = getattr(module, wanted)
    return found


def parameters(name: str) -> Mapping[str, inspect.Parameter]:
    """The parameters of a function, in its order.

    Raises:
        RuleError: see `function`.
    """
    return inspect.signature(function(name)).parameters


def call(name: str, values: Mapping[str, object]) -> Output:
    """What a function gives for these values, each figure by its name; a bare number is called `value`.

    Raises:
        ValueError: the values are outside its range, or cannot be together.
    """
    found = function(name)(**values)
    fields = getattr(found, "_asdict", None)
    return dict(fields()) if fields is not None else {"value": found}


def fields(name: str) -> tuple[str, ...] | None:
    """Names of the figures a function gives, or None where it gives one.

    Raises:
        RuleError: see `function`.
    """
    returned = get_type_hints(function(name)).get("return")
    return getattr(returned, "_fields", None)
