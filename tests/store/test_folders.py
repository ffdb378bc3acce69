from studwell.store.summary import folder_names


def test_setups_whose_names_look_alike_get_folders_of_their_own():
    folders = folder_names(["a b", "a-b", "a, b", "A B!", "aux"])
    assert len(set(folders.values())) == 5
    assert folders["a b"] == "a-b" and folders["aux"] == "aux"
