"""Files are written whole or not at all, with the manners of a good guest."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time

import pytest

from gradekit.core.errors import InputError
from gradekit.core.files import free_name, locked, write_whole
from gradekit.core.json_text import parse_json

pytestmark = pytest.mark.skipif(os.name != "posix", reason="modes, links and signals of POSIX")


def names(folder) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_mode_and_link_stay_and_a_new_file_follows_the_umask(tmp_path):
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(link, "new")
    assert link.is_symlink() and real.read_text() == "new" and real.stat().st_mode & 0o777 == 0o640
    before = os.umask(0o027)
    try:
        assert write_whole(tmp_path / "fresh.csv", "a").stat().st_mode & 0o777 == 0o640
    finally:
        os.umask(before)


def test_a_link_to_a_file_that_is_not_there_yet_makes_that_file(tmp_path):
    (tmp_path / "there").mkdir()
    link = tmp_path / "link.csv"
    link.symlink_to(tmp_path / "there" / "later.csv")
    write_whole(link, "new")
    assert link.is_symlink() and (tmp_path / "there" / "later.csv").read_text() == "new"


KILLED = """
import os, sys
from gradekit.core import files
files.os.replace = lambda *_: (print("written", flush=True), __import__("time").sleep(60))
files.write_whole(sys.argv[1], "half")
"""


def test_what_a_killed_write_left_goes_with_the_next_and_a_living_one_stays(tmp_path):
    path = tmp_path / "state.json"
    path.write_text("old")

    def begin() -> subprocess.Popen:
        command = [sys.executable, "-c", KILLED, str(path)]
        writer = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert writer.stdout.readline() == "written\n"
        return writer

    dead, living = begin(), begin()
    dead.send_signal(signal.SIGKILL)
    dead.wait()
    assert len(names(tmp_path)) == 3 and path.read_text() == "old"
    write_whole(path, "new")
    left = [name for name in names(tmp_path) if name != "state.json"]
    assert len(left) == 1 and f".{living.pid}-" in left[0] and path.read_text() == "new"
    living.kill()
    living.wait()
    write_whole(path, "newer")
    assert names(tmp_path) == ["state.json"]


FULL = """
import resource, sys
from gradekit.core.errors import InputError
from gradekit.core.files import write_whole
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
try:
    write_whole(sys.argv[1], b"x" * 100_000)
except InputError as error:
    print(error)
"""


def test_a_disk_that_takes_no_more_is_said_in_words_and_the_old_file_stays(tmp_path):
    path = tmp_path / "state.json"
    path.write_text("old")
    said = subprocess.run(
        [sys.executable, "-c", FULL, str(path)], capture_output=True, text=True, timeout=60
    )
    assert "file 'state.json' · must be on a disk with room" in said.stdout, said.stderr
    assert path.read_text() == "old" and names(tmp_path) == ["state.json"]


@pytest.mark.parametrize(
    ("name", "words"),
    [("gone/a.json", "existing folder"), ("a\0b.json", "NUL"), (".", "the name of a file")],
)
def test_a_place_that_is_none_is_refused_in_words(tmp_path, name, words):
    with pytest.raises(InputError, match=words):
        write_whole(tmp_path / name, "x")


def test_the_longest_name_can_be_written(tmp_path):
    path = tmp_path / ("x" * 255)
    assert write_whole(path, "a").read_text() == "a" and names(tmp_path) == [path.name]


def test_a_lock_lets_one_in_at_a_time(tmp_path):
    path, inside, most = tmp_path / "count.txt", [0], [0]
    path.write_text("0")

    def count() -> None:
        for _ in range(25):
            with locked(path):
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                number = int(path.read_text())
                time.sleep(0.0005)
                write_whole(path, str(number + 1))
                inside[0] -= 1

    crowd = [threading.Thread(target=count) for _ in range(4)]
    for one in crowd:
        one.start()
    for one in crowd:
        one.join()
    assert path.read_text() == "100" and most == [1] and names(tmp_path) == ["count.txt"]


def test_a_suggested_name_is_free(tmp_path):
    for name in ("trial.json", "trial-2.csv"):
        (tmp_path / name).touch()
    assert free_name("trial", ".json", ".csv", folder=tmp_path) == "trial-3"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "a file · got nothing"),
        ('{"a": 1,}', "line 1, column"),
        ('{"a": {"b": 1, "b": 2}}', "each key once · got 'b' twice"),
        ("[" * 41 + "]" * 41, "nested at most 40 deep"),
        ("[" * 100_000, "nested at most 40 deep"),
        ("1" * 400, "40 digits"),
        ("[1e999]", "finite numbers"),
        ("[NaN]", "finite numbers"),
    ],
)
def test_json_that_would_lose_or_break_something_is_refused(text, words):
    with pytest.raises(InputError, match=words) as caught:
        parse_json(text, "x.json", "a file")
    assert "x.json" in str(caught.value)
