"""A short slice of the campaign of faults: processes that are killed, stopped, or cannot write.

The long one is `python tests/campaigns/faults.py`.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from fault_lighten import ENDS_WITHIN_S, alive, wait_gone
from fault_runs import START, contents, leavings

from wingpath.io.output_folder import refuse_taken_folder, write_folder
from wingpath.io.reading import open_plain

HERE = Path(__file__).resolve().parent
MOST_STEPS = 60
"""A run that replaces a folder of three files makes some twenty changes on the disk."""

FILES = {"a.csv": "new a", "b.csv": "new b"}

REPLACE = """\
import sys
sys.path[:0] = [{here!r}]
import wingpath.io.output_folder as writing
from wingpath.cli.interrupts import interrupted_status, remembered_interrupts
from fault_runs import strike_at
from pathlib import Path
if {swap!r} == "in two":
    writing.exchange = lambda *_: False
def fill(folder):
    for name, text in {files!r}.items():
        (folder / name).write_text(text)
strike_at({step}, {number})()
try:
    with remembered_interrupts():
        writing.write_folder(
            Path({folder!r}), fill, force=True, ours=lambda name: name.endswith(".csv"), kind="build"
        )
except KeyboardInterrupt:
    sys.exit(interrupted_status())
"""


def python(code: str, *words: str, **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # type: ignore[call-overload, no-any-return]
        [sys.executable, "-c", code, *words], capture_output=True, text=True, timeout=120, **more
    )


def is_csv(name: str) -> bool:
    return name.endswith(".csv")


def earlier(home: Path) -> Path:
    folder = home / "out"
    (folder / "photos").mkdir(parents=True)
    for name in ("a.csv", "old.csv", "my notes.txt", "photos/maiden.jpg"):
        (folder / name).write_text(f"old {name}")
    return folder


def replaced(home: Path) -> dict[str, str]:
    """What the folder holds when nothing goes wrong."""
    folder = earlier(home)
    write_folder(folder, write_new, force=True, ours=is_csv, kind="build")
    return contents(folder)


def write_new(folder: Path) -> None:
    for name, text in FILES.items():
        (folder / name).write_text(text)


@pytest.mark.parametrize("swap", ["at once", "in two"])
def test_a_run_that_is_killed_at_any_step_loses_nothing(tmp_path: Path, swap: str) -> None:
    """Right after it the folder is as before or new; after the next run it is as if nothing had been."""
    whole = replaced(tmp_path / "whole")
    came_through = nameless = 0
    for step in range(1, MOST_STEPS):
        home = tmp_path / str(step)
        before = contents(earlier(home))
        folder = home / "out"
        code = REPLACE.format(
            here=str(HERE), swap=swap, files=FILES, step=step, number=int(signal.SIGKILL), folder=str(folder)
        )
        ran = python(code)
        came_through = ran.returncode == 0
        if came_through:
            break
        assert ran.returncode == -signal.SIGKILL, ran.stderr
        if swap == "in two" and not folder.exists():
            nameless += 1
            # any command that reads there puts it back
            open_plain(folder / "my notes.txt").close()
            assert contents(folder) == before
        now = contents(folder)
        fresh = {name: digest for name, digest in whole.items() if name in FILES}
        assert now == before or fresh.items() <= now.items() <= whole.items()
        refuse_taken_folder(folder, force=True)
        write_folder(folder, write_new, force=True, ours=is_csv, kind="build")
        assert contents(folder) == whole
        assert leavings(home) == []
    assert came_through
    # where folders change places at once there is no such moment, elsewhere there is one
    assert nameless == (swap == "in two")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("swap", ["at once", "in two"])
def test_a_run_that_is_asked_to_end_is_tidy_at_once(
    tmp_path: Path, swap: str, number: signal.Signals
) -> None:
    whole = replaced(tmp_path / "whole")
    for step in range(1, MOST_STEPS, 2):
        home = tmp_path / str(step)
        before = contents(earlier(home))
        code = REPLACE.format(
            here=str(HERE), swap=swap, files=FILES, step=step, number=int(number), folder=str(home / "out")
        )
        # a background job of a shell is deaf to interrupts, and so would be what it starts
        ran = python(f"import signal; signal.signal(2, signal.default_int_handler)\n{code}")
        assert ran.returncode in (0, 128 + number), ran.stderr
        assert contents(home / "out") in (before, whole)
        assert leavings(home) == []
        if ran.returncode == 0:
            break


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_a_build_that_is_asked_to_end_says_so(tmp_path: Path, number: signal.Signals, status: int) -> None:
    spec = tmp_path / "long.toml"
    spec.write_text("[[station]]\nspan_mm = 0\nchord_mm = 300\n[[station]]\nspan_mm = 1200\nchord_mm = 300\n")
    running = subprocess.Popen(
        # a signal that the one who runs the tests ignores, as nohup does, would be ignored here too
        [
            *(sys.executable, "-u", "-c"),
            f"import signal; signal.signal({int(number)}, signal.SIG_DFL); {START}",
            *("build", str(spec)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert running.stderr is not None
    running.stderr.readline()
    running.send_signal(number)
    out, rest = running.communicate(timeout=120)
    assert running.returncode == status
    assert out == ""
    assert "Traceback" not in rest
    assert "wingpath: stopped" in rest
    assert [path.name for path in tmp_path.iterdir()] == ["long.toml"]


WORKERS = """\
import os, sys, time
from wingpath.lighten.engine import open_engine
def sleepy(_):
    print(os.getpid(), flush=True)
    time.sleep(100)
with open_engine("processes", processes=2) as engine:
    list(engine.run(sleepy, [1, 2]))
"""


def test_workers_end_with_the_one_they_work_for(tmp_path: Path) -> None:
    running = subprocess.Popen([sys.executable, "-c", WORKERS], stdout=subprocess.PIPE, text=True)
    assert running.stdout is not None
    pids = [int(running.stdout.readline()) for _ in range(2)]
    began = [Path("/proc", str(pid), "stat").read_text().rpartition(")")[2].split()[19] for pid in pids]
    workers = dict(zip(pids, began, strict=True))
    assert alive(workers) == pids
    running.kill()
    running.wait(timeout=60)
    left, _ = wait_gone(workers, 6.0 * ENDS_WITHIN_S)
    running.stdout.close()
    assert left == []


LIMITED = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000)); {START}"
"""Files of a kilobyte at most, as on a disk that fills half-way."""


@pytest.mark.parametrize("force", [False, True])
def test_a_file_that_finds_no_room_changes_nothing(tmp_path: Path, force: bool) -> None:
    if force:
        (tmp_path / "wing.toml").write_text("mine")
    words = ["new", "wing.toml", *(["--force"] if force else [])]
    ran = python(LIMITED, *words, cwd=tmp_path)
    assert ran.returncode == 3
    assert "wing.toml" in ran.stderr
    assert "too large" in ran.stderr
    assert "Traceback" not in ran.stderr
    assert [path.read_text() for path in tmp_path.iterdir()] == (["mine"] if force else [])


SHELLS = {
    ">&-": (3, ""),
    "2>&-": (0, "Wrote"),
    "2>/dev/full": (0, "Wrote"),
    ">/dev/full": (3, ""),
    "<&- >&- 2>&-": (3, ""),
    ">/dev/full 2>&1": (3, ""),
}


@pytest.mark.parametrize("shell", SHELLS)
def test_streams_that_are_closed_or_full(tmp_path: Path, shell: str) -> None:
    """The file is written all the same; the status says whether the result could be shown."""
    line = f'"{sys.executable}" -c "{START}" new wing.toml {shell}'
    ran = subprocess.run(["bash", "-c", line], cwd=tmp_path, capture_output=True, text=True, timeout=120)
    status, shown = SHELLS[shell]
    assert ran.returncode == status
    assert ran.stdout.startswith(shown)
    assert "Traceback" not in ran.stderr
    # with a closed stream the file would get its number, and messages would go into it
    clean = tmp_path / "clean.toml"
    python(START, "new", str(clean))
    assert (tmp_path / "wing.toml").read_bytes() == clean.read_bytes()


def test_messages_that_nobody_reads_do_not_stop_a_command(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        ran = subprocess.run(
            [sys.executable, "-c", f"from wingpath.cli.console import say; say('x'); {START}", "profiles"],
            stdout=subprocess.PIPE,
            stderr=writing,
            timeout=120,
            check=False,
        )
    finally:
        os.close(writing)
    assert ran.returncode == 0
    assert ran.stdout.startswith(b"airfoils")


READ_ONLY = """\
import contextlib, os, sys
from wingpath.cli.app import main
sys.argv = ["wingpath", "new", f"{{sys.argv[1]}}/first.toml"]
with contextlib.suppress(SystemExit):
    main()
if os.getuid() == 0:
    # who may do anything is not stopped by permissions; all that is needed has been loaded by now
    os.setgid(65534)
    os.setuid(65534)
sys.argv = ["wingpath", "new", "{place}/wing.toml"]
main()
"""


def test_a_folder_that_may_not_be_written_to(tmp_path: Path) -> None:
    with tempfile.TemporaryDirectory() as home:
        place = Path(home) / "locked"
        place.mkdir()
        Path(home).chmod(0o755)
        place.chmod(0o555)
        ran = python(READ_ONLY.format(place=place), str(tmp_path))
        assert ran.returncode == 3, ran.stderr
        assert "Permission denied" in ran.stderr
        assert str(place / "wing.toml") in ran.stderr
        assert list(place.iterdir()) == []


def test_two_at_once_without_force_write_once(tmp_path: Path) -> None:
    """The second one finds the first one's file, however close they are."""
    load = "import time, sys, wingpath.io.output_folder, wingpath.io.starter"
    code = f"{load}; time.sleep(max(0.0, float(sys.argv.pop(1)) - time.time())); {START}"
    for _ in range(3):
        at = str(time.time() + 2.0)
        runs = [
            subprocess.Popen(
                [sys.executable, "-c", code, at, "new", "wing.toml"],
                cwd=tmp_path,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
            )
            for _ in range(2)
        ]
        for run in runs:
            run.communicate(timeout=120)
        assert sorted(run.returncode for run in runs) == [0, 2]
        assert [path.name for path in tmp_path.iterdir()] == ["wing.toml"]
        (tmp_path / "wing.toml").unlink()
