# mypy: allow-untyped-defs
"""Maximum of two numbers in a form that compilers turn into vector code.

numba writes `max` and `a if a > b else b` as a comparison and a choice, which LLVM does not recognise as a
running maximum; its own instruction for it does, and a pass over a profile takes a third of the time.
"""

from __future__ import annotations

from llvmlite import ir  # type: ignore[import-untyped]  # comes with numba
from numba import types
from numba.extending import intrinsic, overload


def larger(a: float, b: float) -> float:
    """The larger of two floats, neither of them NaN."""
    return a if a > b else b


@intrinsic
def _llvm_larger(typing_context, a, b):
    double = ir.DoubleType()

    def call(context, builder, signature, arguments):
        function = builder.module.declare_intrinsic(
            "llvm.maxnum", [double], ir.FunctionType(double, [double, double])
        )
        return builder.call(function, arguments, fastmath=("nnan", "nsz"))

    return types.float64(types.float64, types.float64), call


@overload(larger)
def _compiled_larger(a, b):
    return lambda a, b: _llvm_larger(a, b)
