"""Where the program may not write: one sentence and exit code 5, on real file systems."""

import os
import shutil
import subprocess
import sys

import pytest

from snapcurve.cli import main

COMMANDS = (
    "load milk --port rehearsal",
    "watch --port rehearsal --seconds 1",
)
CAUSES = {
    "write-protected": "the disk is write-protected; choose another place",
    "missing on a write-protected disk": "the disk is write-protected; choose another place",
    "full": "the disk is full; free some space and run it again",
    "missing on a full disk": "the disk is full; free some space and run it again",
    "a file": "a file of that name is there; choose another place",
    "below a file": "what should be a folder is a file; choose another place",
}
# Makes the folder in a mount that nobody else sees, and runs the commands one after another.
SCRIPT = """
set -e
folder=$1; kind=$2; shift 2
case "$kind" in
*write-protected*) mount -t tmpfs none "$folder"; mount -o remount,ro "$folder" ;;
*full*) mount -t tmpfs -o size=64k none "$folder"; cat /dev/zero >"$folder/fill" || true ;;
*file) rmdir "$folder"; touch "$folder" ;;
esac
case "$kind" in
missing*|below*) folder=$folder/new/deep ;;
esac
export SNAPCURVE_FOLDER=$folder
for words in "$@"; do
    "$PYTHON" -m snapcurve.cli $words >/dev/null && echo 0 || echo $?
done
"""


def own_mounts():
    """Whether this system lets a test mount a disk of its own."""
    if shutil.which("unshare") is None:
        return False
    mount = ["unshare", "-rm", "mount", "-t", "tmpfs", "none", "/mnt"]
    return subprocess.run(mount, capture_output=True, check=False).returncode == 0


@pytest.mark.skipif(not own_mounts(), reason="needs a system on which a test may mount a disk")
@pytest.mark.parametrize("kind", CAUSES)
def test_a_folder_that_takes_nothing(tmp_path, kind):
    folder = tmp_path / "data"
    folder.mkdir()
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", SCRIPT, "sh", str(folder), kind, *COMMANDS],
        capture_output=True,
        text=True,
        check=True,
        env={
            **os.environ,
            "PYTHON": sys.executable,
            "PYTHONPATH": os.pathsep.join(sys.path),
            "SNAPCURVE_NOTEBOOK": str(tmp_path / "notebook.db"),
            "SNAPCURVE_SETTINGS": str(tmp_path / "settings.toml"),
            "SNAPCURVE_COUVERTURES": str(tmp_path / "couvertures"),
        },
    )
    assert done.stdout.split() == ["5"] * len(COMMANDS), done.stderr
    lines = [line for line in done.stderr.splitlines() if not line.startswith("cat: ")]
    assert len(lines) == len(COMMANDS), done.stderr
    for line in lines:
        assert line.startswith("snapcurve: Cannot ")
        assert str(folder) in line
        assert line.endswith(f": {CAUSES[kind]}.")


def test_a_folder_that_is_missing_is_made(tmp_path, own_computer, monkeypatch):
    folder = tmp_path / "new" / "deep"
    monkeypatch.setenv("SNAPCURVE_FOLDER", str(folder))
    assert main(["today", "--room", "21"]) == 0
    assert list(folder.iterdir())


def test_the_home_of_nobody(own_computer, monkeypatch, capsys):
    monkeypatch.setenv("SNAPCURVE_FOLDER", "~nobody-of-this-name/data")
    assert main(["today"]) == 2
    assert "SNAPCURVE_FOLDER names the home of nobody" in capsys.readouterr().err
