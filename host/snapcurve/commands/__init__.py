"""One module for each command: ``add_arguments(parser)`` and ``run(arguments) -> int``."""
