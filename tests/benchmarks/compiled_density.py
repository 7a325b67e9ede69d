"""The log density exactly as the sampler calls it, from Python: for equality and for its cost."""

import ctypes
import math
import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class CompiledDensity:
    """The compiled function of a model: unconstrained point to log density and gradient."""

    def __init__(self, compiled: Any) -> None:
        self._model = compiled
        self._call = compiled.compiled_logp_func.ctypes
        self.size: int = compiled.n_dim

    def __call__(self, point: Floats) -> tuple[float, Floats]:
        value, gradient = np.zeros(1), np.zeros(self.size)
        status = self._call(*self._arguments(np.ascontiguousarray(point), gradient, value))
        assert status == 0, status
        return float(value[0]), gradient

    def gradient_us(self, point: Floats, repeats: int = 5, least_s: float = 0.2) -> float:
        """Processor time of one gradient in microseconds, the best of several runs.

        Processor time, since that hardly feels other work on the machine.
        """
        value, gradient = np.zeros(1), np.zeros(self.size)
        arguments = self._arguments(np.ascontiguousarray(point), gradient, value)
        best, calls = math.inf, 1
        while repeats:
            began = time.process_time()
            for _ in range(calls):
                self._call(*arguments)
            spent = time.process_time() - began
            if spent < least_s:
                calls *= 2
                continue
            best, repeats = min(best, spent / calls), repeats - 1
        return best * 1e6

    def _arguments(self, point: Floats, gradient: Floats, value: Floats) -> tuple[Any, ...]:
        doubles = ctypes.POINTER(ctypes.c_double)
        return (
            self.size,
            point.ctypes.data_as(doubles),
            gradient.ctypes.data_as(doubles),
            value.ctypes.data_as(doubles),
            self._model.user_data.ctypes.data_as(ctypes.c_void_p),
        )
