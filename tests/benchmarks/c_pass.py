"""One pass in C over the lines of a compiled menu, in one thread: what recomputing all dishes is held to.

It multiplies and adds floats and publishes nothing. Compiled here by the machine's C compiler.
"""

import ctypes
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from service.domain.compiled_menu import CompiledMenu

C_PASS = """
void pass(long first, long count, const long *starts, const int *children, const double *factors, const double *own,
          double *values) {
    for (long node = first; node < count; node++) {
        double sum = own[node];
        for (long edge = starts[node]; edge < starts[node + 1]; edge++) sum += factors[edge] * values[children[edge]];
        values[node] = sum;
    }
}
"""


class CPass:
    """The pass over one menu, the nodes in the sweep's order."""

    def __init__(self, menu: CompiledMenu) -> None:
        compiler = shutil.which("cc") or shutil.which("gcc")
        if compiler is None:
            raise SystemExit("a C compiler is needed for the pass that scenarios are held to: install cc or gcc")
        folder = Path(tempfile.mkdtemp())
        (folder / "pass.c").write_text(C_PASS)
        subprocess.run([compiler, "-O3", "-march=native", "-shared", "-fPIC", "-o", folder / "pass.so",
                        folder / "pass.c"], check=True)
        self._run = ctypes.CDLL(str(folder / "pass.so")).__getattr__("pass")
        shape, material = menu.compiled.shape, menu.compiled.material
        self._first, self._count = shape.prices, len(shape.order)
        self._parts = (np.append(shape.starts, len(shape.children)).astype(np.int64),
                       shape.children.astype(np.int32), material.coefficients, material.own_known)
        self._values = np.zeros(self._count)
        self._dishes = menu.compiled.dishes

    def food_costs(self, prices: "np.ndarray") -> "np.ndarray":
        """Floats, as they come."""
        self._values[:self._first] = prices
        self._run(ctypes.c_long(self._first), ctypes.c_long(self._count),
                  *(ctypes.c_void_p(part.ctypes.data) for part in (*self._parts, self._values)))
        return self._values[self._dishes]
