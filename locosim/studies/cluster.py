"""Workers of a Dask cluster in place of processes of this machine."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from typing import Any

from locosim import __version__
from locosim.code_digest import code_digest
from locosim.compiled import cache_folder
from locosim.errors import LocosimError

ALL_CODE = ("**/*.py", "**/*.toml", "**/*.npz", "**/*.csv")
PATIENCE = 30.0  # how long to wait for the scheduler and its first worker [s]


class Cluster:
    """A Dask cluster; chunks of a worker that is lost are given to another.

    Attributes:
        count: Number of chunks it computes at once.
        broken: Errors that mean that a worker was lost over an item.
        lost: Errors that mean that the cluster was lost.
    """

    def __init__(self, address: str) -> None:
        """Connect, and see that all workers compute the same as this process would.

        Args:
            address: Address of the scheduler, such as `tcp://10.0.0.5:8786`.

        Raises:
            LocosimError: distributed is not installed, the scheduler does not answer or has no worker, or a worker has
                another locosim or not the folder of this process.
        """
        try:
            from distributed import Client
            from distributed.scheduler import KilledWorker
        except ImportError:
            raise LocosimError(
                "--cluster needs distributed, which is not installed; install it with `pip install 'locosim[cluster]'`"
            ) from None
        self.broken: tuple[type[BaseException], ...] = (KilledWorker,)
        self.lost: tuple[type[BaseException], ...] = (CancelledError,)
        try:
            self._client = Client(address, timeout=PATIENCE, set_as_default=False)
            self._client.wait_for_workers(1, timeout=PATIENCE)
        except (OSError, ValueError, TimeoutError) as wrong:
            raise LocosimError(
                f"{address}: no Dask scheduler with a worker answers there ({' '.join(str(wrong).split())}); give its "
                "address as the scheduler prints it, such as tcp://10.0.0.5:8786"
            ) from None
        self._check_workers()
        threads = self._client.nthreads().values()
        self.count = max(sum(threads), 1)
        self._executor = self._client.get_executor(pure=False)

    def _check_workers(self) -> None:
        here = what_computes(os.getcwd())
        for worker, found in self._client.run(what_computes, os.getcwd()).items():
            if found != here:
                self._client.close()
                raise LocosimError(
                    f"worker {worker} has {found}, but here is {here}; every worker needs the same locosim and Python, "
                    "and the same files at the same path"
                )

    def submit(self, run: Callable[[Any], Any], items: Any) -> Future[Any]:
        """Begin a chunk."""
        future: Future[Any] = self._executor.submit(_in_folder, os.getcwd(), run, items)
        return future

    def restart(self) -> None:
        """Nothing to do: the scheduler replaces its workers."""

    def stop(self) -> None:
        """Leave the cluster; chunks begun are given up."""
        self._executor.shutdown(wait=False)
        self._client.close()


def what_computes(folder: str) -> str:
    """What would compute in this process, in words that differ wherever results could."""
    code = code_digest(ALL_CODE, cache_folder())[:12]
    python = ".".join(map(str, sys.version_info[:2]))
    there = "" if os.path.isdir(folder) else f" without the folder {folder}"
    return f"locosim {__version__} (code {code}, Python {python}){there}"


def _in_folder(folder: str, run: Callable[[Any], Any], items: Any) -> Any:
    """Run in the folder of the user, from which all paths count."""
    if os.getcwd() != folder:
        os.chdir(folder)
    return run(items)
