"""Names for the array types that records carry."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

U8: TypeAlias = NDArray[np.uint8]
U16: TypeAlias = NDArray[np.uint16]
U32: TypeAlias = NDArray[np.uint32]
I64: TypeAlias = NDArray[np.int64]
F32: TypeAlias = NDArray[np.float32]
F64: TypeAlias = NDArray[np.float64]
Bool: TypeAlias = NDArray[np.bool_]
