"""Memory of the pool comes back when the last view is gone, and never before."""

import threading

import numpy as np

from beadworth.gcode import read
from beadworth.gcode.pool import Pool

LARGE = 100_000


def test_memory_is_used_again_once_nobody_holds_it():
    pool = Pool()
    first = pool.empty((3, LARGE))
    first[:] = 7.0
    place = first.ctypes.data
    view = first[1, 10:20]
    del first
    other = pool.empty((3, LARGE))
    assert other.ctypes.data != place
    other[:] = 0.0
    assert (view == 7.0).all()
    del view
    assert pool.empty(5 * LARGE, np.int32).ctypes.data == place


def test_arrays_are_as_asked():
    for shape in ((5, 7), (50, LARGE)):
        array = Pool().empty(shape, np.int32)
        assert (array.shape, array.dtype) == (shape, np.int32)
        assert array.flags.c_contiguous
        assert array.flags.writeable
    assert Pool().empty(0).size == 0
    assert (Pool().full((2, LARGE), 3.0) == 3.0).all()


def test_no_more_is_kept_than_may_lie_unused():
    pool = Pool(kept_bytes=3 * 8 * LARGE)
    held = [pool.empty(LARGE) for _ in range(5)]
    places = {array.ctypes.data for array in held}
    del held
    again = [pool.empty(LARGE) for _ in range(2)]
    assert {array.ctypes.data for array in again} <= places
    assert sum(block.size for block in pool._free) < 8 * LARGE


def test_threads_never_share_a_block():
    pool, faults = Pool(), []

    def work(mark):
        for _ in range(300):
            array = pool.empty(LARGE // 8)
            array[:] = mark
            if not (array == mark).all():
                faults.append(mark)

    threads = [threading.Thread(target=work, args=(float(k),)) for k in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


def test_chunks_kept_keep_their_moves():
    text = "".join(f"G1 X{k} E1 F600\n" for k in range(1, 2001)).encode()
    kept = list(read(text, chunk_bytes=700))
    np.testing.assert_array_equal(np.concatenate([c.x for c in kept]), np.arange(1, 2001.0))
    np.testing.assert_array_equal(np.concatenate([c.line for c in kept]), np.arange(1, 2001))


def test_large_chunks_kept_keep_their_moves():
    text = "".join(f"G1 X{k} E1 F600\n" for k in range(1, 120_001)).encode()
    kept = list(read(text, chunk_bytes=1 << 19))
    np.testing.assert_array_equal(np.concatenate([c.x for c in kept]), np.arange(1, 120_001.0))
    np.testing.assert_array_equal(np.concatenate([c.line for c in kept]), np.arange(1, 120_001))
