"""Other systems, as far as they can be had on this one: without what Unix alone has, with a narrow
character set, with processes that begin anew.  None of this replaces a run on the real ones."""

from __future__ import annotations

import ast
import errno
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# "Availability: Unix" or "not Windows" in the documentation of Python 3.11.
ONLY_UNIX = {
    "os": """fork forkpty getuid geteuid getgid getegid getgroups getpgid getpgrp getpriority
        getsid pathconf setuid setgid setsid setpgid setpriority killpg nice uname getloadavg
        sysconf confstr
        chown fchown lchown fchmod chroot mkfifo mknod openpty ttyname ctermid tcgetpgrp statvfs
        fstatvfs fchdir pread preadv pwrite sendfile posix_fadvise posix_spawn lockf sync wait wait3
        wait4 waitid WNOHANG O_NONBLOCK O_NOFOLLOW O_DIRECTORY O_CLOEXEC sched_yield
        sched_getaffinity sched_setaffinity sched_setscheduler getxattr setxattr memfd_create
        copy_file_range login_tty""",
    "signal": """SIGHUP SIGKILL SIGQUIT SIGALRM SIGTSTP SIGCONT SIGSTOP SIGWINCH SIGPIPE SIGCHLD
        SIGUSR1 SIGUSR2 SIGTTIN SIGTTOU alarm setitimer getitimer pause pthread_kill pthread_sigmask
        sigwait sigwaitinfo sigtimedwait sigpending siginterrupt""",
    "select": "poll epoll kqueue devpoll",
    "time": "tzset clock_gettime clock_settime CLOCK_MONOTONIC CLOCK_BOOTTIME",
    "sys": "abiflags",
}
MODULES = (
    *("termios", "tty", "pty", "fcntl", "resource", "pwd", "grp", "spwd", "crypt", "syslog"),
    *("readline", "curses", "posix", "_posixsubprocess"),
)

# The libraries are there first: they bring parts for Windows along that need Windows.
WITHOUT = f"""
import importlib.abc, json, os, pkgutil, select, signal, sys, time
import aubio, mido, numpy, rich.live, rich.progress, rich.table, soundfile, threadpoolctl

class Gone(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {MODULES!r}:
            raise ModuleNotFoundError(f"No module named {{name!r}}", name=name)

for name in {MODULES!r}:
    sys.modules.pop(name, None)
sys.meta_path.insert(0, Gone())
for module, names in {ONLY_UNIX!r}.items():
    for name in names.split():
        vars(sys.modules[module]).pop(name, None)
sys.platform = "win32"
"""


def python(program: str, *arguments: str, **env: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program, *arguments],
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
        timeout=120,
        check=False,
    )


def test_all_of_it_does_without_what_unix_alone_has():
    program = f"""{WITHOUT}
import coach
count = 0
for module in pkgutil.walk_packages(coach.__path__, "coach."):
    if not module.name.endswith("__main__"):
        __import__(module.name)
        count += 1
print("imported", count)
from coach.cli import main
try:
    main(["--help"])
except SystemExit as left:
    assert left.code in (0, None), left.code
assert main(["drills"]) == 0
assert main(["demo", "--fast", "--plain", "--takes", "1", "--seed", "1"]) == 0
assert "termios" not in sys.modules and not hasattr(signal, "SIGHUP")
"""
    done = python(program)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout.split("imported ")[1].split()[0]) > 400
    assert "Practise fast passages" in done.stdout
    assert "scales-one-octave" in done.stdout
    assert "ended: 1 take done" in done.stdout


def test_letters_that_the_other_end_has_none_for_are_replaced():
    """A file or pipe on Windows has the letters of a code page, often cp1252."""
    show = "from coach.cli import main; assert main(['instrument', 'double-horn']) == 0"
    for encoding in ("cp1252", "ascii"):
        done = python(show, PYTHONIOENCODING=encoding)
        assert done.returncode == 0, done.stderr
        assert "double horn" in done.stdout.lower()
        assert "Bb" in done.stdout
        assert "?" not in done.stdout


@pytest.mark.parametrize(("number", "status"), [(errno.EINVAL, 0), (errno.EIO, 2)])
def test_windows_has_another_word_for_a_pipe_that_nobody_reads(number, status):
    program = f"""
import sys
from coach import cli
def gone(argv):
    raise OSError({number}, "it is")
cli._run, sys.platform = gone, "win32"
sys.exit(cli.main([]))
"""
    done = python(program)
    assert done.returncode == status
    assert done.stderr.startswith("coach: it is" if status else "")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("module", ONLY_UNIX)
def test_nothing_names_what_unix_alone_has(module):
    """Where no run comes by; to ask with `getattr` or `hasattr` is the way."""
    named = re.compile(rf"\b{module}\.({'|'.join(ONLY_UNIX[module].split())})\b")
    for path, text in _sources():
        asked = f"hasattr({module}" in text
        assert asked or not named.search(text), f"{path}: {named.search(text)}"


def test_texts_are_read_and_written_in_utf_8_whatever_the_system_likes():
    for path, text in _sources():
        calls = ast.walk(ast.parse(text)) if re.search(r"open\(|_text\(", text) else ()
        for node in calls:
            if isinstance(node, ast.Call) and _opens_text(node):
                told = ast.unparse(node)
                assert "encoding=" in told or "'utf-8" in told, f"{path}:{node.lineno}: {told}"


def _opens_text(node: ast.Call) -> bool:
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    if name in ("read_text", "write_text"):
        return True
    values = [one.value for one in node.args if isinstance(one, ast.Constant)]
    modes = [one for one in values if isinstance(one, str) and set(one) <= set("rwaxbt+")]
    if isinstance(node.func, ast.Name) and name == "open" and not modes:
        return True
    return name in ("open", "fdopen") and bool(modes) and "b" not in modes[-1]


def _sources():
    for path in sorted((ROOT / "coach").rglob("*.py")):
        yield path.relative_to(ROOT), path.read_text(encoding="utf-8")


def test_a_batch_is_judged_by_processes_that_begin_anew(tmp_path):
    """As on macOS and Windows; Windows allows 61 of them."""
    lines = [json.dumps({"id": k, "audio": "no.wav", "expect": "no.json"}) for k in range(2)]
    (tmp_path / "list").write_text("\ufeff" + "\n".join([*lines, '{"id": 7}']), encoding="utf-8")
    program = """
import multiprocessing, sys
if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    from coach.cli import main
    sys.exit(main(["assess", "--batch", sys.argv[1], "--jobs", "500", "--json", sys.argv[2]]))
"""
    out = tmp_path / "out"
    done = python(program, str(tmp_path / "list"), str(out))
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert [one["id"] for one in told] == [0, 1, 7]
    assert "can't be read" in told[0]["error"]
    assert b"\r" not in out.read_bytes()
