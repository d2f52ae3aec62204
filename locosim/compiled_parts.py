"""Functions compiled as parts of others: joined and optimized with each caller from Python, and never by themselves.

Numba by itself makes machine code of every function, optimized together with all that it calls, although only the few
functions that Python calls are ever run; the others are inlined in them. That took a third of the time to compile.
"""

from __future__ import annotations

from typing import Any

from numba.core import codegen, compiler
from numba.core.runtime import nrt

# Numba has no types.
_Codegen: Any = codegen
_llvm = _Codegen.ll
_memory: Any = vars(nrt)["_nrt"]
_Library: Any = _Codegen.JITCodeLibrary
_Compiler: Any = compiler.Compiler
_Result: Any = compiler.CompileResult

KIND = "part"  # marks a part among what numba stores
NEWEST_TRIED = (0, 68)  # numba; its insides, which this file builds on, may differ in a newer one


class Part(_Library):  # type: ignore[misc]
    """Code of a function for its callers, not yet optimized together with what it calls."""

    def finalize(self) -> None:
        """End the code of this function: any number of callers may have a copy of it."""
        for function in self._final_module.functions:
            if not function.is_declaration and function.linkage == _llvm.Linkage.external:
                function.linkage = "linkonce_odr"
        self._final_module.verify()
        self._finalize_dynamic_globals()
        self._finalized = True

    @property
    def codegen(self) -> Any:
        """What numba would set up for machine code, of which there is none."""
        return _NoMachineCode()

    def get_pointer_to_function(self, name: str) -> int:
        """Address of a function: none."""
        self._ensure_finalized()
        return 0

    def _get_module_for_linking(self) -> Any:
        self._ensure_finalized()
        return self._final_module

    def serialize_using_object_code(self) -> tuple[str, str, bytes]:
        """What is stored: this function and all that it calls."""
        module = self._final_module.clone()
        for each in callers_first([self])[1:]:
            module.link_in(each._get_module_for_linking(), preserve=True)
        return self.name, KIND, module.as_bitcode()

    @classmethod
    def from_stored(cls, generator: Any, name: str, code: bytes) -> Part:
        """A part as it was stored."""
        part = cls(generator, name)
        part._final_module = _llvm.parse_bitcode(code)
        part._finalized = True
        return part


class _NoMachineCode:
    def set_env(self, name: str, environment: Any) -> None:
        """Numba keeps Python objects there, which functions of scalars and arrays do not have."""
        assert not environment.consts, name


class Whole(_Library):  # type: ignore[misc]
    """Code of a function that Python calls, with all its parts."""

    def finalize(self) -> None:
        """Join the parts, optimize them together and make machine code."""
        self._linking_libraries[:] = callers_first(self._linking_libraries)
        super().finalize()

    def serialize_using_object_code(self) -> tuple[str, str, tuple[bytes, bytes]]:
        """What is stored: machine code, and the names it defines.

        Numba would store all code again for callers, of which there are none, and take it apart to find the names.
        """
        self._ensure_finalized()
        defined = self._get_module_for_linking()
        names = [
            *(
                f'define void @"{each.name}"() {{ ret void }}'
                for each in defined.functions
                if _is_defined(each)
            ),
            *(f'@"{each.name}" = global i8 0' for each in defined.global_variables if _is_defined(each)),
        ]
        code = _llvm.parse_assembly("\n".join(names)).as_bitcode()
        return self.name, "object", (self._get_compiled_object(), code)


def _is_defined(value: Any) -> bool:
    """Whether a module has the code of a function, or the place of a variable, under a name that others can use."""
    return not value.is_declaration and value.linkage not in (_llvm.Linkage.internal, _llvm.Linkage.private)


def callers_first(libraries: list[Any]) -> list[Any]:
    """Libraries and the parts that they call in turn, each once, behind all its callers.

    Code is joined only where something joined before calls it.
    """
    seen: set[Any] = set()
    found: list[Any] = []

    def visit(library: Any) -> None:
        if library not in seen:
            seen.add(library)
            for each in library._linking_libraries if isinstance(library, Part) else ():
                visit(each)
            found.append(library)

    for library in reversed(libraries):
        visit(library)
    return found[::-1]


def compilers(version: tuple[int, ...]) -> tuple[Any, Any]:
    """Compilers of functions that Python calls, and of parts.

    Both are the compiler of numba where its version is newer than any that was tried: the first run takes longer then.
    """
    if version[:2] > NEWEST_TRIED:
        return _Compiler, _Compiler
    return CompilerOfWholes, CompilerOfParts


class CompilerOfWholes(_Compiler):  # type: ignore[misc]
    """Numba's compiler, for a function that Python calls."""

    library_class: Any = Whole

    def compile_extra(self, function: Any) -> Any:
        """Compile a function."""
        self.state.library = self.library_class(self.state.targetctx.codegen(), function.__qualname__)
        self.state.library.enable_object_caching()
        return super().compile_extra(function)


class CompilerOfParts(CompilerOfWholes):
    """The same for a function that only compiled functions call."""

    library_class = Part


def load_stored(target: Any, stored: tuple[Any, ...]) -> Any:
    """The result of a compilation, from what numba stored of it.

    Args:
        target: Target of the compiler.
        stored: The code first, and what else numba stores.
    """
    name, kind, code = stored[0]
    if kind != KIND:
        return _Result._rebuild(target, *stored)
    part = Part.from_stored(target.codegen(), name, code)
    return _Result._rebuild(_TargetWithPart(target, part), *stored)._replace(target_context=target)


def provide_memory(target: Any, version: tuple[int, ...]) -> None:
    """Make known to machine code the functions that count references to arrays.

    Numba would besides compile those that it joins to other code, of which stored machine code has its own copies.
    """
    if version[:2] > NEWEST_TRIED:
        nrt.rtsys.initialize(target)
        return
    for name, address in _memory.c_helpers.items():
        _llvm.add_symbol(name if name.startswith("_") else f"NRT_{name}", address)


class _TargetWithPart:
    """A target that takes a part for the code stored, of which numba would make machine code."""

    def __init__(self, target: Any, part: Part) -> None:
        self._target, self._part = target, part

    def __getattr__(self, name: str) -> Any:
        return getattr(self._target, name)

    def codegen(self) -> _TargetWithPart:
        return self

    def unserialize_library(self, stored: object) -> Part:
        return self._part
