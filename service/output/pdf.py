"""The report as PDF, printed by a Chromium that is installed already.

Chromium and not a PDF library of our own: it is the engine that the page is looked at in, so the
    paper is what the screen shows; it writes
tagged PDF with an outline, which a screen reader can follow; and nothing is added to the
installation for those who do not want PDF. The
price is that its bytes carry the moment of printing: the HTML is the same for the same answer, the
    PDF is not.
"""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from service.errors import ReedgateError

PRINTERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "microsoft-edge",
)
"""Names that the browser goes by, in the order in which they are looked for."""
_SECONDS = 120


class NoPrinter(ReedgateError):
    """No browser to print with, or it failed."""

    title = "The report cannot be printed"


def find_printer() -> Path | None:
    """The first Chromium on the path; ``REEDGATE_CHROMIUM`` names one that stands elsewhere."""
    named = os.environ.get("REEDGATE_CHROMIUM", "")
    found = (
        shutil.which(named)
        if named
        else next((path for name in PRINTERS if (path := shutil.which(name))), None)
    )
    return Path(found) if found else None


def require_printer() -> Path:
    """The Chromium to print with.

    Raises:
        NoPrinter: none is installed.
    """
    found = find_printer()
    if found is None:
        raise NoPrinter(
            "No Chromium is installed to print the PDF with.",
            next_step="Install it (Debian: apt-get install chromium), or write the report as .html "
            "and print it from any browser.",
        )
    return found


def print_pdf(report: str, out: Path, *, printer: Path | None = None) -> None:
    """Print a report to a file, which is put in place only when it is whole.

    Args:
        report: as ``plan_report`` makes it; its script and network are off by its own policy.

    Raises:
        NoPrinter: no Chromium is installed, or it made no PDF.
    """
    browser = printer or require_printer()
    with tempfile.TemporaryDirectory(prefix="reedgate-print-") as folder:
        page, made = Path(folder, "report.html"), Path(folder, "report.pdf")
        page.write_text(report, encoding="utf-8")
        words = _run(browser, [*_flags(Path(folder)), f"--print-to-pdf={made}", page.as_uri()])
        if not made.exists() or made.read_bytes()[:5] != b"%PDF-":
            raise NoPrinter(
                f"{browser.name} made no PDF: {words[-300:].strip() or 'it said nothing'}.",
                next_step="Write the report as .html.",
            )
        out.write_bytes(made.read_bytes())


def _flags(folder: Path) -> list[str]:
    flags = [
        "--headless=new",
        "--disable-gpu",
        "--disable-background-networking",
        "--no-first-run",
        "--no-pdf-header-footer",
        "--generate-pdf-document-outline",
        f"--user-data-dir={folder / 'profile'}",
    ]
    # Chromium refuses its sandbox to root; what is printed is our own page, without script.
    return [*flags, "--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else flags


def _run(browser: Path, arguments: list[str]) -> str:
    try:
        done = subprocess.run(
            [str(browser), *arguments],
            capture_output=True,
            text=True,
            timeout=_SECONDS,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NoPrinter(
            f"{browser.name} could not print: {error}.", next_step="Write the report as .html."
        ) from error
    return done.stderr
