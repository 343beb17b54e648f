"""Faults put into the ear one at a time, to see which of them a test notices (mutation testing).

``poodle`` reads its settings from pyproject.toml, works on copies, and is run by hand only: no run
of the tests comes here. MUTANTS is how many it tries in each file, drawn at random and always the
same; all of them if it is 0.

Beyond what poodle does itself, each constant at the head of a file is doubled and halved: nobody
at a bench hears 1250 ms from 1251.
"""

import ast
import os
import random
import shlex
import sys
from copy import deepcopy
from dataclasses import replace
from pathlib import Path

from poodle.data_types import Mutator
from poodle.mutate import builtin_mutators
from poodle.runners import command_line

# The quick ones first: the first that fails ends a trial.
TESTS = {
    "engine.py": (
        "test_engine_touches", "test_engine", "test_engine_again", "test_engine_doubt",
        "test_hold_patience",
        "test_traps",
    ),
    "transitions.py": ("test_engine", "test_engine_again"),
    "estimate.py": (
        "test_estimate_spread", "test_estimate_doubt", "test_estimate", "test_laid_down",
        "test_traps",
    ),
    "sounder.py": ("test_sounder", "test_lasting_sounds"),
}  # fmt: skip
_EACH = 60
_SEED = 7


class Drawn(Mutator):
    """A sample of what all of poodle's mutators make of a file."""

    mutator_name = "Drawn"

    def create_mutations(self, parsed_ast, *_, **more):
        """The sample, each under its own mutator's name."""
        heads = _head_numbers(parsed_ast)
        found = []
        for mutator in builtin_mutators.values():
            made = mutator(config=self.config, echo=self.echo)
            found += made.create_mutations(parsed_ast=deepcopy(parsed_ast), **more)
        found = [
            one for one in found
            if one.mutator_name != "Number" or (one.lineno, one.col_offset) not in heads
        ]  # fmt: skip
        for node in heads.values():
            half = node.value // 2 if isinstance(node.value, int) else node.value / 2
            for value in (node.value * 2, half):
                one = self.create_file_mutation(node, repr(value))
                one.mutator_name = "Constant"
                found.append(one)
        count = int(os.environ.get("MUTANTS", _EACH))
        if 0 < count < len(found):
            found = random.Random(_SEED).sample(found, count)
        return found


def _head_numbers(tree):
    """The numbers in the assignments at the head of a file, by place."""
    return {
        (node.lineno, node.col_offset): node
        for statement in tree.body
        if isinstance(statement, ast.Assign)
        for node in ast.walk(statement)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, (int, float))
        and not isinstance(node.value, bool)
        and node.value
    }


def runner(config, run_folder, mutant, timeout, **more):
    """One trial: the tests that look at the file; without one, those of all files asked for."""
    files = [mutant.source_file] if mutant.source_file else map(Path, config.only_files)
    names = [name for file in files for name in TESTS[file.name]]
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--assert=plain", "-p", "xdist"]
    # Not the path of pyproject.toml: poodle sets another, with the copy first.
    command += ["-p", "no:cacheprovider", "-o", "addopts=", "-o", "pythonpath="]
    command += [f"tests/board/{name}.py" for name in dict.fromkeys(names)]
    options = {
        "command_line": shlex.join(command),
        "command_line_env": {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
    }
    config = replace(config, runner_opts=options)
    return command_line.runner(
        config=config, run_folder=run_folder, mutant=mutant, timeout=timeout
    )
