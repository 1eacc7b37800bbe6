"""Output files: written whole or not at all, and never over something without leave."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impact.base.files import OutputError, check_free, write


def test_write_new_file_has_the_content_and_leaves_nothing_beside(tmp_path: Path) -> None:
    write(tmp_path / "a.pdf", b"new")
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.pdf", b"new")]


def test_write_file_that_exists_is_refused_and_kept(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"old")
    with pytest.raises(OutputError, match="--force"):
        write(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"old"


def test_write_with_force_replaces_the_file(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"old")
    write(tmp_path / "a.pdf", b"new", force=True)
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.pdf", b"new")]


@pytest.mark.parametrize(
    "fault", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=["full", "interrupted"]
)
@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_write_that_breaks_off_leaves_the_old_file_whole(
    tmp_path: Path, step: str, fault: BaseException, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.pdf").write_bytes(b"old")

    def broken(*_: object) -> None:
        raise fault

    monkeypatch.setattr(os if step == "fsync" else Path, step, broken)
    with pytest.raises((OutputError, KeyboardInterrupt)) as caught:
        write(tmp_path / "a.pdf", b"new", force=True)
    monkeypatch.undo()
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.pdf", b"old")]
    if isinstance(fault, OSError):
        assert str(caught.value) == f"{tmp_path / 'a.pdf'} cannot be written: No space left on device"


def test_write_folder_in_the_way_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="is a folder; name a file"):
        write(tmp_path, b"new", force=True)


@pytest.mark.parametrize("force", [False, True])
def test_write_below_a_file_is_one_clear_line(tmp_path: Path, force: bool) -> None:
    (tmp_path / "notes").write_bytes(b"mine")
    with pytest.raises(OutputError) as caught:
        write(tmp_path / "notes" / "a.pdf", b"new", force=force)
    assert str(caught.value) == f"{tmp_path / 'notes' / 'a.pdf'}: there is no folder {tmp_path / 'notes'}"
    assert (tmp_path / "notes").read_bytes() == b"mine"


def test_write_name_too_long_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(OutputError) as caught:
        write(tmp_path / ("a" * 252 + ".pdf"), b"new")
    assert str(caught.value).endswith("cannot be written: File name too long")


def test_check_free_relative_name_looks_in_the_folder_at_hand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    check_free(Path("a.pdf"), force=False)
    (tmp_path / "a.pdf").write_bytes(b"")
    with pytest.raises(OutputError, match=r"a\.pdf exists already"):
        check_free(Path("a.pdf"), force=False)


@settings(max_examples=30)
@given(content=st.binary(max_size=200))
def test_write_any_bytes_come_back(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.mktemp("out") / "a"
    write(path, content)
    assert path.read_bytes() == content
