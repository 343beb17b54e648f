"""A wheel and an sdist that are built twice, in two places and at two times, are the same."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.patience import LONGEST_S

ROOT = Path(__file__).parents[2]


def built(folder, umask):
    """The digests of what is built from a copy of the sources there, made now."""
    source, target = folder / "source", folder / "built"
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.splitlines()
    for name in listed:
        if name.startswith(("host/", "protocol/", "firmware/")) or "/" not in name:
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, source / name)  # with a time of its own
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(target)]
    environment = {key: value for key, value in os.environ.items() if key != "SOURCE_DATE_EPOCH"}
    done = subprocess.run(
        command, cwd=source, env=environment, capture_output=True, text=True, umask=umask,
        timeout=LONGEST_S, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return {one.name: hashlib.sha256(one.read_bytes()).hexdigest() for one in target.iterdir()}


def test_two_builds_are_the_same_bytes(tmp_path):
    first = built(tmp_path / "here", 0o022)
    second = built(tmp_path / "some" / "where" / "else", 0o077)
    assert sorted(Path(name).suffix for name in first) == [".gz", ".whl"]
    assert first == second
