"""Numbers that remember how they were computed.

A `Node` stands in for a number. Arithmetic with nodes, and calling an `equation` with nodes, gives a node
again: so the calculation that gives a figure, run on nodes in place of arrays, gives the derivation of the
figure, and there is no second copy of a formula to explain it with. Leaves know how to fetch their number
anew, and `evaluate` works a derivation out from them.
"""

from __future__ import annotations

import copy
import functools
import inspect
import operator
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, ParamSpec, TypeVar, cast

import numpy as np

from impact.base.units import NONE, product_unit
from impact.core import Numbers, StandIn

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class Equation:
    """What is known of an operation beside its result.

    Attributes
    ----------
    name : str
        ``sum``, ``product``, ``difference``, ``ratio`` …, or the full name of a function.
    formula : str
        The equation in symbols; blank for plain arithmetic.
    source : str
        Publication and place of the equation; blank for plain arithmetic.
    """

    name: str
    formula: str = ""
    source: str = ""


class Node(StandIn):
    """A number with its derivation; element 0 of its array is central, the others are draws.

    Parameters
    ----------
    equation : Equation
        How it follows from its inputs.
    function : callable
        Works it out from the inputs' numbers in their order; without inputs, from ``drawn`` (see `evaluate`).
    inputs : sequence of (str, Node)
        Each input with the name under which the equation knows it.
    label, unit : str
        What it is, blank for a step on the way; its unit.
    details : mapping
        Of a leaf: where the number comes from.
    reads : {"values", "centre", "draws"}
        Whether the function takes the inputs as they come, their centres only, or needs their draws.
    """

    __slots__ = ("_value", "details", "equation", "function", "inputs", "label", "reads", "unit")

    def __init__(
        self,
        equation: Equation,
        function: Callable[..., Any],
        inputs: Iterable[tuple[str, Node]] = (),
        *,
        label: str = "",
        unit: str = NONE,
        details: Mapping[str, Any] | None = None,
        reads: str = "values",
    ) -> None:
        self.equation = equation
        self.function = function
        self.inputs = tuple(inputs)
        self.label = label
        self.unit = unit
        self.details = dict(details or {})
        self.reads = reads
        self._value: float | None = None

    @property
    def value(self) -> float:
        """The central value; of a figure over the draws, that figure."""
        if self._value is None:
            if self.reads == "draws":
                self._value = float(evaluate(self))
            else:
                self._value = first(
                    self.function(*(node.value for _, node in self.inputs)) if self.inputs else self.function(False)
                )
        return self._value

    def named(self, label: str, unit: str | None = None) -> Node:
        """Return the same number under a name of its own."""
        same = copy.copy(self)
        same.label, same.unit = label, self.unit if unit is None else unit
        return same

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        return np.asarray(self.value, dtype=dtype)

    def __float__(self) -> float:
        return self.value

    def __bool__(self) -> bool:
        return bool(self.value)


SUM, PRODUCT, DIFFERENCE, RATIO = Equation("sum"), Equation("product"), Equation("difference"), Equation("ratio")
ABSOLUTE, CENTRE, NUMBER = Equation("absolute"), Equation("centre"), Equation("number")


def first(values: Any) -> float:
    """Return the central element of a number or an array."""
    return float(np.ravel(np.asarray(values, dtype=float))[0])


def constant(value: float, label: str = "", unit: str = NONE) -> Node:
    """Return a plain number as a leaf."""
    return Node(NUMBER, lambda drawn: value, label=label, unit=unit)


def as_node(value: Any) -> Node:
    """Return a number as a node; a node as it is."""
    return value if isinstance(value, Node) else constant(float(value))


def _is_zero(value: Any) -> bool:
    return not isinstance(value, Node) and np.ndim(value) == 0 and value == 0


def _terms(node: Node, equation: Equation) -> list[Node]:
    """Return the terms of a nameless sum or product, so that a longer one stays flat."""
    return [inner for _, inner in node.inputs] if node.equation is equation and not node.label else [node]


def _unit_of_sum(nodes: Iterable[Node]) -> str:
    return next((node.unit for node in nodes if node.unit != NONE), NONE)


def total(nodes: Iterable[Node], *, label: str = "", unit: str | None = None) -> Node:
    """Return the sum of nodes."""
    terms = list(nodes)
    return _folded(SUM, operator.add, terms, label, _unit_of_sum(terms) if unit is None else unit)


def product(nodes: Iterable[Node], *, label: str = "", unit: str | None = None) -> Node:
    """Return the product of nodes."""
    terms = list(nodes)
    found = functools.reduce(product_unit, (term.unit for term in terms)) if unit is None else unit
    return _folded(PRODUCT, operator.mul, terms, label, found)


def _folded(equation: Equation, apply: Callable[[Any, Any], Any], terms: list[Node], label: str, unit: str) -> Node:
    inputs = [("", term) for term in terms]
    return Node(equation, lambda *values: functools.reduce(apply, values), inputs, label=label, unit=unit)


def ratio(above: Node, below: Node, *, label: str = "") -> Node:
    """Return one node over another."""
    unit = product_unit(above.unit, below.unit, sign=-1)
    return Node(RATIO, operator.truediv, [("", above), ("over", below)], label=label, unit=unit)


def _added(left: Any, right: Any) -> Node:
    if _is_zero(right) or _is_zero(left):
        return as_node(left if _is_zero(right) else right)
    return total([*_terms(as_node(left), SUM), as_node(right)])


def _less(left: Any, right: Any) -> Node:
    pair = as_node(left), as_node(right)
    return Node(DIFFERENCE, operator.sub, zip(("", "less"), pair, strict=True), unit=_unit_of_sum(pair))


def _compared(apply: Callable[[float, float], bool], left: Any, right: Any) -> bool:
    return apply(float(left), float(right))


Node.answers = {
    "add": _added,
    "subtract": _less,
    "multiply": lambda left, right: product([*_terms(as_node(left), PRODUCT), as_node(right)]),
    "divide": lambda left, right: ratio(as_node(left), as_node(right)),
    "absolute": lambda node: Node(ABSOLUTE, np.abs, [("", node)], unit=node.unit),
    "less": functools.partial(_compared, operator.lt),
    "less_equal": functools.partial(_compared, operator.le),
    "greater": functools.partial(_compared, operator.gt),
    "greater_equal": functools.partial(_compared, operator.ge),
}


def centre(value: Any, *, label: str = "") -> Node:
    """Return the central value of a node, without its draws."""
    node = as_node(value)
    return Node(CENTRE, first, [("", node)], label=label, unit=node.unit, reads="centre")


def over_draws(
    equation: Equation,
    function: Callable[..., float],
    inputs: Iterable[tuple[str, Node]],
    *,
    unit: str,
    label: str = "",
) -> Node:
    """Return a figure read off the draws of other nodes; `function` gets their draws without the central value."""

    def read(*values: Any) -> float:
        size = max(np.size(value) for value in values)
        drawn = slice(1, None) if size > 1 else slice(None)  # what nothing uncertain enters is the same in every draw
        return function(*(np.broadcast_to(np.asarray(value, dtype=float), size)[drawn] for value in values))

    return Node(equation, read, inputs, label=label, unit=unit, reads="draws")


# -- equations ------------------------------------------------------------------------------------------------


def equation(formula: str, source: str, *, unit: str = NONE) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Make a function of numbers one that also takes nodes, and then gives a node that carries its source.

    Parameters
    ----------
    formula : str
        The equation in symbols.
    source : str
        Publication and place of the equation.
    unit : str
        Unit of the result.
    """

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(function)
        known = Equation(f"{function.__module__}.{function.__qualname__}", formula, source)

        @functools.wraps(function)
        def either(*args: P.args, **kwargs: P.kwargs) -> R:
            if not (any(map(_holds_node, args)) or any(map(_holds_node, kwargs.values()))):
                return function(*args, **kwargs)
            bound = signature.bind(*args, **kwargs)
            inputs = [pair for name, value in bound.arguments.items() for pair in _leaves(name, value)]

            def apply(*numbers: Any) -> Any:
                left = iter(numbers)
                filled = signature.bind(*args, **kwargs)
                for name, value in bound.arguments.items():
                    filled.arguments[name] = _filled(value, left)
                return function(*filled.args, **filled.kwargs)

            return cast(R, Node(known, apply, inputs, unit=unit))

        return either

    return decorate


def _holds_node(value: Any) -> bool:
    if isinstance(value, (float, np.ndarray)):  # nearly every value, told at once
        return False
    if isinstance(value, (list, tuple)):
        return any(map(_holds_node, value))
    if is_dataclass(value):
        return any(_holds_node(getattr(value, one.name)) for one in fields(value))
    return isinstance(value, Node)


def _leaves(name: str, value: Any) -> Iterator[tuple[str, Node]]:
    """Yield every number of an argument with its name."""
    words = name.replace("_", " ")
    if isinstance(value, (list, tuple)):
        for place, inner in enumerate(value, 1):
            yield from _leaves(f"{name} {place}", inner)
    elif is_dataclass(value):
        for one in fields(value):
            yield from _leaves(f"{one.name} of {words}", getattr(value, one.name))
    else:
        yield words, as_node(value)


def _filled(value: Any, numbers: Iterator[Any]) -> Any:
    """Return an argument with its nodes replaced by numbers, in the order of `_leaves`."""
    if isinstance(value, (list, tuple)):
        return type(value)(_filled(inner, numbers) for inner in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{one.name: _filled(getattr(value, one.name), numbers) for one in fields(value)})
    return next(numbers)


# -- working it out ---------------------------------------------------------------------------------------------


def below(root: Node) -> Iterator[Node]:
    """Yield a node and all nodes under it, each once."""
    seen, waiting = {id(root)}, [root]
    while waiting:
        node = waiting.pop()
        yield node
        for _, inner in node.inputs:
            if id(inner) not in seen:
                seen.add(id(inner))
                waiting.append(inner)


def evaluate(root: Node) -> Numbers:
    """Return the number of a node, worked out from its leaves alone.

    Every leaf is asked for its number anew, with its draws where some node above reads them: a factor is drawn
    again from its row. No value that a node holds is used. An array is kept no longer than something needs it.

    Returns
    -------
    float or ndarray
        An array has the central value first, then the draws.
    """
    left: Counter[tuple[int, bool]] = Counter()
    _count(root, root.reads != "centre", left)
    found: Numbers = _worked_out(root, root.reads != "centre", left, {})
    return found


def _inner(node: Node, drawn: bool) -> bool:
    """Return whether the inputs of a node are needed with their draws."""
    return {"centre": False, "draws": True}.get(node.reads, drawn)


def _count(node: Node, drawn: bool, left: Counter[tuple[int, bool]]) -> None:
    key = (id(node), drawn)
    left[key] += 1
    if left[key] == 1:
        for _, inner in node.inputs:
            _count(inner, _inner(node, drawn), left)


def _worked_out(node: Node, drawn: bool, left: Counter[tuple[int, bool]], kept: dict[tuple[int, bool], Any]) -> Any:
    key = (id(node), drawn)
    if key in kept:
        found = kept[key]
    elif node.inputs:
        inner = _inner(node, drawn)
        found = node.function(*(_worked_out(one, inner, left, kept) for _, one in node.inputs))
    else:
        found = node.function(drawn)
    left[key] -= 1
    if left[key]:
        kept[key] = found
    else:
        kept.pop(key, None)
    return found
