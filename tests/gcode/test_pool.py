"""Memory of the pool comes back when the last view is gone, and never before."""

import numpy as np

from beadworth.gcode import read
from beadworth.gcode.pool import Pool


def test_memory_is_used_again_once_nobody_holds_it():
    pool = Pool()
    first = pool.empty((3, 1000))
    first[:] = 7.0
    place = first.ctypes.data
    view = first[1, 10:20]
    del first
    other = pool.empty((3, 1000))
    assert other.ctypes.data != place
    other[:] = 0.0
    assert (view == 7.0).all()
    del view
    assert pool.empty(2500, np.int32).ctypes.data == place


def test_arrays_are_as_asked():
    array = Pool().empty((5, 7), np.int32)
    assert (array.shape, array.dtype) == ((5, 7), np.int32)
    assert array.flags.c_contiguous
    assert array.flags.writeable
    assert Pool().empty(0).size == 0


def test_chunks_kept_keep_their_moves():
    text = "".join(f"G1 X{k} E1 F600\n" for k in range(1, 2001)).encode()
    kept = list(read(text, chunk_bytes=700))
    np.testing.assert_array_equal(np.concatenate([c.x for c in kept]), np.arange(1, 2001.0))
    np.testing.assert_array_equal(np.concatenate([c.line for c in kept]), np.arange(1, 2001))
