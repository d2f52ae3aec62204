"""Frozen dataclasses, declared at a quarter of the time.

The decorator of the standard library writes and compiles seven methods of each class, at every start of the program,
which took a fifth of a start. Here it writes none: the constructor is the only method compiled for a class, and all
classes share the others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import MISSING, Field, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, TypeVar, cast, dataclass_transform, overload

C = TypeVar("C", bound=type)


@overload
def frozen(declared: C) -> C: ...
@overload
def frozen(*, kw_only: bool = True, slots: bool = True, eq: bool = True) -> Callable[[C], C]: ...
@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(field,))
def frozen(
    declared: C | None = None, *, kw_only: bool = True, slots: bool = True, eq: bool = True
) -> C | Callable[[C], C]:
    """Make a frozen dataclass, as `dataclass(frozen=True, slots=True, kw_only=True)` does.

    Methods that the class has or inherits are kept. Every field is an argument of the constructor.

    Args:
        declared: The class.
        kw_only: Whether arguments of the constructor are given by name only.
        slots: Whether instances have no attributes but the fields; false for cached properties.
        eq: Whether instances with equal fields are equal; otherwise each is equal only to itself.
    """

    def with_options(declared: C) -> C:
        made: Any = dataclass(init=False, repr=False, eq=False, kw_only=kw_only, slots=slots)(declared)
        _add_methods(made, eq=eq)
        return cast(C, made)

    return with_options if declared is None else with_options(declared)


def _add_methods(made: Any, *, eq: bool) -> None:
    """Give a dataclass without methods those of a frozen one."""
    known = fields(made)
    made.__values__ = staticmethod(_getter([each.name for each in known]))
    made.__compared__ = staticmethod(_getter([each.name for each in known if each.compare]))
    made.__init__ = _constructor(made, known)
    made.__setattr__, made.__delattr__ = _refuse_to_set, _refuse_to_delete
    made.__getstate__, made.__setstate__ = _get_state, _set_state
    if made.__repr__ is object.__repr__:
        made.__repr__ = _representation
    if eq and made.__eq__ is object.__eq__:
        made.__eq__, made.__hash__ = _is_equal, _hash


def _getter(names: Sequence[str]) -> Callable[[Any], tuple[Any, ...]]:
    """A function that returns the values of some fields."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda instance: tuple(getattr(instance, name) for name in names)


def _constructor(made: type, known: Sequence[Field[Any]]) -> Any:
    """The constructor of a class, with a parameter for each field."""
    named: dict[str, Any] = {"_set": object.__setattr__}
    positional, by_name, lines = ["self"], list[str](), list[str]()
    for each in known:
        name, value = each.name, each.name
        parameter = name
        if each.default is not MISSING:
            named[f"_default_{name}"], parameter = each.default, f"{name}=_default_{name}"
        elif each.default_factory is not MISSING:
            made_by = f"_make_{name}"
            named[made_by], parameter = each.default_factory, f"{name}={made_by}"
            value = f"{made_by}() if {name} is {made_by} else {name}"
        (by_name if each.kw_only else positional).append(parameter)
        lines.append(f" _set(self, {name!r}, {value})")
    if hasattr(made, "__post_init__"):
        lines.append(" self.__post_init__()")
    parameters = [*positional, *(["*", *by_name] if by_name else [])]
    exec("\n".join([f"def __init__({', '.join(parameters)}):", *(lines or [" pass"])]), named)
    constructor: Any = named["__init__"]
    constructor.__qualname__, constructor.__module__ = f"{made.__qualname__}.__init__", made.__module__
    return constructor


def _refuse_to_set(self: Any, name: str, value: object) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _representation(self: Any) -> str:
    shown = ", ".join(f"{each.name}={getattr(self, each.name)!r}" for each in fields(self) if each.repr)
    return f"{type(self).__qualname__}({shown})"


def _is_equal(self: Any, other: Any) -> Any:
    return (
        self.__compared__(self) == other.__compared__(other) if type(other) is type(self) else NotImplemented
    )


def _hash(self: Any) -> int:
    return hash(self.__compared__(self))


def _get_state(self: Any) -> Any:
    return self.__values__(self)


def _set_state(self: Any, state: Any) -> None:
    for each, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, each.name, value)
