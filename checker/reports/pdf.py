"""Pages as PDF; the library for it is an extra."""

from __future__ import annotations

from checker.errors import Problem, UsageError


def pdf_of(page: str) -> bytes:
    """A page on paper; raises UsageError where the extra is not installed."""
    try:
        import weasyprint  # slow to import, an extra, and it needs libraries of the system
    except (ImportError, OSError) as error:
        hint = "python -m pip install 'assembly-checker[pdf]'; it also needs the Pango library of the system"
        raise UsageError(Problem(f"PDF cannot be made here: {error}", hint=hint)) from None
    # A page needs nothing else; whatever asks for more gets nothing.
    nothing = weasyprint.urls.URLFetcher(allowed_protocols=())
    return bytes(weasyprint.HTML(string=page, url_fetcher=nothing).write_pdf())
