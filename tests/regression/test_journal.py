"""The journal of a search: what was written is read again, whatever broke off in between."""

import json
import math
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import wingpath.io.journal as journals
from wingpath.core.errors import FileAccessError, InputError, OutputExistsError
from wingpath.io.journal import Journal, journal_contents, read_journal
from wingpath.version import __version__

WING = "5f1e"
HEAD = (
    json.dumps({"format": 1, "wingpath": __version__, "wing": WING}, separators=(",", ":")).encode() + b"\n"
)


def line(key: str, value: Any, kind: str = "judged") -> bytes:
    return json.dumps({"key": key, "kind": kind, "value": value}).encode() + b"\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "Täl.jsonl"


def test_what_is_written_is_read(path: Path) -> None:
    with Journal(path, wing=WING) as journal:
        assert journal.earlier.entries == {}
        journal.append("a", "judged", {"mass_g": 31.5, "errors": ("x", "y"), "tip_mm": None})
        journal.append("a", "previewed", {"ok": True})
        journal.append("Å\n\u2028\ud800", "judged", {"name": "Täl ⟂ \ud83d"})
    assert read_journal(path, wing=WING) == {
        ("a", "judged"): {"mass_g": 31.5, "errors": ["x", "y"], "tip_mm": None},
        ("a", "previewed"): {"ok": True},
        ("Å\n\u2028\ud800", "judged"): {"name": "Täl ⟂ \ud83d"},
    }
    raw = path.read_bytes()
    assert raw.startswith(HEAD)
    assert raw.count(b"\n") == len(raw.splitlines()) == 4
    assert raw.isascii()


def test_every_line_is_there_at_once(path: Path) -> None:
    with Journal(path, wing=WING) as journal:
        assert path.read_bytes() == HEAD
        journal.append("a", "judged", {"n": 1})
        assert read_journal(path, wing=WING) == {("a", "judged"): {"n": 1}}


def test_a_search_goes_on_and_the_last_value_counts(path: Path) -> None:
    with Journal(path, wing=WING) as journal:
        journal.append("a", "judged", {"n": 1})
    first = path.read_bytes()
    with Journal(path, wing=WING) as journal:
        assert journal.earlier.entries == {("a", "judged"): {"n": 1}}
        journal.append("a", "judged", {"n": 2})
    assert path.read_bytes().startswith(first)
    assert read_journal(path, wing=WING) == {("a", "judged"): {"n": 2}}


def test_numbers_that_are_none_become_none(path: Path) -> None:
    value = {
        "a": math.nan,
        "b": [math.inf, -math.inf, (1.0, np.float64("nan"))],
        "c": {"d": np.float32(0.5), "e": np.int64(3)},
    }
    with Journal(path, wing=WING) as journal:
        journal.append("a", "judged", value)
        with pytest.raises(TypeError, match="got a ndarray"):
            journal.append("b", "judged", {"x": np.zeros(2)})
    assert b"NaN" not in path.read_bytes()
    wanted = {"a": None, "b": [None, None, [1.0, None]], "c": {"d": 0.5, "e": 3}}
    assert read_journal(path, wing=WING) == {("a", "judged"): wanted}


@pytest.mark.parametrize(
    "torn",
    [b'{"key":"b","ki', b"{", b"\0\0\0\0", line("b", {"n": 2})[:-2], b"\xff\n", b"[" * 100_000],
    ids=["half", "brace", "nulls", "all-but-a-brace", "no-text", "deep"],
)
def test_a_torn_last_line_is_left_out_and_gone_on_behind(path: Path, torn: bytes) -> None:
    path.write_bytes(HEAD + line("a", {"n": 1}) + torn)
    contents = journal_contents(path, wing=WING)
    assert (contents.entries, contents.skipped) == ({("a", "judged"): {"n": 1}}, 0)
    with Journal(path, wing=WING) as journal:
        assert (journal.earlier.entries, journal.earlier.skipped) == ({("a", "judged"): {"n": 1}}, 0)
        journal.append("c", "previewed", {"n": 3})
    contents = journal_contents(path, wing=WING)
    assert contents.entries == {("a", "judged"): {"n": 1}, ("c", "previewed"): {"n": 3}}
    assert contents.skipped == 1
    assert path.read_bytes().startswith(HEAD + line("a", {"n": 1}) + torn)


def test_a_last_line_that_lacks_its_end_only_counts(path: Path) -> None:
    path.write_bytes(HEAD + line("a", {"n": 1}).rstrip(b"\n"))
    with Journal(path, wing=WING) as journal:
        journal.append("b", "judged", {"n": 2})
    contents = journal_contents(path, wing=WING)
    assert contents.entries == {("a", "judged"): {"n": 1}, ("b", "judged"): {"n": 2}}
    assert contents.skipped == 0


def test_garbled_lines_are_skipped_and_counted(path: Path) -> None:
    garbled = [
        b"nonsense\n",
        b"\xff\xfe\n",
        b"[1]\n",
        b'{"key":"a","kind":"judged"}\n',
        line("a", [1]),
        line("a", {"n": 2}, kind="guessed"),
        b'{"key":1,"kind":"judged","value":{}}\n',
        b'{"key":"a","kind":["judged"],"value":{}}\n',
        b'{"key":"a","kind":"judged","value":{"n":NaN}}\n',
        b'{"key":"a","kind":"judged","value":{"n":' + b"1" * 5000 + b"}}\n",
    ]
    path.write_bytes(HEAD + line("a", {"n": 1}) + b"".join(garbled) + b"\n\r\n" + line("b", {}))
    contents = journal_contents(path, wing=WING)
    assert contents.entries == {("a", "judged"): {"n": 1}, ("b", "judged"): {}}
    assert contents.skipped == len(garbled)


def test_other_line_ends(path: Path) -> None:
    path.write_bytes((HEAD + line("a", {"n": 1})).replace(b"\n", b"\r\n"))
    assert journal_contents(path, wing=WING).entries == {("a", "judged"): {"n": 1}}


@pytest.mark.parametrize("length", [0, 1, 20, len(HEAD) - 2])
def test_a_file_that_broke_off_in_its_first_line_begins_anew(path: Path, length: int) -> None:
    path.write_bytes(HEAD[:length])
    assert read_journal(path, wing=WING) == {}
    with Journal(path, wing=WING) as journal:
        journal.append("a", "judged", {"n": 1})
    assert path.read_bytes().startswith(HEAD + b'{"key"')


def test_a_first_line_without_its_end(path: Path) -> None:
    path.write_bytes(HEAD.rstrip(b"\n"))
    with Journal(path, wing=WING) as journal:
        journal.append("a", "judged", {"n": 1})
    assert journal_contents(path, wing=WING).entries == {("a", "judged"): {"n": 1}}


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"# Finch\nname = 'x'\n", r"begins with '# Finch'; allowed: a journal that wingpath has written"),
        (b"\x89PNG\r\n\x1a\n\0", "begins with '.*PNG'; allowed: a journal"),
        (b'{"format": 1}\n', "allowed: a journal that wingpath has written"),
        (HEAD.replace(b":1", b":2"), "journal of format '2'; allowed: '1'; delete it or name another"),
        (HEAD.replace(b":1", b":true"), "journal of format 'True'; allowed: '1'"),
        (HEAD.replace(b"5f1e", b"beef"), "journal of another wing, or the spec .* has changed since"),
        (HEAD.replace(__version__.encode(), b"0.0.1"), "wingpath '0.0.1'; allowed: '.*'; delete it"),
        (HEAD.replace(b"5f1e", b"x" * 1_000_000), "allowed: a"),
    ],
)
def test_files_that_are_not_its_journal_are_refused_and_left_alone(
    path: Path, raw: bytes, message: str
) -> None:
    path.write_bytes(raw)
    with pytest.raises(InputError, match=message) as caught:
        read_journal(path, wing=WING)
    assert len(str(caught.value)) < 1000
    with pytest.raises(InputError, match=message), Journal(path, wing=WING):
        pass
    assert path.read_bytes() == raw


def test_limits(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journals, "LONGEST_LINE", 200)
    path.write_bytes(HEAD + line("a", {"n": "x" * 500}) + line("b", {}) + line("c", {"n": "x" * 150})[:150])
    contents = journal_contents(path, wing=WING)
    assert (contents.entries, contents.skipped) == ({("b", "judged"): {}}, 1)
    with Journal(path, wing=WING) as journal:
        with pytest.raises(ValueError, match="as a line; allowed: 200"):
            journal.append("d", "judged", {"n": "x" * 200})
        monkeypatch.setattr(journals, "MOST_BYTES", path.stat().st_size + 60)
        journal.append("e", "judged", {})
        with pytest.raises(FileAccessError, match="is full"):
            journal.append("f", "judged", {"n": 12345})
    assert ("e", "judged") in read_journal(path, wing=WING)
    monkeypatch.setattr(journals, "MOST_BYTES", path.stat().st_size - 1)
    with pytest.raises(InputError, match=r"got \d+ bytes; allowed: a journal of up to"):
        read_journal(path, wing=WING)


def test_files_that_cannot_be_used(tmp_path: Path, path: Path) -> None:
    for odd in (path, tmp_path, Path("a\0b")):
        with pytest.raises(FileAccessError, match=r"no such file|not a file"):
            read_journal(odd, wing=WING)
    with pytest.raises(FileAccessError, match="cannot be used as a journal"), Journal("a\0b", wing=WING):
        pass
    with (
        pytest.raises(FileAccessError, match="cannot be used as a journal"),
        Journal(tmp_path / "none" / "x", wing=WING),
    ):
        pass
    with pytest.raises(OutputExistsError, match="is a folder"), Journal(tmp_path, wing=WING):
        pass


def test_nothing_is_written_through_a_link(tmp_path: Path, path: Path) -> None:
    target = tmp_path / "target"
    target.write_bytes(HEAD)
    for goal in (target, tmp_path / "not there"):
        os.symlink(goal, path)
        with pytest.raises(OutputExistsError, match="is a link"), Journal(path, wing=WING):
            pass
        path.unlink()
    assert target.read_bytes() == HEAD
    assert not (tmp_path / "not there").exists()


def test_a_full_disk_is_told_and_gone_on_behind(path: Path) -> None:
    class Full:
        """Takes five bytes and then fails once."""

        def __init__(self, stream: Any) -> None:
            self.stream, self.left = stream, [5, 0]

        def write(self, data: bytes) -> int:
            if not self.left:
                return int(self.stream.write(data))
            if not (most := self.left.pop(0)):
                raise OSError(28, "No space left on device")
            return int(self.stream.write(data[:most]))

        def close(self) -> None:
            self.stream.close()

    with Journal(path, wing=WING) as journal:
        journal._stream = Full(journal._stream)  # type: ignore[assignment]
        with pytest.raises(FileAccessError, match=r"could not be written \(the disk is full"):
            journal.append("a", "judged", {"n": 1})
        journal.append("b", "judged", {"n": 2})
    contents = journal_contents(path, wing=WING)
    assert (contents.entries, contents.skipped) == ({("b", "judged"): {"n": 2}}, 1)


def test_wrong_use(path: Path) -> None:
    journal = Journal(path, wing=WING)
    assert not path.exists()
    with pytest.raises(ValueError, match="not open"):
        journal.append("a", "judged", {})
    with journal:
        with pytest.raises(ValueError, match="kind: got 'x'; allowed: judged, previewed"):
            journal.append("a", "x", {})  # type: ignore[arg-type]
        with pytest.raises(ValueError, match="open already"):
            journal.__enter__()
    with pytest.raises(ValueError, match="not open"):
        journal.append("a", "judged", {})
