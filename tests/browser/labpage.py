"""A JupyterLab server of our own and one notebook open in it, as a person would have it."""

from __future__ import annotations

import itertools
import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import nbformat

from gradekit import launch
from gradekit.__main__ import lay

SHOTS = Path(__file__).with_name("shots")
TOKEN = "for-tests-only"
LEFT = "asked another machine:"
CURRENT = "window.jupyterapp?.shell?.currentWidget"
NOTEBOOK_SETTINGS = Path("@jupyterlab", "notebook-extension", "tracker.jupyterlab-settings")
ALL_CELLS = f"""() => {CURRENT}?.content?.notebookConfig?.windowingMode === 'none'
    && {CURRENT}.content.widgets.every(cell => cell.node.isConnected)"""
KERNEL_IDLE = f"() => {CURRENT}?.sessionContext?.session?.kernel?.status === 'idle'"
RUN_ALL = "() => window.jupyterapp.commands.execute('notebook:run-all-cells').then(() => null)"
SHOW_CELL = """async text => {
    const notebook = window.jupyterapp.shell.currentWidget.content;
    const index = notebook.widgets.findIndex(c => c.model.sharedModel.source.includes(text));
    if (index < 0) throw new Error('no cell contains ' + text);
    await notebook.scrollToItem(index, 'start');
}"""

# The smallest live cell: a number box and what it changes.
BOX = """
import html
import ipywidgets as widgets

box = widgets.FloatText(value=18.0, description="Cr", step=0.1)
view = widgets.HTML()

def show(change=None):
    view.value = f"<p role='status'>twice is {2 * box.value:.1f}</p>"

box.observe(show, "value")
show()
widgets.VBox([box, view])
"""


class Server:
    """A process on a free port of this machine, and what it has said."""

    def __init__(self, command: list[str], home: Path, env: dict[str, str], answers: str = "/"):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{port}"
        self.log = home / "server.log"
        with open(self.log, "wb") as log:
            self.process = subprocess.Popen(
                [*command, f"--port={port}"], stdout=log, stderr=log, env=env, cwd=home
            )
        give_up = time.monotonic() + 60
        while True:
            try:
                self.ask("GET", answers)
                return
            except OSError:
                if self.process.poll() is not None or time.monotonic() > give_up:
                    self.stop()
                    raise RuntimeError(self.log.read_text(errors="replace")) from None
                time.sleep(0.1)

    def ask(self, method: str, path: str) -> bytes:
        headers = {"Authorization": f"token {TOKEN}"}
        request = urllib.request.Request(self.url + path, method=method, headers=headers)
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.read()

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


class Lab(Server):
    """JupyterLab as the launcher starts it, on a working copy as a wheel lays it."""

    def __init__(self, home: Path):
        self.folder = home / "work"
        self._settings = home / "jupyterlab_settings_dir" / NOTEBOOK_SETTINGS
        (self.folder / "notebooks").mkdir(parents=True)
        lay(self.folder, launch.ROOT)
        command = launch.lab_command(sys.executable, self.folder, browser=False)
        super().__init__(
            [
                *command,
                f"--IdentityProvider.token={TOKEN}",
                "--LabApp.expose_app_in_browser=True",
                "--ServerApp.port_retries=0",
            ],
            home,
            jupyter_home(home),
            answers="/api/status",
        )

    def write_notebook(self, name: str, *cells: str) -> str:
        """Put a notebook of these code cells beside the others and return its name."""
        notebook = nbformat.v4.new_notebook(
            cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
            metadata={"kernelspec": {"name": "python3", "display_name": "Python 3"}},
        )
        nbformat.write(notebook, self.folder / "notebooks" / name)
        return name

    def lay_again(self, name: str) -> None:
        """Put a notebook back as it is committed: an open page may have saved it."""
        shutil.copy(launch.ROOT / "notebooks" / name, self.folder / "notebooks" / name)

    @property
    def keeps_cells(self) -> bool:
        """Whether notebooks keep all their cells in the page, not only those on the screen."""
        return self._settings.exists()

    @keeps_cells.setter
    def keeps_cells(self, keep: bool) -> None:
        self._settings.unlink(missing_ok=True)
        if keep:
            # Each page asks for the settings as it loads: those opened from now on have it.
            self._settings.parent.mkdir(parents=True, exist_ok=True)
            self._settings.write_text('{"windowingMode": "none"}')

    def end_kernels(self) -> None:
        for session in json.loads(self.ask("GET", "/api/sessions")):
            self.ask("DELETE", f"/api/sessions/{session['id']}")


class Pages(Server):
    """The notebooks of a folder as pages, as the launcher starts them."""

    def __init__(self, home: Path, folder: Path, *more: str, page: str = ""):
        command = launch.app_command(sys.executable, folder, browser=False, page=page)
        command[command.index("--token")] = f"--token={TOKEN}"
        home.mkdir(exist_ok=True)
        super().__init__([*command, *more], home, jupyter_home(home), answers="/login")

    def page(self, name: str) -> str:
        """Return the address of a notebook as a page."""
        return f"{self.url}/voila/render/{name}?token={TOKEN}"


def jupyter_home(home: Path) -> dict[str, str]:
    """Return variables that keep a server away from what this user has set up for himself."""
    env = launch.server_settings()
    for name in (
        "JUPYTER_CONFIG_DIR",
        "JUPYTER_DATA_DIR",
        "JUPYTER_RUNTIME_DIR",
        "JUPYTERLAB_SETTINGS_DIR",
        "JUPYTERLAB_WORKSPACES_DIR",
        "IPYTHONDIR",
    ):
        env[name] = str(home / name.lower())
    # The kernels run elsewhere and must find this very package.
    env["PYTHONPATH"] = os.pathsep.join([str(launch.ROOT), env.get("PYTHONPATH", "")])
    return env


class NotebookPage:
    """One notebook in one browser page; `page` is playwright's, the rest is short cuts."""

    _count = itertools.count(1)

    def __init__(self, page, lab: Lab, name: str):
        self.page, self.lab, self.name = page, lab, name
        self.trouble = watch(page, lab.url)
        self.panel = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
        self.outputs = self.panel.locator(".jp-OutputArea-output")
        self.open()

    def open(self) -> None:
        """Open the notebook in a workspace of its own and wait for its kernel."""
        workspace = f"test-{next(self._count)}"
        path = f"/lab/workspaces/{workspace}/tree/notebooks/{self.name}"
        self.page.goto(f"{self.lab.url}{path}?token={TOKEN}")
        self.panel.wait_for()
        self.wait_idle()
        if self.lab.keeps_cells:
            self.page.wait_for_function(ALL_CELLS)

    def wait_idle(self, seconds: float = 60) -> None:
        self.page.wait_for_function(KERNEL_IDLE, timeout=1000 * seconds)

    def run_all(self, seconds: float = 120) -> None:
        """Run every cell, wait for the end and fail with the message of the first error."""
        self.page.evaluate(RUN_ALL)
        self.wait_idle(seconds)
        assert not (errors := self.errors()), errors[0]

    def errors(self) -> list[str]:
        """Return the tracebacks in the outputs of the notebook, on screen or not."""
        return self.page.evaluate(
            f"""() => {CURRENT}.content.widgets.flatMap(cell =>
                (cell.model.toJSON().outputs || [])
                    .filter(output => output.output_type === 'error')
                    .map(output => output.ename + ': ' + output.evalue))"""
        )

    def show(self, text: str) -> None:
        """Scroll to the first cell whose source contains `text`: off screen nothing is drawn."""
        self.page.evaluate(SHOW_CELL, text)

    def save(self) -> None:
        self.page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")

    def shot(self, name: str) -> Path:
        """Keep a picture of the page to look at; the folder is not part of the project."""
        SHOTS.mkdir(exist_ok=True)
        self.page.screenshot(path=SHOTS / f"{name}.png")
        return SHOTS / f"{name}.png"


def watch(page, own: str) -> list[str]:
    """Return a list that fills with what goes wrong in a page or leaves this machine."""
    trouble: list[str] = []

    def leaves(request) -> None:
        if not request.url.startswith((own, own.replace("http", "ws", 1), "data:", "blob:")):
            trouble.append(f"{LEFT} {request.url}")

    def refused(request) -> None:
        # Held back by the browser on our own order: nothing was sent.
        if request.failure == "csp":
            trouble.remove(f"{LEFT} {request.url}")

    page.on("request", leaves)
    page.on("requestfailed", refused)
    page.on("pageerror", lambda error: trouble.append(f"page error: {error}"))
    page.on(
        "console",
        lambda said: said.type == "error" and trouble.append(f"console: {said.text}"),
    )
    return trouble
