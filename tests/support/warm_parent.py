"""A process that has imported the daemon, and forks: each child becomes `python -m MODULE ...`, with all imported.

    python -m tests.support.warm_parent FD

FD is its end of `warm.py`'s socket.  It has one thread and no loop, so that nothing is cut in two by a fork; it ends
with the test's process.
"""

import gc
import importlib.util
import json
import os
import resource
import selectors
import socket
import sys
from types import ModuleType
from typing import Any

import tests.support.events
import tests.support.far_side
import tests.support.outlet
import tests.support.yard_clock  # noqa: F401  # all of these are what the children need, but what they themselves are


def serve(control: socket.socket) -> tuple[dict[str, Any], list[int]]:
    """Fork at each request; return it, with the descriptors that came with it, in the child only."""
    living: dict[int, tuple[int, socket.socket]] = {}  # by a descriptor of the child: its pid, and who asked for it
    with selectors.DefaultSelector() as selector:
        selector.register(control, selectors.EVENT_READ)
        while True:
            for fd in [key.fd for key, _ in selector.select()]:
                if fd in living:
                    pid, asker = living.pop(fd)
                    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
                    selector.unregister(fd)
                    os.close(fd)
                    with asker:
                        asker.sendall(code.to_bytes(4, "big", signed=True))
                    continue
                body, (answers, *given), _, _ = socket.recv_fds(control, 1_000_000, 4)
                if (pid := os.fork()) == 0:
                    for one in (answers, *living):
                        os.close(one)
                    for _, asker in living.values():
                        asker.close()
                    return json.loads(body), given
                for one in given:
                    os.close(one)
                child, asker = os.pidfd_open(pid), socket.socket(fileno=answers)
                living[child] = pid, asker
                selector.register(child, selectors.EVENT_READ)
                asker.sendall(pid.to_bytes(4, "big", signed=True))


def become(
    module: str, words: list[str], folder: str, environ: dict[str, str], descriptors: tuple[int, int], given: list[int]
) -> None:
    """Be a program of its own: its words, folder, environment and limit, its standard input, output and error."""
    resource.setrlimit(resource.RLIMIT_NOFILE, descriptors)
    for to, fd in enumerate(given):
        os.dup2(fd, to)
        os.close(fd)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environ)
    sys.stdin, sys.stdout = open(0, closefd=False), open(1, "w", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", buffering=1, errors="backslashreplace", closefd=False)  # noqa: SIM115
    spec = importlib.util.find_spec(module)
    assert spec is not None
    assert spec.loader is not None
    sys.argv = [spec.origin or "", *words]
    main = ModuleType("__main__")
    main.__spec__, main.__file__ = spec, spec.origin
    sys.modules["__main__"] = main
    exec(spec.loader.get_code(module), main.__dict__)  # type: ignore[attr-defined]


if __name__ == "__main__":
    gc.collect()
    gc.freeze()
    with socket.socket(fileno=int(sys.argv[1])) as ours:
        try:
            request, standard = serve(ours)
        except ValueError:  # no descriptors, for nobody is there any more
            os._exit(0)
    become(**request, given=standard)
