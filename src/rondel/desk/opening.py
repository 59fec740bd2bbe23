"""Open this machine's browser. The only place that asks for one."""

from __future__ import annotations

import threading
import webbrowser


def open_browser(address: str) -> None:
    """Show `address` in the browser, if there is one, without waiting for it."""
    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
