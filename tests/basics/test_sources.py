"""The hash of the package's own sources."""

from kerfwright.basics.sources import code_sha256, sources_sha256


def test_the_package_has_one_hash():
    assert len(code_sha256()) == 64
    assert code_sha256() == code_sha256()


def test_hash_follows_names_and_contents_only(tmp_path):
    def hash_of(**files):
        folder = tmp_path / str(len(list(tmp_path.iterdir())))
        for name, content in files.items():
            file = folder / name.replace("__", "/")
            file.parent.mkdir(parents=True, exist_ok=True)
            file.with_suffix(".py").write_bytes(content)
        (folder / "note.txt").write_bytes(b"no code")
        return sources_sha256(folder)

    first = hash_of(a=b"x = 1\n", b__c=b"y = 2\n")
    assert first == hash_of(b__c=b"y = 2\n", a=b"x = 1\n")
    assert first == hash_of(a=b"x = 1\r\n", b__c=b"y = 2\r\n")  # checked out on another system
    others = {
        hash_of(a=b"x = 1\n", b__c=b"y = 3\n"),
        hash_of(a=b"x = 1\n", b__d=b"y = 2\n"),
        hash_of(a=b"x = 1\ny = 2\n", b__c=b""),
        hash_of(a=b"x = 1\n"),
    }
    assert len(others | {first}) == 5
