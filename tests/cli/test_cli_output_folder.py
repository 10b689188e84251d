"""Files are written all or none, and nobody's files are overwritten unasked."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest

from wingpath.core.errors import OutputExistsError
from wingpath.io.build_output import is_output_name
from wingpath.io.leavings import lock_now, system_digits
from wingpath.io.output_folder import write_file, write_folder


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.fixture(autouse=True)
def build_once(cli_build: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is written is made once: these tests are about writing."""
    monkeypatch.setattr("wingpath.pipeline.full_build.build_wing", lambda *_a, **_k: cli_build)


@pytest.fixture
def earlier(small: Any, tmp_path: Path) -> Path:
    """An earlier build with a stranger's file and folder in it."""
    folder = tmp_path / "out"
    shutil.copytree(small.folder, folder)
    (folder / "panel-9-left.stl").write_text("of a wing with nine panels")
    (folder / "layers.csv").write_text("older")
    (folder / "my notes.txt").write_text("do not touch")
    (folder / "photos").mkdir()
    (folder / "photos" / "maiden.jpg").write_bytes(b"\xff\xd8")
    return folder


def no_leavings(folder: Path) -> bool:
    return not [path for path in folder.iterdir() if path.name.startswith(".wingpath")]


def test_an_earlier_build_stays_without_force(cli: Any, small: Any, earlier: Path) -> None:
    before = contents(earlier)
    ran = cli("build", small.spec, "-o", earlier)
    assert ran.status == 2
    assert ran.out == ""
    assert "--force" in ran.err
    assert contents(earlier) == before


def test_force_replaces_our_files_and_keeps_a_strangers(cli: Any, small: Any, earlier: Path) -> None:
    ran = cli("build", small.spec, "-o", earlier, "--force", "--no-strength")
    assert ran.status == 0
    after = contents(earlier)
    assert after["my notes.txt"] == b"do not touch"
    assert after["photos/maiden.jpg"] == b"\xff\xd8"
    assert after["layers.csv"].startswith(b"panel,layer,")
    assert "panel-9-left.stl" not in after
    assert no_leavings(earlier.parent)


def test_an_empty_folder_is_taken_without_force(cli: Any, small: Any, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert cli("build", small.spec, "-o", tmp_path / "empty").status == 0
    assert (tmp_path / "empty" / "report.json").is_file()


def test_missing_parents_are_made(cli: Any, small: Any, tmp_path: Path) -> None:
    assert cli("build", small.spec, "-o", tmp_path / "a" / "b" / "c").status == 0
    assert (tmp_path / "a" / "b" / "c" / "layers.csv").is_file()


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_a_file_in_the_place_of_the_folder(cli: Any, small: Any, tmp_path: Path, force: list[str]) -> None:
    (tmp_path / "out").write_text("a file")
    ran = cli("build", small.spec, "-o", tmp_path / "out", *force)
    assert ran.status == 2
    assert "is not a folder" in ran.err
    assert (tmp_path / "out").read_text() == "a file"


def test_a_folder_under_a_file(cli: Any, small: Any, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    ran = cli("build", small.spec, "-o", tmp_path / "out" / "deeper")
    assert ran.status == 3
    assert (tmp_path / "out").read_text() == "a file"


def no_exchange(*_a: object) -> bool:
    """As on a system or a disk where two folders cannot change places at once."""
    return False


def full_disk(*_a: object, **_k: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_disk_that_fills_half_way_changes_nothing(
    cli: Any, small: Any, earlier: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(earlier)
    # meshes are written by then, the table is not
    monkeypatch.setattr("wingpath.io.build_output.layers_csv", full_disk)
    ran = cli("build", small.spec, "-o", earlier, "--force", "--no-strength")
    assert ran.status == 3
    assert ran.out == ""
    assert "the disk is full" in ran.err
    assert str(earlier) in ran.err
    assert "nothing was changed" in ran.err
    assert contents(earlier) == before
    assert no_leavings(earlier.parent)


def test_a_disk_that_fills_half_way_leaves_no_new_folder(
    cli: Any, small: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wingpath.io.build_output.layers_csv", full_disk)
    assert cli("build", small.spec, "-o", tmp_path / "new").status == 3
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("swap", "moves"), [("at once", 3), ("in two", 6)])
@pytest.mark.parametrize("which", range(8))
def test_a_failing_move_puts_everything_back(
    cli: Any,
    small: Any,
    earlier: Path,
    monkeypatch: pytest.MonkeyPatch,
    which: int,
    swap: str,
    moves: int,
) -> None:
    """Moves: the new folder to be kept, two things of a stranger; where folders cannot change places, also
    the new one back, the old one aside and the new one in place.
    """
    before = contents(earlier)
    if swap == "in two":
        monkeypatch.setattr("wingpath.io.output_folder.exchange", no_exchange)
    real, calls = os.rename, [0]

    def rename(source: Any, target: Any) -> None:
        calls[0] += 1
        if calls[0] == which + 1:
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        real(source, target)

    monkeypatch.setattr("wingpath.io.output_folder.os.rename", rename)
    ran = cli("build", small.spec, "-o", earlier, "--force", "--no-strength")
    if which < moves:
        assert ran.status == 3
        assert "Permission denied" in ran.err
        assert contents(earlier) == before
    else:
        assert ran.status == 0
        assert calls[0] == moves
    assert no_leavings(earlier.parent)


@pytest.mark.parametrize("swap", ["at once", "in two"])
def test_an_interrupt_between_two_moves_puts_everything_back(
    cli: Any, small: Any, earlier: Path, monkeypatch: pytest.MonkeyPatch, swap: str
) -> None:
    before = contents(earlier)
    if swap == "in two":
        monkeypatch.setattr("wingpath.io.output_folder.exchange", no_exchange)
    real, calls = os.rename, [0]

    def rename(source: Any, target: Any) -> None:
        calls[0] += 1
        if calls[0] == 2:
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr("wingpath.io.output_folder.os.rename", rename)
    ran = cli("build", small.spec, "-o", earlier, "--force", "--no-strength")
    assert ran.status == 130
    assert "stopped" in ran.err
    assert contents(earlier) == before
    assert no_leavings(earlier.parent)


def test_a_place_where_nothing_may_be_made(
    cli: Any, small: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in a folder that is read-only; the super user of a test machine may write everywhere."""

    def forbidden(*_a: object, **_k: object) -> str:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(tempfile, "mkdtemp", forbidden)
    ran = cli("build", small.spec, "-o", tmp_path / "out")
    assert ran.status == 3
    assert "Permission denied" in ran.err
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(tempfile, "mkstemp", forbidden)
    ran = cli("new", tmp_path / "wing.toml")
    assert ran.status == 3
    assert "Permission denied" in ran.err
    assert list(tmp_path.iterdir()) == []


DEAD = f"abcd1234-{system_digits()}"
"""End of the name of what a run of this system has left behind; nobody holds it."""


def test_what_a_killed_run_moved_aside_comes_back(cli: Any, small: Any, tmp_path: Path) -> None:
    aside = tmp_path / f".wingpath-part-out-build-{DEAD}-old"
    aside.mkdir()
    (aside / "my notes.txt").write_text("do not touch")
    (aside / "report.json").write_text("older")
    other = tmp_path / f".wingpath-part-out-2-build-{DEAD}-old"
    other.mkdir()
    ran = cli("build", small.spec, "-o", tmp_path / "out", "--no-strength")
    assert ran.status == 2
    assert (tmp_path / "out" / "my notes.txt").read_text() == "do not touch"
    assert cli("build", small.spec, "-o", tmp_path / "out", "--force", "--no-strength").status == 0
    assert (tmp_path / "out" / "my notes.txt").read_text() == "do not touch"
    # that one belongs to the folder out-2
    assert other.is_dir()


def test_leavings_of_the_dead_are_cleared_and_strangers_files_rescued(
    cli: Any, small: Any, tmp_path: Path
) -> None:
    (tmp_path / "out").mkdir()
    held = tmp_path / f".wingpath-part-out-build-living00-{system_digits()}"
    ended = [
        tmp_path / f".wingpath-part-{name}-{DEAD}" for name in ("out-build", "other-coupon", "out-pictures")
    ]
    for folder in (held, *ended, tmp_path / f".wingpath-part-out-build-{DEAD}-old"):
        folder.mkdir()
        (folder / "panel-1-left.stl").write_text("half")
    (tmp_path / f".wingpath-part-out-build-{DEAD}-old" / "my notes.txt").write_text("do not touch")
    (tmp_path / f".wingpath-part-{DEAD}").write_text("half a file")
    # as a folder of another computer that shares this disk, now and long ago
    away = tmp_path / ".wingpath-part-out-build-abcd1234-ffffffff"
    away.mkdir()
    handle = os.open(held, os.O_RDONLY)
    assert lock_now(handle)
    try:
        assert cli("build", small.spec, "-o", tmp_path / "out", "--force", "--no-strength").status == 0
    finally:
        os.close(handle)
    assert (tmp_path / "out" / "my notes.txt").read_text() == "do not touch"
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([away.name, held.name, "out"])
    assert cli("new", tmp_path / "wing.toml").status == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([away.name, "out", "wing.toml"])


def test_leavings_of_another_system_go_when_they_are_old(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    away = tmp_path / ".wingpath-part-out-build-abcd1234-ffffffff"
    away.mkdir()
    monkeypatch.setattr("wingpath.io.leavings.STALE_S", -1.0)
    assert cli("new", tmp_path / "wing.toml").status == 0
    assert [path.name for path in tmp_path.iterdir()] == ["wing.toml"]


def test_only_the_kind_that_wrote_them_knows_a_users_files(cli: Any, small: Any, tmp_path: Path) -> None:
    """A coupon must not take panels, which an earlier build had left aside, for files of the user."""
    shutil.copytree(small.folder, tmp_path / "out")
    aside = tmp_path / f".wingpath-part-out-coupon-{DEAD}-old"
    aside.mkdir()
    (aside / "coupon.stl").write_text("older")
    assert cli("build", small.spec, "-o", tmp_path / "out", "--force", "--no-strength").status == 0
    assert not (tmp_path / "out" / "coupon.stl").exists()
    assert aside.is_dir()


@pytest.mark.parametrize(
    ("name", "ours"),
    [
        ("panel-1-left.stl", True),
        ("panel-12-right.3mf", True),
        ("layers.csv", True),
        ("report.json", True),
        ("drawing.pdf", True),
        ("my drawing.pdf", False),
        ("panel-1-left.stl.bak", False),
        ("panel-x-left.stl", False),
        ("my layers.csv", False),
        ("spec.toml", False),
    ],
)
def test_which_names_are_ours(name: str, ours: bool) -> None:
    assert is_output_name(name) is ours


def test_what_another_run_puts_there_meanwhile_stays(tmp_path: Path) -> None:
    folder = tmp_path / "out"

    def slow(fresh: Path) -> None:
        (fresh / "layers.csv").write_text("mine")
        folder.mkdir()
        (folder / "layers.csv").write_text("of the other run")

    with pytest.raises(OutputExistsError):
        write_folder(folder, slow, force=False, ours=is_output_name, kind="build")
    assert contents(folder) == {"layers.csv": b"of the other run"}
    assert no_leavings(tmp_path)


@pytest.mark.parametrize("option", ["--csv", "--picture"])
def test_a_place_that_is_not_there_is_told_before_anything_is_judged(
    cli: Any, small: Any, tmp_path: Path, option: str
) -> None:
    ran = cli("check", small.folder / "panel-1-left.stl", option, tmp_path / "nowhere" / "x.png")
    assert ran.status == 3
    assert "its folder does not exist" in ran.err
    assert "panel-1-left.stl:" not in ran.err


@pytest.mark.parametrize("command", ["new", "check"])
def test_a_name_too_long_for_the_disk_is_refused_in_one_line(
    cli: Any, small: Any, tmp_path: Path, command: str
) -> None:
    long = tmp_path / ("x" * 300)
    words = [long] if command == "new" else [small.folder / "panel-1-left.stl", "--csv", long]
    ran = cli(command, *words)
    assert ran.status == 3
    assert "cannot be used" in ran.err
    assert "fault" not in ran.err


def test_a_link_to_itself_is_no_mesh(cli: Any, tmp_path: Path) -> None:
    loop = tmp_path / "loop.stl"
    loop.symlink_to(loop)
    ran = cli("check", loop, "--csv", tmp_path / "out.csv")
    assert ran.status == 3
    assert "fault" not in ran.err


def test_a_table_may_hold_a_name_that_is_not_utf8(tmp_path: Path) -> None:
    write_file(tmp_path / "table.csv", "panel\n\udcff\n", force=False)
    assert (tmp_path / "table.csv").read_bytes() == b"panel\n?\n"


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps no such modes")
@pytest.mark.parametrize(("mask", "folder_mode", "file_mode"), [(0o022, 0o755, 0o644), (0o077, 0o700, 0o600)])
def test_outputs_are_for_those_whom_the_users_mask_allows(
    tmp_path: Path, mask: int, folder_mode: int, file_mode: int
) -> None:
    before = os.umask(mask)
    try:
        write_file(tmp_path / "one.csv", "a,b", force=False)
        write_folder(
            tmp_path / "out", lambda home: (home / "x").write_text("y"), force=False, ours=bool, kind="build"
        )
        assert os.umask(mask) == mask
    finally:
        os.umask(before)
    modes = [
        path.stat().st_mode & 0o777
        for path in (tmp_path / "one.csv", tmp_path / "out", tmp_path / "out" / "x")
    ]
    assert modes == [file_mode, folder_mode, file_mode]
