"""No more of a file is read than it may hold."""

import pytest

from lipmodel.errors import SceneError
from lipmodel.files import paths


def test_a_file_that_grows_while_it_is_read_is_not_followed(tmp_path):
    """One byte more than allowed is read, whatever the file's size says."""
    path = tmp_path / "growing"
    path.write_bytes(b"x" * 3000)
    assert paths.read_bytes(path, 3000, "x") == b"x" * 3000
    with pytest.raises(SceneError, match=r"expected what fits$"):
        paths.read_bytes(path, 2999, "what fits")
