"""The notebooks as pages without code: Voilà behind a door that is watched.

    python -m gradekit.lab.app FOLDER --first=05-substitution.ipynb --token

Nothing is served without the token but the login. A request must come from a page of this very
server, from the address bar, or bring the token itself: a page of another server on this machine
shares our cookies, and could otherwise start kernels by a mere picture. How many kernels may run
follows from processors and memory, and the one too many is told so in a sentence.
"""

from __future__ import annotations

import os
import sys
from html import escape
from typing import Any
from urllib.parse import urlsplit

import psutil  # type: ignore[import-untyped]
from jupyter_server.auth.login import LoginFormHandler
from jupyter_server.auth.logout import LogoutHandler
from jupyter_server.base.handlers import APIHandler, JupyterHandler
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import url_path_join
from tornado import web
from traitlets import Int, Unicode
from voila.app import Voila  # type: ignore[import-untyped]
from voila.shutdown_kernel_handler import (  # type: ignore[import-untyped]
    VoilaShutdownKernelHandler,
)

#: Memory of one page's kernel with the desk open, MB: 143 to 144 measured (tests/bench/tabs.py).
KERNEL_MB = 144
_SPARE_MB = 500  # for the server, the browser, and whoever else works on the machine
_PER_PROCESSOR = 5  # with more, every answer of every page takes seconds
_PAGES = os.path.join(os.path.dirname(__file__), "pages")


def most_kernels(available_MB: float, processors: int) -> int:
    """Return how many kernels may run at once, at least one.

    Parameters
    ----------
    available_MB : float
        Memory that is free when the server starts.
    processors : int

    Examples
    --------
    >>> most_kernels(8000, 2), most_kernels(1200, 8), most_kernels(100, 1)
    (10, 4, 1)
    """
    by_memory = int((available_MB - _SPARE_MB) // KERNEL_MB)
    return max(1, min(by_memory, _PER_PROCESSOR * processors))


def available_MB() -> float:
    """Return the memory that is free: of the machine, or of the container where that is less."""
    free = psutil.virtual_memory().available / 1e6
    try:
        with (
            open("/sys/fs/cgroup/memory.max") as most,
            open("/sys/fs/cgroup/memory.current") as now,
        ):
            free = min(free, (int(most.read()) - int(now.read())) / 1e6)
    except (OSError, ValueError):
        pass  # no container, or one without a bound
    return free


class Kernels(AsyncMappingKernelManager):
    """The kernels of the pages: no more than there is room for."""

    most = Int(0, config=True, help="how many may run at once; 0: as processors and memory allow")
    _starting = 0

    async def start_kernel(  # type: ignore[override]
        self, *arguments: Any, **options: Any
    ) -> str:
        """Start a kernel, or say in a sentence why there is no room for one."""
        server: Any = self.parent
        most = self.most or server.most
        if self._count() >= most:
            await self._end_deserted()
        if self._count() >= most:
            machine = f"{os.cpu_count()} processors, {available_MB():.0f} MB of free memory"
            raise web.HTTPError(
                503,
                f"{most} pages are open, as many as this machine answers well ({machine}). Close "
                "one that you no longer need, wait a few seconds, and load this page again.",
            )
        if available_MB() < KERNEL_MB + _SPARE_MB / 5:
            raise web.HTTPError(
                503,
                f"This machine has {available_MB():.0f} MB of free memory, and a page takes "
                f"{KERNEL_MB}. Close a page or another program, and load this page again.",
            )
        self._starting += 1
        try:
            return await super().start_kernel(*arguments, **options)
        finally:
            self._starting -= 1

    def _count(self) -> int:
        return len(self.list_kernel_ids()) + self._starting

    async def _end_deserted(self) -> None:
        """End kernels whose page is gone, as one that crashed could not say so."""
        for kernel_id in self.list_kernel_ids():
            model = self.kernel_model(kernel_id)
            if model["execution_state"] == "idle" and not model["connections"]:
                await self.shutdown_kernel(kernel_id, now=True)


class PageServer(Voila):
    """Voilà with a watched door, and a first page."""

    first = Unicode(help="notebook that '/' leads to; a list of all of them if empty", config=True)
    aliases = {**Voila.aliases, "first": "PageServer.first", "most": "Kernels.most"}  # noqa: RUF012
    classes = [*Voila.classes, Kernels]  # noqa: RUF012

    def init_settings(self) -> dict:
        """Return the settings of Voilà, with only this machine's names as Host."""
        self.most = most_kernels(available_MB(), os.cpu_count() or 1)
        self.voila_configuration.multi_kernel_manager_class = Kernels
        settings = super().init_settings()
        settings |= {"allow_remote_access": False, "local_hostnames": ["localhost"]}
        # Our own login page: that of the package asks for files that a stranger is refused.
        settings["jinja2_env"].loader.searchpath.insert(0, _PAGES)
        return settings

    def init_handlers(self) -> list:
        """Return the handlers of Voilà, each with a watch before it."""
        handlers = list(super().init_handlers())
        if self.first:
            page = url_path_join(self.base_url, "voila", "render", self.first)
            handlers.insert(0, (self.server_url, _First, {"page": page}))
        return [
            (path, watched(handler), *rest)
            for path, handler, *rest in handlers
            if not issubclass(handler, LogoutHandler)  # no page of ours leads there
        ]


class _First(JupyterHandler):
    """Leads to the first page."""

    def initialize(self, page: str) -> None:
        self.page = page

    @web.authenticated
    def get(self) -> None:
        query = f"?{self.request.query}" if self.request.query else ""
        self.redirect(self.page + query)


class _Watch(JupyterHandler):
    """Comes before a handler and refuses, in this order: other hosts, strangers, other pages."""

    async def prepare(self, *arguments: Any, **options: Any) -> None:
        # Host and token are looked at here for each of them, files and scripts included.
        waiting: Any = super().prepare(*arguments, **options)
        while waiting is not None:
            waiting = await waiting
        if self._finished or isinstance(self, LoginFormHandler):
            return
        if self.current_user is None:
            raise web.HTTPError(403, "The token is missing: use the address that was printed.")
        if not (self.token_authenticated or self._is_own_page()):
            raise web.HTTPError(
                403, "Another page asked for this. Type or paste the address of this page."
            )

    def _is_own_page(self) -> bool:
        """Tell whether the browser says that the request comes from a page of this server."""
        headers = self.request.headers
        site = headers.get("Sec-Fetch-Site")
        if site is not None:
            return site in ("same-origin", "none")
        origin = headers.get("Origin") or headers.get("Sec-WebSocket-Origin")
        return origin is not None and urlsplit(origin).netloc == self.request.host

    def check_xsrf_cookie(self) -> None:
        # A page that is left tells us so without a token; that it is ours is known by other means.
        if not isinstance(self, VoilaShutdownKernelHandler):
            super().check_xsrf_cookie()

    def write_error(self, status_code: int, **options: Any) -> None:
        if isinstance(self, APIHandler):
            super().write_error(status_code, **options)
            return
        error = options.get("exc_info", (None, None))[1]
        reason = getattr(error, "log_message", None) or "The page could not be shown."
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(
            '<!doctype html><html lang="en"><meta charset="utf-8"><title>gradekit</title>'
            '<link rel="icon" href="data:,">'
            '<body style="font:16px/1.5 system-ui,sans-serif;max-width:34em;margin:3em auto">'
            f"<h1>This page cannot be shown now</h1><p role=alert>{escape(str(reason))}</p>"
        )


def watched(handler: type) -> type:
    """Return a handler that answers only those who may ask; see the head of this module."""
    return type(f"Watched{handler.__name__}", (_Watch, handler), {})


if __name__ == "__main__":
    sys.exit(PageServer.launch_instance())
