"""``python -m snapcurve.page.limited WORDS``: the command line with an end to time and memory, for
what comes over a network: few bytes of a picture can stand for many gigabytes."""

import runpy
import sys

MEMORY_BYTES = 3 << 30  # of addresses: drawing libraries reserve far more than they use
CPU_S = 110


def main() -> None:
    """Set the limits, where the system knows any, and be the command line."""
    if sys.platform != "win32":
        import resource

        for what, most in ((resource.RLIMIT_AS, MEMORY_BYTES), (resource.RLIMIT_CPU, CPU_S)):
            _, hard = resource.getrlimit(what)
            least = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(what, (least, hard))
    sys.argv[0] = "snapcurve"
    runpy.run_module("snapcurve.cli", run_name="__main__")


if __name__ == "__main__":
    main()
