"""Why recordings cannot lie behind a smaller file system (DEVELOPERS.md)."""

import errno

from test_store_littlefs import counted


def test_littlefs_refuses_a_device_that_is_larger_than_its_file_system(tmp_path):
    """Should this fail one day, the recordings can have a file system of their own."""
    found = counted(tmp_path, "littlefs_size_script.py")
    assert found["on_32"] == 0
    assert found["on_64"] == errno.EINVAL
