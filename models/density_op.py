"""A compiled log density, with its gradient, as an operation of a PyMC model."""

from collections.abc import Callable
from typing import Any, ClassVar

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import DisconnectedType
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op


class DensityOp(Op):  # type: ignore[misc]  # PyTensor ships no types
    """``core`` of some parameters and one packed data vector, which comes last.

    ``core`` returns the log density and its derivatives by each of the ``parameters`` first
    arguments. The derivatives are further outputs; only the first output may be differentiated,
    which is all a gradient-based sampler needs. A subclass names both and registers its compiled
    form, which PyTensor keeps by the subclass.
    """

    __props__ = ()
    parameters: ClassVar[int]
    core: ClassVar[Callable[..., Any]]

    def make_node(self, *inputs: Any) -> Apply:
        """Return the application of the operation to its parameters and the packed data."""
        variables = [pt.as_tensor_variable(i) for i in inputs]
        derivatives = [v.type() for v in variables[: self.parameters]]
        return Apply(self, variables, [pt.dscalar(), *derivatives])

    def perform(self, node: Apply, inputs: Any, outputs: Any) -> None:
        """Evaluate with NumPy arrays."""
        for slot, value in zip(outputs, self.core(*inputs), strict=True):
            slot[0] = np.asarray(value)

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        """Return the derivative of a cost by the inputs."""
        if not all(isinstance(c.type, DisconnectedType) for c in cotangents[1:]):
            msg = "only the log density can be differentiated, not its derivatives"
            raise NotImplementedError(msg)
        return [*(cotangents[0] * d for d in outputs[1:]), DisconnectedType()()]

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Say that data carry no gradient."""
        return [[i < self.parameters] * len(node.outputs) for i in range(len(node.inputs))]
