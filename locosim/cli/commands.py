"""Commands declared as functions: their parameters, each with its help, become arguments and options.

Click parses them. A command is built, and its module imported, when it is asked for: to build all of them takes longer
than to read an excursion.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from enum import Enum
from importlib import import_module
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

import click

F = TypeVar("F", bound=Callable[..., None])


class Argument(NamedTuple):
    """An argument of a command, by the annotation of a parameter.

    Attributes:
        help: What it is.
        metavar: Name in the help; that of the parameter in capitals if omitted.
    """

    help: str
    metavar: str | None = None


class Option(NamedTuple):
    """An option of a command, by the annotation of a parameter.

    Attributes:
        words: The option as written, such as `--plot`; with the word that turns it off after a slash.
        help: What it does.
        show_default: Whether the help shows its default, or a text for it.
    """

    words: str
    help: str
    show_default: bool | str = True


class CommandGroup(click.Group):
    """A group of commands, each built when it is asked for.

    Args:
        name: Its name.
        modules: Module that declares each command, in the order of the help; none where all are declared at once.
        **options: Options of `click.Group`.
    """

    def __init__(self, name: str, *, modules: Mapping[str, str] | None = None, **options: Any) -> None:
        super().__init__(name, no_args_is_help=True, **options)
        self._modules = modules or {}
        self._declared: dict[str, Callable[[], click.Command]] = {}

    def declare(
        self, name: str | None = None, *, epilog: str | None = None, kind: type[click.Command] = click.Command
    ) -> Callable[[F], F]:
        """Declare a command by a function: its docstring is the help, its parameters the arguments and options.

        Args:
            name: Name of the command; that of the function if omitted.
            epilog: Text after the options.
            kind: Class of the command.
        """

        def declared(function: F) -> F:
            known = name or function.__name__
            self._declared[known] = lambda: _command(known, function, epilog, kind)
            return function

        return declared

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands, in the order of the help."""
        return list(self._modules or self._declared)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command with a name; None where there is none."""
        names = self.list_commands(ctx)
        for name in [cmd_name] if cmd_name in names else names:  # an error names those that are alike
            if name in self._modules:
                import_module(self._modules[name])
            if name in self._declared and name not in self.commands:
                self.commands[name] = self._declared[name]()
        return super().get_command(ctx, cmd_name)


class _Member(click.Choice[str]):
    """A member of an enumeration, by its value."""

    def __init__(self, members: type[Enum]) -> None:
        super().__init__([str(each.value) for each in members])
        self._members = members

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The member with a value."""
        return self._members(super().convert(value, param, ctx))


def _command(
    name: str, function: Callable[..., None], epilog: str | None, kind: type[click.Command]
) -> click.Command:
    """Build the command that a function declares."""
    hints = get_type_hints(function, include_extras=True)
    parameters = [
        _parameter(each.name, hints[each.name], each.default)
        for each in inspect.signature(function).parameters.values()
    ]
    return kind(name, params=parameters, callback=function, help=function.__doc__, epilog=epilog)


def _parameter(name: str, annotation: Any, default: Any) -> click.Parameter:
    """Build the argument or option that an annotated parameter of a function declares."""
    value, declared = get_args(annotation)
    many, single = _single(value)
    options: dict[str, Any] = {"type": _type(single)}
    if default is inspect.Parameter.empty:
        options["required"] = True
    else:
        options["required"] = False
        options["default"] = default.value if isinstance(default, Enum) else default
    if many:
        options["callback"] = _list_or_none
    if isinstance(declared, Argument):
        return click.Argument(
            [name], help=declared.help, metavar=declared.metavar, nargs=-1 if many else 1, **options
        )
    return click.Option(
        [name, declared.words],
        help=declared.help,
        show_default=declared.show_default,
        is_flag=single is bool,
        multiple=many,
        **options,
    )


def _single(value: Any) -> tuple[bool, Any]:
    """Whether a type is a list, and the type of one value, which may be None where it is omitted."""
    if get_origin(value) is UnionType:
        value = next(each for each in get_args(value) if each is not NoneType)
    if get_origin(value) is list:
        return True, get_args(value)[0]
    return False, value


def _type(single: Any) -> Any:
    """How Click reads a value of a type."""
    if issubclass(single, Enum):
        return _Member(single)
    return click.Path(path_type=Path) if single is Path else single


def _list_or_none(ctx: click.Context, param: click.Parameter, value: tuple[Any, ...]) -> list[Any] | None:
    """Values of a parameter that may be repeated; None without any."""
    return list(value) or None
