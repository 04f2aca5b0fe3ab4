"""A cluster on the loopback: a real scheduler and worker processes, started by the commands of docs/scale.md."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from tempfile import mkdtemp

from ..docs.blocks import ROOT

DASK = shutil.which("dask", path=os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")]))
_PATIENCE = 60.0


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
    return port


class LoopbackCluster:
    """A scheduler, and workers that join when told to. A context: leaving it ends what it started."""

    def __init__(self, folder: Path, **surroundings: str) -> None:
        self._surroundings = surroundings
        self._folder = Path(mkdtemp(dir=folder))
        self.address = f"127.0.0.1:{free_port()}"
        self.scheduler: subprocess.Popen[bytes] | None = None
        self.workers: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> LoopbackCluster:
        host, port = self.address.split(":")
        self.scheduler = self._start(
            "scheduler", "--host", host, "--port", port, "--no-dashboard", **self._surroundings
        )
        until = time.monotonic() + _PATIENCE
        while time.monotonic() < until:
            try:
                socket.create_connection((host, int(port)), timeout=1.0).close()
                return self
            except OSError:
                time.sleep(0.1)
        raise TimeoutError("the scheduler does not answer")

    def join(self, **surroundings: str) -> subprocess.Popen[bytes]:
        """One more worker, one process without anybody who would start it again."""
        words = ("worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
        worker = self._start(*words, **surroundings)
        self.workers.append(worker)
        return worker

    def _start(self, *words: str, **surroundings: str) -> subprocess.Popen[bytes]:
        assert DASK is not None
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", **surroundings}
        with (self._folder / f"{words[0]}-{len(self.workers)}.log").open("wb") as log:
            return subprocess.Popen(
                [sys.executable, DASK, *words], cwd=self._folder, env=environment, stdout=log, stderr=log
            )

    def __exit__(self, *raised: object) -> None:
        for process in [*self.workers, self.scheduler]:
            if process is not None:
                process.send_signal(signal.SIGKILL)
                process.wait(timeout=_PATIENCE)
