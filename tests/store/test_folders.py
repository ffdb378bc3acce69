import os

import pytest

from studwell.errors import CannotWrite
from studwell.store.summary import folder_names
from studwell.store.writing import check_folder


def test_setups_whose_names_look_alike_get_folders_of_their_own():
    folders = folder_names(["a b", "a-b", "a, b", "A B!", "aux"])
    assert len(set(folders.values())) == 5
    assert folders["a b"] == "a-b" and folders["aux"] == "aux"


def test_a_folder_that_cannot_be_made_is_refused_as_that(tmp_path):
    if not os.path.isdir("/proc/self"):
        pytest.skip("no file system here that takes no folders")
    with pytest.raises(CannotWrite, match=r"^/proc/nope: this folder cannot be made in /proc") as found:
        check_folder("/proc/nope")
    assert "No such file" not in str(found.value)
    check_folder(tmp_path / "new" / "one")
    assert not list(tmp_path.iterdir())
