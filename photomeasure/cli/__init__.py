"""What can be asked on the command line? One short function a command.

Nothing heavy is imported until a command needs it. Exit codes: 0 every judged number
conforms, 1 some do not, 3 some cannot be told or a caliper disagrees, 4 an error a person can
act on, also where other things were measured; 2 is a command typed wrongly, 141 that the
output was closed (`| head`). Of photos: 0 all can be measured, 3 some with care, 4 some not.
"""

from __future__ import annotations

import atexit
import errno
import gc
import os
import sys
import traceback
from typing import NoReturn

import typer

from photomeasure.cli.checking import check
from photomeasure.cli.console import progress_line
from photomeasure.cli.knowing import benchmark, kinds, rules, schema, tables
from photomeasure.cli.measuring import begin, demo, exit_code, measure, sample_jobs
from photomeasure.cli.opening import open_
from photomeasure.cli.outlining import outline
from photomeasure.cli.printing import camera, sheet
from photomeasure.errors import PhotomeasureError

ERROR = 4
_DISK_IS_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
CLOSED = 141  # as shells report a program whose pipe was closed: 128 and SIGPIPE

# Its matrices are small, so threads cost more than they bring; and what they share is summed in
# another order, so that the last digit of a number would hang on the machine.
_THREADS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

COMMANDS = (
    sheet,
    camera,
    check,
    begin,
    open_,
    measure,
    outline,
    demo,
    rules,
    tables,
    kinds,
    schema,
    benchmark,
)

app = typer.Typer(
    help="Millimetres with an honest uncertainty, from phone photos of a printed sheet.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for _command in COMMANDS:
    app.command(_command.__name__.rstrip("_"))(_command)  # open_ is called open


def main() -> None:
    """Run the command line; a PhotomeasureError becomes one message and exit code 4."""
    for name in _THREADS:
        os.environ.setdefault(name, "1")
    atexit.register(gc.freeze)  # else Python looks through all modules again for what to free
    try:
        _run()
    except BrokenPipeError:  # who reads it has seen enough; 1 would say "does not conform"
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(CLOSED)
    except PhotomeasureError as error:
        _complain(str(error))
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _DISK_IS_FULL:  # what is printed, mostly
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            _complain(
                f"The output cannot be written in full: {str(error.strerror).lower()}. Free some "
                "space, or send it to another disk."
            )
        traceback.print_exc()
        _complain("This is a mistake in the program, not in your job; please report it.")


def _run() -> None:
    """The command; BrokenPipeError also where Typer made a 1 of it, and at the last flush."""
    try:
        app(prog_name="photomeasure")
    except SystemExit as ended:
        if isinstance(ended.__context__, BrokenPipeError):
            raise ended.__context__ from None
        sys.stdout.flush()
        raise


def _complain(message: str) -> NoReturn:
    progress_line(quiet=False)("")
    print(f"photomeasure: {message}", file=sys.stderr)
    sys.exit(ERROR)


__all__ = ["COMMANDS", "ERROR", "app", "exit_code", "main", "sample_jobs"]
