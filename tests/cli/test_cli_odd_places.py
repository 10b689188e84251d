"""Outputs that no folder can be, inputs that are no files, and searches that meet each other."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import tempfile
from pathlib import Path
from typing import Any

import pytest

from wingpath.core.errors import FileAccessError, InputError, OutputExistsError
from wingpath.io.journal import Journal
from wingpath.io.leavings import system_digits
from wingpath.io.lightened_output import (
    EARLIER_NAME,
    JOURNAL_NAME,
    begin_lightened_folder,
    leave_lightened_folder,
    write_lightened_files,
)
from wingpath.io.output_folder import reason, write_file, write_folder
from wingpath.io.step import _why_not as why_not

WING = "5f1e"

COUPON = ("tune", "--temperatures", "none", "-o")


def filled(folder: Path) -> None:
    (folder / "a.csv").write_text("a")


def write(folder: Path, *, force: bool = False) -> None:
    write_folder(folder, filled, force=force, ours=lambda name: name == "a.csv", kind="build")


def test_the_current_folder_is_not_replaced_under_its_user(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my notes.txt").write_text("do not touch")
    for place in (".", tmp_path):
        ran = cli(*COUPON, place, "--force")
        assert ran.status == 2
        assert "the folder that the command runs in" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["my notes.txt"]
    assert os.listdir(os.curdir) == ["my notes.txt"]


def test_a_whole_disk_is_refused_before_anything_is_made(cli: Any) -> None:
    ran = cli(*COUPON, "/", "--force")
    assert ran.status == 2
    assert "whole disk" in ran.err
    assert "coupon:" not in ran.err


@pytest.mark.parametrize("leads", ["nowhere", "real"])
def test_a_link_is_not_replaced(cli: Any, tmp_path: Path, leads: str) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(leads)
    ran = cli(*COUPON, tmp_path / "link", "--force")
    assert ran.status == 2
    assert "is a link" in ran.err
    assert os.readlink(tmp_path / "link") == leads


def test_a_way_up_and_down_again(tmp_path: Path) -> None:
    (tmp_path / "a" / "b").mkdir(parents=True)
    write(tmp_path / "a" / "b" / ".." / "c")
    assert (tmp_path / "a" / "c" / "a.csv").is_file()
    (tmp_path / "a" / "mine.txt").write_text("mine")
    write(tmp_path / "a" / "b" / "..", force=True)
    assert sorted(path.name for path in (tmp_path / "a").iterdir()) == ["a.csv", "b", "c", "mine.txt"]
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize("name", ["y" * 255, os.fsdecode(b"not-utf8-\xff"), "-o", "new\nline"])
def test_any_name_that_the_disk_allows(tmp_path: Path, name: str) -> None:
    write(tmp_path / name)
    aside = tmp_path / "aside"
    write(tmp_path / name, force=True)
    assert os.listdir(tmp_path) == [name]
    assert not aside.exists()


def test_a_name_that_is_too_long_is_no_fault(cli: Any, tmp_path: Path) -> None:
    for words in (COUPON, ("lighten", "examples/fescue-340/spec.toml", "--resume", "-o")):
        ran = cli(*words, tmp_path / ("x" * 300))
        assert ran.status in (2, 3)
        assert "fault" not in ran.err


def test_parents_that_were_made_go_again_when_nothing_could_be_written(tmp_path: Path) -> None:
    def fails(_folder: Path) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(FileAccessError, match="the disk is full"):
        write_folder(tmp_path / "a" / "b", fails, force=False, ours=bool, kind="build")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("check",), ("tune", "--read"), ("build",)])
def test_commands_that_read_put_back_what_a_killed_run_had_moved_aside(
    cli: Any, small: Any, coupon_folder: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    aside = tmp_path / f".wingpath-part-out-build-abcd1234-{system_digits()}-old"
    shutil.copytree(small.folder, aside)
    shutil.copy(coupon_folder / "measurements.toml", aside)
    name = "panel-1-left.stl" if words == ("check",) else "measurements.toml"
    ran = cli(*words, tmp_path / "out" / name)
    # the measurements are not filled in, and are no spec
    assert ran.status == (0 if words == ("check",) else 2)
    assert "no such file" not in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "words", [("build", "p.toml"), ("check", "p.stl"), ("check", "p.gcode"), ("tune", "--read", "p.toml")]
)
def test_a_pipe_to_which_nobody_writes_is_refused(
    cli: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo(words[-1])
    ran = cli(*words)
    assert ran.status == 3
    assert "not a" in ran.err


def test_an_airfoil_that_is_a_pipe_is_refused(cli: Any, small_spec: str, tmp_path: Path) -> None:
    (tmp_path / "wing.toml").write_text(small_spec.replace('"naca2412"', '"pipe.dat"'))
    os.mkfifo(tmp_path / "pipe.dat")
    ran = cli("build", tmp_path / "wing.toml")
    assert ran.status in (2, 3)
    assert "pipe.dat" in ran.err
    assert "fault" not in ran.err


def test_a_file_that_another_run_wrote_meanwhile_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "mine.toml"
    real = os.chmod

    def slow(*given: Any) -> None:
        real(*given)
        path.write_text("of the other run")

    monkeypatch.setattr("wingpath.io.output_folder.os.chmod", slow)
    with pytest.raises(OutputExistsError):
        write_file(path, "ours", force=False)
    assert path.read_text() == "of the other run"
    assert [one.name for one in tmp_path.iterdir()] == ["mine.toml"]


def test_a_folder_that_somebody_holds_is_told_in_the_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from wingpath.io.leavings import lock_now

    monkeypatch.setattr("wingpath.io.leavings.LONGEST_WAIT_S", 0.05)
    handle = os.open(tmp_path, os.O_RDONLY)
    assert lock_now(handle)
    try:
        with pytest.raises(FileAccessError, match="another program has been holding"):
            write_file(tmp_path / "wing.toml", "ours", force=False)
    finally:
        os.close(handle)
    assert list(tmp_path.iterdir()) == []


def test_two_searches_do_not_write_one_journal(tmp_path: Path) -> None:
    journal = begin_lightened_folder(tmp_path / "lighter", force=False, resume=False)
    with Journal(journal, wing=WING) as first:
        first.append("a", "judged", {"n": 1})
        before = journal.read_bytes()
        with pytest.raises(OutputExistsError, match="another search"), Journal(journal, wing=WING):
            pass
        with pytest.raises(OutputExistsError, match="another search"):
            begin_lightened_folder(tmp_path / "lighter", force=True, resume=False)
        leave_lightened_folder(tmp_path / "lighter")
        assert journal.read_bytes() == before
        first.append("b", "judged", {"n": 2})
    with Journal(journal, wing=WING) as second:
        assert len(second.earlier.entries) == 2


def test_the_journal_of_a_search_that_is_replaced_stays_until_the_new_results(tmp_path: Path) -> None:
    folder = tmp_path / "lighter"
    folder.mkdir()
    (folder / JOURNAL_NAME).write_text("hours of work")
    (folder / "lightest.toml").write_text("of those hours")
    # one that is stopped by wrong input takes nothing away
    journal = begin_lightened_folder(folder, force=True, resume=False)
    assert not journal.exists()
    leave_lightened_folder(folder)
    assert journal.read_text() == "hours of work"
    # one that is killed, and the next one that is killed too
    for _ in range(2):
        begin_lightened_folder(folder, force=True, resume=False)
        journal.write_text("a second of work")
        assert (folder / EARLIER_NAME).read_text() == "hours of work"
    write_lightened_files(folder, {"lightest.toml": "new"})
    assert {path.name: path.read_text() for path in folder.iterdir()} == {
        JOURNAL_NAME: "a second of work",
        "lightest.toml": "new",
    }


def test_wrong_input_does_not_cost_an_earlier_search_its_journal(
    cli: Any, small_spec: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_a: object, **_k: object) -> None:
        raise InputError("targets: got none")

    monkeypatch.setattr("wingpath.lighten.lightening.lighten_wing", refused)
    (tmp_path / "wing.toml").write_text(small_spec)
    folder = tmp_path / "wing-lighter"
    folder.mkdir()
    (folder / JOURNAL_NAME).write_text("hours of work")
    ran = cli("lighten", tmp_path / "wing.toml", "--force")
    assert ran.status == 2
    assert (folder / JOURNAL_NAME).read_text() == "hours of work"


def test_why_the_cad_kernel_could_not_write_is_told(tmp_path: Path) -> None:
    """The kernel says only that it could not; on /dev/full every write finds no room, see full(4)."""
    error = why_not(Path("/dev/full"))
    assert error is not None
    assert error.errno == errno.ENOSPC
    assert "the disk is full" in reason(error)

    def fails(_folder: Path) -> None:
        raise FileAccessError("/somewhere/else: could not be written") from error

    with pytest.raises(FileAccessError, match=r"out: could not be written \(the disk is full"):
        write_folder(tmp_path / "out", fails, force=False, ours=bool, kind="build")
    assert why_not(tmp_path / "free") is None


@pytest.mark.parametrize("makes", ["mkstemp", "mkdtemp"])
def test_an_interrupt_while_a_part_is_being_made_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, makes: str
) -> None:
    """It comes when the part is there, but nobody knows its name yet."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    real = getattr(tempfile, makes)

    def interrupted(*given: Any, **more: Any) -> Any:
        made = real(*given, **more)
        signal.raise_signal(signal.SIGINT)
        return made

    def run() -> None:
        if makes == "mkdtemp":
            write(tmp_path / "out")
        write_file(tmp_path / "wing.toml", "ours", force=False)

    monkeypatch.setattr(tempfile, makes, interrupted)
    try:
        with pytest.raises(KeyboardInterrupt):
            run()
    finally:
        signal.signal(signal.SIGINT, before)
    assert list(tmp_path.iterdir()) == []
