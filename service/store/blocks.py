"""How the occurrence records of one cell are packed into one value of the store.

Little-endian, whatever the machine, so that a store can be carried from one to another.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

RECORD = np.dtype(
    [
        ("longitude_e7", "<i4"),  # WGS84 degrees times ten million, about 1 cm
        ("latitude_e7", "<i4"),
        ("plant_no", "<u4"),
        ("dataset_no", "<u4"),
        ("terms_no", "<u4"),
        ("year", "<i2"),  # 0: not stated, or the record spans years
        ("uncertainty_m", "<f8"),  # not a number: not stated
    ]
)

Records = NDArray[np.void]
"""One-dimensional, of the layout ``RECORD``."""


def pack(records: Records) -> bytes:
    """Records as the store keeps them."""
    return records.astype(RECORD, copy=False).tobytes()


def unpack(packed: Sequence[bytes]) -> Records:
    """Records of several blocks, one after the other."""
    return np.frombuffer(b"".join(packed), dtype=RECORD)


def pack_keys(keys: Sequence[str]) -> str:
    """Record keys, a line each; a key holds no line end."""
    return "\n".join(keys)


def unpack_keys(packed: str) -> list[str]:
    """The keys that ``pack_keys`` joined."""
    return packed.split("\n")
