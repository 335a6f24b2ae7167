"""Kills a writer before every step that it takes on the disk."""

import os
import signal
import sys

STEPS = {"open", "os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.truncate", "os.link", "os.chmod"}


def run_and_kill(write, folder, step):
    """Run ``write()`` in a child that kills itself before its ``step``-th act inside ``folder``.

    The interpreter reports each act to the hook (its audit events); the code under test knows nothing of it.

    Returns
    -------
    bool
        Whether it was killed; else it had come to its end.
    """
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, f"step {step}: the writer failed"
        return os.WIFSIGNALED(status)
    left = [step]
    inside = str(folder)

    def hook(event, args):
        if event in STEPS and args and str(args[0]).startswith(inside):
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            left[0] -= 1

    try:
        sys.addaudithook(hook)
        write()
    except BaseException as error:
        os.write(2, f"{error!r}\n".encode())
        os._exit(1)
    os._exit(0)


def states_after_kills(folders, prepare, write):
    """Yield (step, folder, killed) after each kill, the last one for the writer that came to its end."""
    for step in range(1000):
        folder = folders(step)
        prepare(folder)
        killed = run_and_kill(lambda folder=folder: write(folder), folder, step)
        yield step, folder, killed
        if not killed:
            return
    raise AssertionError("the writer never came to its end")
