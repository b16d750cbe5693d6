"""Ten pages of the app at once: what each costs in memory and time, and what the one more is told.

.venv/bin/python tests/bench/tabs.py [number of pages]
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

import psutil
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "browser")]
from conftest import BROWSER_ARGUMENTS, BROWSERS  # noqa: E402
from labpage import TOKEN, Pages  # noqa: E402

from gradekit import launch  # noqa: E402
from gradekit.__main__ import lay  # noqa: E402


def memory(process: psutil.Process) -> float:
    """Return what a process holds for itself, MB."""
    return process.memory_full_info().uss / 1e6


def main(count: int) -> None:
    home = Path(tempfile.mkdtemp())
    lay(home / "work", launch.ROOT)
    server = Pages(home / "server", home / "work", page="05-substitution.ipynb")
    parent = psutil.Process(server.process.pid)
    chromium = next(filter(None, map(shutil.which, BROWSERS)))
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=list(BROWSER_ARGUMENTS))
        context = browser.new_context()
        context.set_default_timeout(300_000)
        print(f"server alone: {memory(parent):.0f} MB")
        pages, opened = [], []
        for _ in range(count):
            begin = time.monotonic()
            pages.append(context.new_page())
            pages[-1].goto(f"{server.url}/?token={TOKEN}")
            pages[-1].get_by_label("Replace by", exact=True).wait_for()
            opened.append(time.monotonic() - begin)
        kernels = sorted(memory(child) for child in parent.children(recursive=True))
        print(f"{count} pages: {len(kernels)} kernels, {min(kernels):.0f} to {max(kernels):.0f} MB "
              f"each, median {statistics.median(kernels):.0f}; server {memory(parent):.0f} MB; "
              f"a page opens in {min(opened):.1f} to {max(opened):.1f} s")  # fmt: skip
        began = time.monotonic()
        for page in pages:  # all of them asked at once
            page.get_by_label("Replace by", exact=True).fill("1.4509")
            page.get_by_label("Replace by", exact=True).press("Enter")
        for page in pages:
            page.get_by_role("status").filter(has_text="1.4509").first.wait_for()
        print(f"all of them asked at once: the last answer after {time.monotonic() - began:.1f} s")
        more = context.new_page()
        answer = more.goto(f"{server.url}/?token={TOKEN}")
        told = more.get_by_role("alert").inner_text() if answer.status == 503 else "(it opened)"
        print(f"one more: {answer.status}: {told}")
        browser.close()
    server.stop()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
